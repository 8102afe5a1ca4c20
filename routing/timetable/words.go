package timetable

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// words says why a message doesn't fit.
func (p *planner) words(m int, o outcome) string {
	t := o.trouble
	call := func(v int) string { return p.net.Stations[v].Call }
	hop := call(t.hop.from) + " → " + call(t.hop.to)
	switch t.kind {
	case tooEarly:
		if p.messages[m].Deadline.IsZero() {
			return "it is ready only when the time planned for is over"
		}
		return "its deadline is over before a slot is left for it"
	case noChain:
		return "no usable chain is known while it could be sent"
	case unsure:
		return fmt.Sprintf("%s gets through with %s at best; the margin asks for %s of that hop", hop, percent(t.chance), fmt.Sprintf("%d %%", int(math.Ceil(t.wanted*100-1e-9))))
	case stretch:
		return fmt.Sprintf("%s needs %d slots at a stretch, and no stretch so long is open to both before the deadline and between catch-up blocks", hop, t.slots)
	case hushed:
		return fmt.Sprintf("%s needs %d slots at a stretch, and quiet hours leave no stretch so long open to both before the deadline", hop, t.slots)
	case noisy:
		return hop + " has no offset on " + p.net.Channels[t.hop.channel].Name + " that is clear of noise at both"
	case limited:
		return fmt.Sprintf("%s finds room before its deadline only past the duty limit of %s, %s of an hour",
			hop, call(t.station), percent(p.net.Duty(t.station)))
	case full:
		if p.fitsAlone(m) {
			return "no room before its deadline: messages placed before it hold the stations or the channel"
		}
		return "no room before its deadline: the time is too short, even without other messages"
	case tooLate:
		return "arrives after its deadline, at " + p.clock(o.arrival)
	case uncovered:
		var names []string
		for _, v := range o.missing {
			names = append(names, call(v))
		}
		return "no sending reaches " + strings.Join(names, ", ") + " with the margin"
	}
	return ""
}

// fitsAlone reports whether a message would fit without any other.
func (p *planner) fitsAlone(m int) bool {
	_, t, err := p.again(p.messages, p.opt).find(p.job(m), p.opt.Margin)
	return err == nil && t.kind == fine
}

// percent writes a chance rounded down, so that it never looks like enough.
func percent(v float64) string { return fmt.Sprintf("%d %%", int(math.Floor(v*100))) }

// clock tells the beginning of a slot.
func (p *planner) clock(slot int) string {
	return time.Unix(p.unix(slot), 0).UTC().Format("2006-01-02 15:04:05Z")
}

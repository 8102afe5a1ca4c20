package timetable

import (
	"fmt"
	"math"
	"strings"
	"time"

	"farhop/mesh"
)

// words says why a message doesn't fit.
func (p *planner) words(m int, o outcome) string {
	t := o.trouble
	call := func(v int) string { return p.net.Stations[v].Call }
	hop := call(t.hop.from) + " → " + call(t.hop.to)
	switch t.kind {
	case tooEarly:
		return "its deadline is over before a slot is left for it"
	case noChain:
		return "no usable chain is known while it could be sent"
	case unsure:
		return fmt.Sprintf("%s gets through with %s at best; the margin asks for %s of that hop", hop, percent(t.chance), percent(t.wanted))
	case stretch:
		return fmt.Sprintf("%s needs %d slots at a stretch, and no stretch so long is open to both before the deadline and between catch-up blocks", hop, t.slots)
	case full:
		return "no room before its deadline: earlier messages hold the stations or the channel, or the time is too short"
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

// percent writes a chance rounded down, so that it never looks like enough.
func percent(v float64) string { return fmt.Sprintf("%d %%", int(math.Floor(v*100))) }

// clock tells the beginning of a slot.
func (p *planner) clock(slot int) string {
	return time.Unix(p.unix(slot), 0).UTC().Format("2006-01-02 15:04:05Z")
}

// changes tries, one at a time, what would make a message fit with everything
// else in place, and names what does.
func (p *planner) changes(m int, o outcome) (list []string, err error) {
	msg := p.messages[m]
	if msg.To == mesh.EveryMember {
		return nil, nil
	}
	try := func(change string, j job, margin float64) error {
		found, t, err := p.find(j, margin)
		if err == nil && t.kind == fine {
			if strings.Contains(change, "%s") {
				change = fmt.Sprintf(change, p.clock(found[len(found)-1].end()))
			}
			list = append(list, change)
		}
		return err
	}
	j := p.job(m)
	later := j
	later.limit = p.total
	if o.late {
		list = append(list, "a deadline of "+p.clock(o.arrival)+" or later")
	} else if err := try("a deadline of %s or later", later, p.opt.Margin); err != nil {
		return nil, err
	}
	if j.limit <= j.ready {
		return list, nil
	}
	for _, margin := range []float64{0.7, 0.6, 0.5} {
		before := len(list)
		if margin >= p.opt.Margin {
			continue
		}
		if err := try(fmt.Sprintf("a margin of %.1f", margin), j, margin); err != nil {
			return nil, err
		}
		if len(list) > before {
			break
		}
	}
	if half := (msg.Characters + 1) / 2; half < msg.Characters {
		short := j
		short.frames = p.net.Slots.Frames(half)
		if err := try(fmt.Sprintf("half the length, %d characters", half), short, p.opt.Margin); err != nil {
			return nil, err
		}
	}
	return list, p.structural(&list, try, j)
}

// structural tries changes of the plan's terms: no catch-up blocks, links of
// which too little is known, and a free channel.
func (p *planner) structural(list *[]string, try func(string, job, float64) error, j job) error {
	if p.opt.CatchUp > 0 {
		kept := p.catchUp
		p.catchUp = make([]bool, len(kept))
		err := try("no catch-up blocks", j, p.opt.Margin)
		p.catchUp = kept
		if err != nil {
			return err
		}
	}
	if p.messages[j.message].Precedence > mesh.Emergency {
		kept := p.book
		p.book = newBook(len(p.net.Stations), len(p.net.Channels), p.total)
		err := try("a higher precedence than those before it", j, p.opt.Margin)
		p.book = kept
		if err != nil {
			return err
		}
	}
	return nil
}

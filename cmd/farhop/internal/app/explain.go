package app

import (
	"context"
	"fmt"
	"strings"
	"time"

	"farhop/cmd/farhop/internal/view"
	"farhop/routing"
)

const (
	likely       = 0.8 // share of all tries that makes a deadline worth naming
	longestAhead = 48 * time.Hour
)

// instruct adds to an answer which deadline would be made and, if asked for, the
// whole message over any relay, and why the first chain is as it is.
func (s *Session) instruct(ctx context.Context, p *routing.Planner, a *routing.Answer, v *view.Route) error {
	if err := s.wouldMake(ctx, p, a, v); err != nil {
		return err
	}
	if len(a.Chains) == 0 {
		var err error
		if v.Missing, err = s.missing(ctx, p, unfilled(a.Request), []int{a.Request.To}, v); err != nil {
			return err
		}
	}
	if err := s.anyPlan(ctx, a, v); err != nil {
		return err
	}
	if !s.req.Explain || len(a.Chains) == 0 {
		return nil
	}
	return s.explain(ctx, p, a, v)
}

// wouldMake looks for the deadline by which 8 of 10 tries would be through, where
// no chain found reaches that.
func (s *Session) wouldMake(ctx context.Context, p *routing.Planner, a *routing.Answer, v *view.Route) error {
	for i := range v.Chains {
		if v.Chains[i].P80Minutes != nil {
			return nil
		}
	}
	if a.Request.Deadline >= longestAhead {
		return nil
	}
	r := unfilled(a.Request)
	return s.soonestOf(ctx, p, r, []int{r.To}, v)
}

// unfilled is an answer's request as it can be asked again: there zero relays are
// none, not the default.
func unfilled(r routing.Request) routing.Request {
	if r.Relays == 0 {
		r.Relays = routing.DirectOnly
	}
	return r
}

// soonestOf tells the first deadline after the one asked for that would be made to
// any of some stations.
func (s *Session) soonestOf(ctx context.Context, p *routing.Planner, r routing.Request, stations []int, v *view.Route) error {
	var later *routing.Later
	for _, to := range stations {
		q := r
		q.To = to
		l, err := p.WouldMake(ctx, q, likely, longestAhead)
		if err != nil {
			return err
		}
		if l != nil && (later == nil || l.Deadline < later.Deadline) {
			later, r.To = l, to
		}
	}
	if later != nil && later.Deadline <= r.Deadline {
		return nil // another order would make this one
	}
	v.SearchedHours = longestAhead.Hours()
	if later == nil {
		return nil
	}
	from, to := s.net.Stations[r.From].Call, s.net.Stations[r.To].Call
	v.WouldMake = &view.WouldMake{
		Deadline: s.at.Add(later.Deadline), Minutes: later.Deadline.Minutes(), Stations: s.names(later.Stations),
		DeliveredByDeadline: later.Delivered, Command: s.again(from, to, later.Deadline, v.Characters),
	}
	v.Next = append([]string{v.WouldMake.Command}, v.Next...)
	return nil
}

// again is the command that asks the same with another deadline.
func (s *Session) again(from, to string, deadline time.Duration, characters int) string {
	minutes := int((deadline + time.Minute - 1) / time.Minute)
	command := fmt.Sprintf("route %s %s --deadline %dh%02dm", quoted(from), quoted(to), minutes/60, minutes%60)
	usual := DefaultRequest()
	if characters != usual.Characters {
		command += fmt.Sprintf(" --characters %d", characters)
	}
	if s.req.Order != usual.Order {
		command += " --order " + s.req.Order
	}
	if s.req.Relays != usual.Relays {
		command += fmt.Sprintf(" --relays %d", s.req.Relays)
	}
	if s.req.Unknown {
		command += " --unknown"
	}
	if s.req.Inferred {
		command += " --inferred"
	}
	if s.req.SpareBatteries {
		command += " --spare-batteries"
	}
	if s.req.Charge != usual.Charge {
		command += fmt.Sprintf(" --charge %g", s.req.Charge)
	}
	if s.req.Usable != usual.Usable {
		command += fmt.Sprintf(" --usable %g", s.req.Usable)
	}
	return s.try(command)
}

// explain fills in the explanation of the first chain.
func (s *Session) explain(ctx context.Context, p *routing.Planner, a *routing.Answer, v *view.Route) error {
	c := &a.Chains[0]
	r := unfilled(a.Request)
	var depart int64
	if a.Hold != nil && r.Depart == routing.DepartBest {
		depart = a.Hold.Until
	}
	e := &view.Explanation{Slots: []view.ExpectedSlot{}, Without: []view.WithoutRelay{}}
	if err := s.slotBySlot(p, r, c, depart, e); err != nil {
		return err
	}
	for _, relay := range c.Stations[1 : len(c.Stations)-1] {
		b, err := p.Without(ctx, r, relay, depart)
		if err != nil {
			return err
		}
		w := view.WithoutRelay{Station: s.net.Stations[relay].Call, Stations: []string{}}
		if b != nil {
			w.Stations, w.DeliveredByDeadline = s.names(b.Stations), b.Delivered
		}
		e.Without = append(e.Without, w)
	}
	e.Report = s.oneMoreReport(c)
	v.Explanation = e
	return nil
}

var acts = map[routing.Act]string{routing.Sends: "sends", routing.Polls: "polls", routing.Acknowledges: "acknowledges"}

// slotBySlot tells what to expect of the chain's slots, up to the last in which
// anything may be keyed.
func (s *Session) slotBySlot(p *routing.Planner, r routing.Request, c *routing.Chain, depart int64, e *view.Explanation) error {
	channels := make([]int, len(c.Hops))
	for i := range c.Hops {
		channels[i] = c.Hops[i].Channel
	}
	slots, err := p.Expect(r, c.Stations, channels, depart)
	if err != nil {
		return err
	}
	for i := range slots {
		x := &slots[i]
		start := time.Unix(x.Unix, 0).UTC()
		if len(x.Keys) == 0 {
			e.Idle(start, s.idle(x, &c.Hops[x.Turn]))
			continue
		}
		t := view.ExpectedSlot{Start: start, Holds: x.Holds, Delivered: x.Delivered()}
		for _, k := range x.Keys {
			t.Keys = append(t.Keys, view.Keying{Station: s.net.Stations[c.Stations[k.Station]].Call, Act: acts[k.Act], Chance: k.Chance})
		}
		e.Slots = append(e.Slots, t)
	}
	return nil
}

// idle says why nobody is expected to key.
func (s *Session) idle(x *routing.Expected, h *routing.Hop) string {
	if x.State == routing.Closed {
		return fmt.Sprintf("%s waits: off the window of %s, or off the air", s.net.Stations[h.From].Call, s.net.Channels[h.Channel].Name)
	}
	return view.Turnaround
}

// oneMoreReport is what a report on the chain's weakest hop would settle, nil
// where that is stated by the plan.
func (s *Session) oneMoreReport(c *routing.Chain) *view.OneMoreReport {
	h := &c.Hops[c.Weakest]
	now := s.at.Unix()
	before, after, ok := s.links.Settle(h.From, h.To, h.Channel, now, max(now, h.At))
	if !ok {
		return nil
	}
	return &view.OneMoreReport{
		From: s.net.Stations[h.From].Call, To: s.net.Stations[h.To].Call, Channel: s.net.Channels[h.Channel].Name,
		At: time.Unix(max(now, h.At), 0).UTC(), SDNow: before, SDAfter: after,
		KnownSlot: s.net.OpenSlot(h.From, h.To, h.Channel, s.net.Slots.Holding(now)),
	}
}

// unprintable warns of characters of a text that a mode may not carry.
func unprintable(text string) []view.Warning {
	var odd []string
	for _, r := range text {
		if c := fmt.Sprintf("%q", r); (r < ' ' || r > '~') && !strings.Contains(strings.Join(odd, " "), c) {
			odd = append(odd, c)
		}
	}
	if odd == nil {
		return nil
	}
	return []view.Warning{{
		Code: "characters",
		Message: "Outside printable ASCII: " + strings.Join(odd, " ") + ". Whether the mode carries them is unknown; " +
			"each is counted as one character.",
	}}
}

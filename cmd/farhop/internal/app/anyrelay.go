package app

import (
	"context"
	"time"

	"farhop/cmd/farhop/internal/view"
	"farhop/routing"
	"farhop/routing/anyrelay"
)

// anyRelay words the any-relay figure, nil when there is none.
func (s *Session) anyRelay(a *routing.Answer) *view.AnyRelay {
	r := a.AnyRelay
	if r == nil {
		return nil
	}
	v := &view.AnyRelay{Transmissions: r.Transmissions, SingleChainTransmissions: r.SingleChain, TakeOn: []view.TakeOn{}}
	for _, t := range r.TakeOn {
		v.TakeOn = append(v.TakeOn, view.TakeOn{
			Station: s.net.Stations[t.Station].Call, By: s.names(t.By), Channel: s.net.Channels[t.Channel].Name,
		})
	}
	return v
}

// anyPlan works out the whole message over any relay, where it was asked for.
func (s *Session) anyPlan(ctx context.Context, a *routing.Answer, v *view.Route) error {
	if !s.req.AnyRelay || a.AnyRelay == nil {
		return nil
	}
	q := a.Request
	plan := anyrelay.Plan{
		Net: s.net, Links: s.links, To: q.To, Frames: q.Frames, Start: q.Start, Deadline: q.Deadline,
		Unknown: q.Unknown, Inferred: q.Inferred,
	}
	held := time.Duration(0)
	if a.Hold != nil && q.Depart == routing.DepartBest {
		held = time.Duration(a.Hold.Until-q.Start) * time.Second
		plan.Start, plan.Deadline = a.Hold.Until, q.Deadline-held
	}
	for i, t := range a.AnyRelay.TakeOn {
		plan.Orders = append(plan.Orders, anyrelay.Order{Station: t.Station, Channel: t.Channel, By: t.By, Cost: t.Cost})
		o := &v.AnyRelay.TakeOn[i]
		for k, call := range append(s.names(t.By), o.Station) {
			slots := anyrelay.Turn(s.net.Slots, k+1) - 1
			o.Turns = append(o.Turns, view.Turn{Station: call, Slots: slots, Seconds: float64(slots) * s.net.Slots.Length.Seconds()})
		}
	}
	r, err := anyrelay.Expect(ctx, plan, anyrelay.Options{Seed: s.req.Seed})
	if err != nil {
		return err
	}
	keyed := s.net.Slots.Keyed.Seconds()
	minutes := func(level float64) *float64 { return figure(held.Minutes() + r.Minutes(level)) }
	v.AnyRelay.Message = &view.AnyPlan{
		Exact: r.Exact, Runs: r.Runs, Seed: s.req.Seed,
		DeliveredByDeadline: r.Delivered.Value, DeliveredLow: r.Low, DeliveredHigh: r.High,
		P50Minutes: minutes(0.5), P80Minutes: minutes(0.8), P90Minutes: minutes(0.9),
		AirtimeSeconds: r.Frames.Value * keyed, AirtimeError: r.Frames.StandardError * keyed,
		Duplicates: r.Duplicates.Value, DuplicatesError: r.Duplicates.StandardError,
		NeedlessSendings: r.Needless.Value, NeedlessError: r.Needless.StandardError,
	}
	return nil
}

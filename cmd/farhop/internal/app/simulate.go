package app

import (
	"context"
	"math"

	"farhop/cmd/farhop/internal/view"
	"farhop/routing"
	"farhop/routing/simulate"
)

// Simulate plays the best chains of a route many times and sets the counts
// beside the exact figures. progress may be nil.
func (s *Session) Simulate(ctx context.Context, progress func(done int)) (*view.Simulation, error) {
	if s.req.Runs < 1 || s.req.Runs > 100_000_000 {
		return nil, usagef("--runs %d: ask for 1 to 100,000,000", s.req.Runs)
	}
	q, err := s.request()
	if err != nil {
		return nil, err
	}
	if q.From, err = s.station(s.req.From); err != nil {
		return nil, err
	}
	if q.To, err = s.station(s.req.To); err != nil {
		return nil, err
	}
	if q.From == q.To {
		return nil, usagef("%s can't send to itself", s.net.Stations[q.From].Call)
	}
	answer, err := routing.New(s.net, s.links).Route(ctx, q)
	if err != nil {
		return nil, err
	}
	m, _ := s.message() // asked for before
	v := &view.Simulation{
		Head: s.head(), From: s.net.Stations[q.From].Call, To: s.net.Stations[q.To].Call, Start: s.at,
		Deadline: s.at.Add(q.Deadline), Characters: m.characters, Frames: q.Frames, Runs: s.req.Runs, Seed: s.req.Seed,
		Chains: []view.PlayedRun{},
	}
	v.Warnings = append(append(v.Warnings, m.warnings...), s.warnings(answer.Warnings)...)
	for i := range answer.Chains[:answer.Best] {
		c := &answer.Chains[i]
		p, err := s.play(ctx, q, c, progress)
		if err != nil {
			return nil, err
		}
		v.Chains = append(v.Chains, *p)
	}
	return v, nil
}

// play plays one chain and compares.
func (s *Session) play(ctx context.Context, q routing.Request, c *routing.Chain, progress func(int)) (*view.PlayedRun, error) {
	p := &view.PlayedRun{Stations: s.names(c.Stations)}
	var channels []int
	for i := range c.Hops {
		channels = append(channels, c.Hops[i].Channel)
		p.Channels = append(p.Channels, s.net.Channels[c.Hops[i].Channel].Name)
	}
	r, err := simulate.Run(ctx, simulate.Scenario{
		Net: s.net, Links: s.links, Stations: c.Stations, Channels: channels, Frames: q.Frames, Start: q.Start,
		Deadline: q.Deadline, Confirm: q.Confirm, Unknown: q.Unknown, Inferred: q.Inferred,
	}, simulate.Options{Runs: s.req.Runs, Seed: s.req.Seed, Progress: progress})
	if err != nil {
		return nil, err
	}
	add := func(name, unit string, computed, counted float64, away *float64) {
		p.Figures = append(p.Figures, view.Figure{
			Name: name, Unit: unit, Computed: figure(computed), Counted: figure(counted), StandardErrors: away,
		})
		if away != nil && math.Abs(*away) > math.Abs(p.Worst) {
			p.Worst = *away
		}
	}
	share := func(name string, computed float64, counted simulate.Share) {
		away := counted.Away(computed)
		add(name, "share", computed, counted.Value(), &away)
	}
	keyed := s.net.Slots.Keyed.Seconds()
	share("delivered by the deadline", c.Delivered, r.Delivered)
	share("confirmed by the deadline", c.Confirmed, r.Confirmed)
	away := r.Airtime.Away(c.AirtimeSeconds / keyed)
	add("airtime", "s", c.AirtimeSeconds, r.Airtime.Value*keyed, &away)
	add("mean time when in time", "min", c.MeanMinutes, r.MeanMinutes, nil)
	for _, level := range []struct {
		name     string
		share    float64
		computed float64
	}{
		{"half through after", 0.5, c.P50Minutes},
		{"8 in 10 after", 0.8, c.P80Minutes},
		{"9 in 10 after", 0.9, c.P90Minutes},
		{"95 in 100 after", 0.95, c.P95Minutes},
	} {
		counted := math.NaN()
		if slot := r.Quantile(level.share); slot >= 0 {
			counted = r.Minutes(slot)
		}
		add(level.name, "min", level.computed, counted, nil)
	}
	return p, nil
}

package routing

import (
	"context"
	"math"

	"farhop/routing/delivery"
)

// details works out everything that is said of chains.
func (q *question) details(ctx context.Context, list []*found) ([]Chain, error) {
	var chains []Chain
	t := &turns{question: q, known: map[string]int{}}
	for _, f := range list {
		c, giveUp := q.detail(f)
		for i, slot := range giveUp {
			t.ask(f, i, slot)
		}
		chains = append(chains, c)
	}
	if err := t.run(ctx); err != nil {
		return nil, err
	}
	for i := range chains {
		for j := range chains[i].Hops {
			chains[i].Hops[j].Then = t.next()
		}
	}
	return chains, nil
}

// detail works out what is said of a chain but for what its senders turn to, and
// the slot by which each gives up.
func (q *question) detail(f *found) (c Chain, giveUp []int) {
	s := q.scene
	r, frames, confirmed := q.result(f)
	c = Chain{
		Stations: f.stations, Delivered: r.Chance(), Confirmed: confirmed, Arrival: r.Delivered,
		P50Minutes: s.reached(r, 0.5), P80Minutes: s.reached(r, 0.8),
		P90Minutes: s.reached(r, 0.9), P95Minutes: s.reached(r, 0.95),
		MeanMinutes: math.NaN(),
	}
	if c.Delivered > 0 {
		c.MeanMinutes = (float64(s.clock.first-s.clock.start) + r.Mean*float64(s.clock.seconds)) / 60
	}
	q.keyed(&c, frames)
	at := q.root()
	for i, h := range f.hops {
		c.Hops = append(c.Hops, q.hop(at.prefix, h, r.Hops[i]))
		giveUp = append(giveUp, r.Hops[i].GiveUpAt)
		if i+1 < len(f.hops) {
			at = at.extend(s, h)
		}
	}
	c.Weakest = weakest(c.Hops)
	return c, giveUp
}

// result evaluates a chain and, where one is asked for, the reply to it: frames
// keyed by each station and the chance of confirmation by the deadline.
func (q *question) result(f *found) (r *delivery.Result, frames []float64, confirmed float64) {
	s := q.scene
	legs := make([]delivery.LegID, len(f.hops))
	for i, h := range f.hops {
		legs[i] = s.hops[h].leg
	}
	last := len(legs) - 1
	if q.Blind > 0 && s.hops[f.hops[last]].unheard() {
		before := &delivery.Result{}
		at := q.root()
		if last > 0 {
			before = s.eval.ChainFrom(at.prefix, legs[:last]...)
		}
		for _, h := range f.hops[:last] {
			at = at.extend(s, h)
		}
		r = s.eval.Blind(at.prefix, legs[last], q.Blind)
		r.Hops = append(before.Hops, r.Hops...)
		return r, r.Frames, 0
	}
	r = s.eval.ChainFrom(q.root().prefix, legs...)
	if !q.Confirm {
		return r, r.Frames, r.ConfirmedChance()
	}
	back := s.reply(r, f.hops)
	frames = append(frames, r.Frames...)
	for i, x := range back.Frames {
		frames[len(frames)-1-i] += x
	}
	return r, frames, back.Chance()
}

// keyed turns frames into keyed time and energy.
func (q *question) keyed(c *Chain, frames []float64) {
	seconds := q.scene.net.Slots.Keyed.Seconds()
	for i, v := range c.Stations {
		t := frames[i] * seconds
		wh := math.NaN()
		if supply := q.scene.net.Stations[v].Supply; supply != nil {
			wh = t * supply.TransmitW / 3600
		} else if t == 0 {
			wh = 0
		}
		c.StationSeconds, c.StationWh = append(c.StationSeconds, t), append(c.StationWh, wh)
		c.Frames += frames[i]
		c.AirtimeSeconds += t
		c.EnergyWh += wh
	}
}

// hop describes a hop that starts from a prefix.
func (q *question) hop(p *delivery.Prefix, index int, r delivery.HopResult) Hop {
	s := q.scene
	h := &s.hops[index]
	hop := Hop{From: h.from, To: h.to, Channel: h.channel, Blind: q.Blind > 0 && h.unheard() && h.to == q.To}
	at := s.eval.FirstOpen(h.leg, s.usual(p))
	if at < 0 {
		at = int(h.tally.slots[0])
	}
	quarter := s.eval.Quarter(at)
	hop.At = s.at(quarter)
	hop.Edge, hop.HasEdge = s.edge(h.from, h.to, h.channel, quarter)
	hop.Reverse, hop.HasReverse = s.edge(h.to, h.from, h.channel, quarter)
	if r.Started > 0 {
		hop.Done = r.Done / r.Started
	}
	if r.GiveUpAt >= 0 {
		hop.GiveUp = s.clock.unix(r.GiveUpAt + 1)
	}
	hop.Reasons = q.reasons(&hop)
	return hop
}

// usual is the slot from which half of those tries may start that do so by the
// deadline.
func (s *scene) usual(p *delivery.Prefix) int {
	total := make([]float64, s.clock.slots)
	sum := 0.0
	for n, w := range s.eval.Weights() {
		row := p.Row(n)
		for i, x := range row[:min(len(row), s.clock.slots)] {
			total[i] += w * x
			sum += w * x
		}
	}
	half := sum / 2
	for i, x := range total {
		if half -= x; half <= 0 {
			return i
		}
	}
	return 0
}

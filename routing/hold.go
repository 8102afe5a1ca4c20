package routing

import (
	"context"
	"math"
)

// worthHolding is by how much a later departure must raise the chance of delivery
// to be mentioned unasked.
const worthHolding = 0.01

// mostHints is how many departures are looked at unasked.
const mostHints = 24

// hold looks for a later slot to depart from which the best chain, by the same
// deadline, comes before the best one from now; nil when there is none. Moments
// looked at are every quarter of an hour after the start, and whenever a hop of the
// origin's opens. Asked for the best moment, it searches anew from each; else it
// only sees what becomes of the best chain from now, if there is one.
func (q *question) hold(ctx context.Context, now *found) (*Hold, int, error) {
	if q.Depart == DepartNow && now != nil && now.arrival.Chance() > 1-worthHolding {
		return nil, 0, nil
	}
	top, slot := now, 0
	departures := q.departures()
	for i, at := range departures {
		if q.Depart == DepartNow && i%(len(departures)/mostHints+1) != 0 {
			continue
		}
		f, err := q.departing(ctx, at, now, top)
		if err != nil {
			return nil, 0, err
		}
		if f != nil && (top == nil || q.Order.compare(f.key, top.key) < 0) {
			top, slot = f, at
		}
	}
	if slot == 0 {
		return nil, 0, nil
	}
	h := &Hold{Until: q.scene.clock.unix(slot), Then: top.arrival.Chance(), Stations: top.stations, Channels: top.channels}
	h.ThenP50, h.NowP50 = q.scene.reached(top.arrival, 0.5), math.NaN()
	if now != nil {
		h.Now, h.NowP50 = now.arrival.Chance(), q.scene.reached(now.arrival, 0.5)
	}
	if q.Depart == DepartNow && h.Then < h.Now+worthHolding {
		return nil, 0, nil
	}
	return h, slot, nil
}

// departing is the best chain found for departing at a slot: one that comes
// before top, or nil.
func (q *question) departing(ctx context.Context, at int, now, top *found) (*found, error) {
	start := q.options().root(q.scene.eval.StartAt(at))
	if q.Depart == DepartNow && now != nil {
		return q.scene.evaluate(start, now.hops, q.options()), nil
	}
	g := &best{order: q.Order, k: 1}
	if top != nil {
		g.list = []*found{top}
	}
	if _, err := q.search(q.From, g).run(ctx, start); err != nil || len(g.list) == 0 || g.list[0] == top {
		return nil, err
	}
	return g.list[0], nil
}

// departures lists the slots at which it may pay to depart.
func (q *question) departures() []int {
	s := q.scene
	opens := make([]bool, s.clock.slots)
	for _, i := range s.out[q.From] {
		slots := s.hops[i].tally.slots
		for k, slot := range slots {
			opens[slot] = opens[slot] || k == 0 || slots[k-1] != slot-1
		}
	}
	moving := s.steadyHops < len(s.hops)
	var list []int
	for slot := 1; slot < s.clock.slots; slot++ {
		if opens[slot] || moving && s.eval.Quarter(slot) != s.eval.Quarter(slot-1) {
			list = append(list, slot)
		}
	}
	return list
}

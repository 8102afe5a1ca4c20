package routing

import (
	"context"
	"math"
	"slices"

	"farhop/mesh/workers"
)

// seeds evaluates a few chains that look good by a sum of rough slots and rough
// odds, so that the search has something to beat from the start.
func (q *question) seeds(ctx context.Context) ([]*found, error) {
	s := q.scene
	out := make([][]arc, len(s.net.Stations))
	for v := range out {
		for _, i := range s.out[v] {
			h := &s.hops[i]
			chance := s.mean(q.bounds.reach(i))
			if h.to == q.From || q.bounds.away(h.to) > q.Relays || chance < leastChance {
				continue
			}
			out[v] = append(out[v], arc{to: h.to, channel: h.channel, weight: int64(h.slow - nat*math.Log(chance))})
		}
	}
	list := kShortest(newRoads(out), q.From, q.To, q.Chains, q.Relays+1)
	seeds, root := make([]*found, len(list)), q.root()
	err := workers.Run(ctx, len(list), func() (func(int), func()) {
		return func(at int) {
			t := list[at]
			hops := make([]int, len(t.channels))
			for i, c := range t.channels {
				hops[i] = s.find(t.stations[i], t.stations[i+1], c)
			}
			seeds[at] = s.evaluate(root, hops, q.options())
		}, nil
	})
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(seeds, func(f *found) bool { return f.arrival.Chance() < leastChance }), nil
}

// paired reports whether two chains without a common relay exist at all, however
// many hops they take.
func (q *question) paired() bool {
	s := q.scene
	out := make([][]arc, len(s.net.Stations))
	for v := range out {
		for _, i := range s.out[v] {
			out[v] = append(out[v], arc{to: s.hops[i].to, channel: s.hops[i].channel, weight: 1})
		}
	}
	_, ok := disjointPair(newRoads(out), q.From, q.To)
	return ok
}

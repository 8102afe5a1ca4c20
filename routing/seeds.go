package routing

import "math"

// seeds evaluates a few chains that look good by a sum of rough slots and rough
// odds, so that the search has something to beat from the start.
func (q *question) seeds() []*found {
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
	var list []*found
	for _, t := range kShortest(newRoads(out), q.From, q.To, q.Chains, q.Relays+1) {
		hops := make([]int, len(t.channels))
		for i, c := range t.channels {
			hops[i] = s.find(t.stations[i], t.stations[i+1], c)
		}
		if f := s.evaluate(q.root(), hops, q.options()); f.arrival.Chance() >= leastChance {
			list = append(list, f)
		}
	}
	return list
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

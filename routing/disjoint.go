package routing

import (
	"math"
	"slices"
)

// disjointPair returns two trails between two stations that share no relay and
// no arc, with the least total weight, whatever their number of hops: two units
// of flow through stations split in two, each found as a shortest path in the
// residual graph (J. W. Suurballe, Networks 4, 1974, 125–145). Shorter first.
// O(stations · arcs).
func disjointPair(g *roads, from, to int) (pair [2]trail, ok bool) {
	f := newFlow(g, from, to)
	for range 2 {
		if !f.augment() {
			return pair, false
		}
	}
	pair[0], pair[1] = f.unwind(), f.unwind()
	if compareTrails(pair[1], pair[0]) < 0 {
		pair[0], pair[1] = pair[1], pair[0]
	}
	return pair, true
}

// flow is a residual graph whose node 2v is the way into station v and 2v+1
// the way out.
type flow struct {
	from, to int // nodes
	edges    []flowEdge
	out      [][]int // edges by node; edge e and e^1 are opposite
}

type flowEdge struct {
	to, room, channel int
	weight            int64
}

func newFlow(g *roads, from, to int) *flow {
	f := &flow{from: 2*from + 1, to: 2 * to, out: make([][]int, 2*g.stations())}
	for v := range g.stations() {
		if v != from && v != to {
			f.add(2*v, 2*v+1, -1, 0)
		}
		for _, a := range g.from(v) {
			f.add(2*v+1, 2*a.to, a.channel, a.weight)
		}
	}
	return f
}

func (f *flow) add(a, b, channel int, weight int64) {
	f.out[a] = append(f.out[a], len(f.edges))
	f.out[b] = append(f.out[b], len(f.edges)+1)
	f.edges = append(f.edges, flowEdge{b, 1, channel, weight}, flowEdge{a, 0, channel, -weight})
}

// augment sends one more unit along a shortest residual path (Bellman–Ford,
// since opposite edges weigh less than nothing).
func (f *flow) augment() bool {
	dist := make([]int64, len(f.out))
	by := make([]int, len(f.out))
	for v := range dist {
		dist[v], by[v] = math.MaxInt64/4, -1
	}
	dist[f.from] = 0
	for changed := true; changed; {
		changed = false
		for v := range f.out {
			for _, e := range f.out[v] {
				if d := dist[v] + f.edges[e].weight; f.edges[e].room > 0 && dist[v] < far && d < dist[f.edges[e].to] {
					dist[f.edges[e].to], by[f.edges[e].to] = d, e
					changed = true
				}
			}
		}
	}
	if by[f.to] < 0 {
		return false
	}
	for v := f.to; v != f.from; {
		e := by[v]
		f.edges[e].room--
		f.edges[e^1].room++
		v = f.edges[e^1].to
	}
	return true
}

// unwind takes one unit of flow off and returns its trail.
func (f *flow) unwind() trail {
	t := trail{stations: []int{f.from / 2}}
	for v := f.from; v != f.to; {
		i := slices.IndexFunc(f.out[v], func(e int) bool { return e&1 == 0 && f.edges[e].room == 0 })
		e := f.out[v][i]
		f.edges[e].room = 1
		v = f.edges[e].to
		if channel := f.edges[e].channel; channel >= 0 {
			t.stations = append(t.stations, v/2)
			t.channels = append(t.channels, channel)
			t.weight += f.edges[e].weight
		}
	}
	return t
}

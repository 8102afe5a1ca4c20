package routing

import (
	"cmp"
	"math"
	"slices"
)

// arc is one hop on one channel with a whole-number weight, so that equal
// chains tie exactly.
type arc struct {
	to, channel int
	weight      int64 // ≥ 0
}

// roads is a directed multigraph in compact form: arcs[first[v]:first[v+1]]
// leave station v, sorted by receiving station and then by channel.
type roads struct {
	first []int
	arcs  []arc
}

// newRoads builds the graph of n stations from the arcs that leave each.
func newRoads(out [][]arc) *roads {
	g := &roads{first: make([]int, len(out)+1)}
	for v, arcs := range out {
		sorted := slices.Clone(arcs)
		slices.SortFunc(sorted, func(a, b arc) int {
			return cmp.Or(cmp.Compare(a.to, b.to), cmp.Compare(a.channel, b.channel), cmp.Compare(a.weight, b.weight))
		})
		g.arcs = append(g.arcs, sorted...)
		g.first[v+1] = len(g.arcs)
	}
	return g
}

// from returns the arcs that leave v.
func (g *roads) from(v int) []arc { return g.arcs[g.first[v]:g.first[v+1]] }

// stations is the number of stations.
func (g *roads) stations() int { return len(g.first) - 1 }

// trail is a chain with its total weight.
type trail struct {
	weight             int64
	stations, channels []int // len(channels) = len(stations) − 1
}

// compareTrails orders by weight, then fewer hops, then stations, then channels.
func compareTrails(a, b trail) int {
	return cmp.Or(cmp.Compare(a.weight, b.weight), cmp.Compare(len(a.stations), len(b.stations)),
		slices.Compare(a.stations, b.stations), slices.Compare(a.channels, b.channels))
}

// kShortest returns up to k simple trails from one station to another of at
// most hops arcs, in the order of compareTrails, by Yen's method (J. Y. Yen,
// Management Science 17, 1971, 712–716). Each spur is a shortest walk with a
// limit on hops; as weights are not negative and fewer hops win ties, it never
// repeats a station. O(k · hops² · arcs).
func kShortest(g *roads, from, to, k, hops int) []trail {
	if k < 1 || from == to {
		return nil
	}
	s := newSpur(g, to, hops)
	first, ok := s.shortest(from, hops)
	if !ok {
		return nil
	}
	found := []trail{first}
	var waiting []trail
	for len(found) < k {
		waiting = s.branch(found, waiting, hops)
		if len(waiting) == 0 {
			break
		}
		best := slices.MinFunc(waiting, compareTrails)
		found = append(found, best)
		waiting = slices.DeleteFunc(waiting, func(t trail) bool { return compareTrails(t, best) == 0 })
	}
	return found
}

// spur finds shortest limited trails to one station around barred stations and
// first arcs.
type spur struct {
	g      *roads
	to     int
	barred []bool
	taken  []step // first steps not to be taken
	dist   [][]int64
}

// step is an arc without its weight.
type step struct{ to, channel int }

func newSpur(g *roads, to, hops int) *spur {
	s := &spur{g: g, to: to, barred: make([]bool, g.stations()), dist: make([][]int64, hops+1)}
	for h := range s.dist {
		s.dist[h] = make([]int64, g.stations())
	}
	return s
}

// branch adds to waiting every way of leaving the newest trail found.
func (s *spur) branch(found, waiting []trail, hops int) []trail {
	last := found[len(found)-1]
	var weight int64
	for i, channel := range last.channels {
		root := last.stations[:i+1]
		s.bar(root, last.channels[:i], found)
		if tail, ok := s.shortest(root[i], hops-i); ok {
			t := trail{
				weight:   weight + tail.weight,
				stations: append(slices.Clone(root[:i]), tail.stations...),
				channels: append(slices.Clone(last.channels[:i]), tail.channels...),
			}
			if !slices.ContainsFunc(waiting, func(o trail) bool { return compareTrails(o, t) == 0 }) {
				waiting = append(waiting, t)
			}
		}
		weight += s.weight(root[i], last.stations[i+1], channel)
	}
	clear(s.barred)
	s.taken = s.taken[:0]
	return waiting
}

// bar keeps the next search off the root's stations and off the first steps of
// trails found with the same root.
func (s *spur) bar(root, channels []int, found []trail) {
	clear(s.barred)
	for _, v := range root[:len(root)-1] {
		s.barred[v] = true
	}
	s.taken = s.taken[:0]
	n := len(root)
	for _, t := range found {
		if len(t.stations) > n && slices.Equal(t.stations[:n], root) && slices.Equal(t.channels[:n-1], channels) {
			s.taken = append(s.taken, step{t.stations[n], t.channels[n-1]})
		}
	}
}

func (s *spur) weight(from, to, channel int) int64 {
	for _, a := range s.g.from(from) {
		if a.to == to && a.channel == channel {
			return a.weight
		}
	}
	return 0
}

const far = math.MaxInt64 / 4

// shortest returns the first trail in the order of compareTrails from v within
// the hop limit.
func (s *spur) shortest(v, hops int) (trail, bool) {
	if hops < 1 {
		return trail{}, false
	}
	s.layers(v, hops)
	best, used := int64(far), 0
	for h := 1; h <= hops; h++ {
		if d := s.leave(v, h); d < best {
			best, used = d, h
		}
	}
	if used == 0 {
		return trail{}, false
	}
	return s.trace(v, used, best), true
}

// layers fills dist[h][u] with the least weight from u in exactly h hops,
// keeping off v and the barred stations.
func (s *spur) layers(v, hops int) {
	for u := range s.dist[0] {
		s.dist[0][u] = far
	}
	s.dist[0][s.to] = 0
	for h := 1; h < hops; h++ {
		for u := range s.dist[h] {
			s.dist[h][u] = far
			if u == s.to || u == v || s.barred[u] {
				continue
			}
			for _, a := range s.g.from(u) {
				s.dist[h][u] = min(s.dist[h][u], a.weight+s.dist[h-1][a.to])
			}
		}
	}
}

// leave is the least weight from v in exactly h hops by steps not taken yet.
func (s *spur) leave(v, h int) int64 {
	best := int64(far)
	for _, a := range s.g.from(v) {
		if !slices.Contains(s.taken, step{a.to, a.channel}) {
			best = min(best, a.weight+s.dist[h-1][a.to])
		}
	}
	return best
}

// trace follows the layers from v, taking the first arc that keeps the weight.
func (s *spur) trace(v, hops int, weight int64) trail {
	t := trail{weight: weight, stations: []int{v}}
	at := v
	for h := hops; h > 0; h-- {
		for _, a := range s.g.from(at) {
			if at == v && h == hops && slices.Contains(s.taken, step{a.to, a.channel}) {
				continue
			}
			if a.weight+s.dist[h-1][a.to] == weight {
				weight -= a.weight
				at = a.to
				t.stations, t.channels = append(t.stations, at), append(t.channels, a.channel)
				break
			}
		}
	}
	return t
}

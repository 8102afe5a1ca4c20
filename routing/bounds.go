package routing

import "slices"

// bounds are the bounds that searches for one destination share, computed when
// first asked for.
type bounds struct {
	scene  *scene
	to     int
	levels int
	blind  int
	dist   []int    // fewest hops from each station, large when there is no way
	tables []*bound // by growing deadline
}

func newBounds(s *scene, to, levels, blind int) *bounds {
	b := &bounds{scene: s, to: to, levels: levels, blind: blind, dist: make([]int, len(s.net.Stations))}
	for v := range b.dist {
		b.dist[v] = never
	}
	b.dist[to] = 0
	for queue := []int{to}; len(queue) > 0; queue = queue[1:] {
		for _, i := range s.in[queue[0]] {
			if v := s.hops[i].from; b.dist[v] == never {
				b.dist[v] = b.dist[queue[0]] + 1
				queue = append(queue, v)
			}
		}
	}
	return b
}

// away is the fewest hops from a station to the destination.
func (b *bounds) away(v int) int { return b.dist[v] }

// whole is the bound by the deadline.
func (b *bounds) whole() *bound { return b.by(b.scene.clock.slots - 1) }

// by is a bound on arrivals by the end of a slot.
func (b *bounds) by(slot int) *bound {
	i, ok := slices.BinarySearchFunc(b.tables, slot+1, func(t *bound, slots int) int { return t.slots - slots })
	if !ok {
		b.tables = slices.Insert(b.tables, i, newBound(b.scene, b.to, slot+1, b.levels, b.blind, func(int) bool { return true }))
	}
	return b.tables[i]
}

package routing

import (
	"math"
	"math/bits"
	"slices"
)

// bounds are what searches for one destination know ahead, computed when first
// asked for.
type bounds struct {
	scene   *scene
	to      int
	levels  int
	blind   int
	dist    []int         // fewest hops from each station, never when there is no way
	sure    []float64     // 1 by node
	via     [][][]float64 // see timed; nil when links never change
	tables  []*bound
	guess   []float64     // rough slots from each station on, to look at the promising first
	spent   int           // hops tried so far by all searches
	paid    int           // of which tables have been made for so many
	spells  *spells       // those of via
	off     int           // a station that no way leads through, −1 = none
	plain   [][][]float64 // via without all that
	sharp   bool          // last hops are known, see sharpen
	states  int           // of last hops
	version int           // of via
	room    *arena
	desks   []*desk // that nobody sits at
}

// newBounds returns the bounds for searches from one station, or from any (−1). It
// keeps what it works out in a room of its owner's.
func newBounds(s *scene, from, to, levels, blind int, room *arena) *bounds {
	b := &bounds{scene: s, to: to, levels: levels, blind: blind, dist: make([]int, len(s.net.Stations)), room: room}
	b.spells, b.off = s.spells[coarse], from
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
	b.sure = slices.Repeat([]float64{1}, len(s.eval.Weights()))
	if s.steadyHops < len(s.hops) && s.clock.slots > 0 {
		b.via = b.timed()
	}
	b.estimate()
	return b
}

// apart is the same bounds for a search that runs beside others.
func (b *bounds) apart() *bounds {
	own := *b
	own.room, own.desks = &arena{}, nil
	own.tables = make([]*bound, len(b.tables))
	for i, t := range b.tables {
		table := *t
		table.chances, table.coarse, table.between = nil, nil, nil // scratch
		own.tables[i] = &table
	}
	return &own
}

// unhurried bounds, by hops left and station and node, the chance to reach the
// destination if time were no matter, off the barred stations. O(levels · hops ·
// nodes).
func (b *bounds) unhurried(barred []bool) [][][]float64 {
	nodes := len(b.scene.eval.Weights())
	free := make([][][]float64, b.levels+1)
	room := make([]float64, b.levels*len(b.dist)*nodes)
	for j := range free {
		free[j] = make([][]float64, len(b.dist))
		free[j][b.to] = b.sure
		for v := range free[j] {
			if j == 0 || v == b.to || b.dist[v] > j {
				continue
			}
			best := room[:nodes:nodes]
			room = room[nodes:]
			for _, i := range b.scene.out[v] {
				to := b.scene.hops[i].to
				if rest := free[j-1][to]; rest != nil && !barred[to] {
					for n, x := range b.reach(i) {
						best[n] = max(best[n], x*rest[n])
					}
				}
			}
			free[j][v] = best
		}
	}
	return free
}

// reach bounds the chance that a hop is ever done, by node.
func (b *bounds) reach(hop int) []float64 {
	if h := &b.scene.hops[hop]; b.blind > 0 && h.to == b.to && h.unheard() {
		return b.sure
	}
	return b.scene.reach(hop)
}

// reachIn is the same by spell and node.
func (b *bounds) reachIn(hop int) []float64 {
	if h := &b.scene.hops[hop]; b.blind > 0 && h.to == b.to && h.unheard() {
		return slices.Repeat(b.sure, b.spells.count())
	}
	return b.scene.reachIn(hop, b.spells)
}

// away is the fewest hops from a station to the destination.
func (b *bounds) away(v int) int { return b.dist[v] }

// A table is worth its cost after leastTable hops tried by all searches, leastTried by
// the one that asks, and since the last table one for tableCost distributions of the
// new one: many small searches together don't need one.
const (
	leastTable = 600
	leastTried = 150
	tableCost  = 10
)

// tabled reports whether a search may ask a table up to a slot: one that is there, or
// is worth its cost by now.
func (b *bounds) tabled(s *search, begin, slot int) bool {
	if b.spent < leastTable {
		return false
	}
	if s.tried >= leastTried && b.spent-b.paid >= b.cost(slot) {
		return true
	}
	return b.table(begin, b.last(slot)) != nil
}

// cost is how many hops a search is to try for a table up to a slot.
func (b *bounds) cost(slot int) int {
	quarters := b.scene.eval.Quarter(min(slot, b.scene.clock.slots-1)) + 1
	work := (b.scene.steadyHops + (len(b.scene.hops)-b.scene.steadyHops)*quarters) * len(b.scene.eval.Weights())
	return work / tableCost
}

// estimate fills in guess by Dijkstra's method.
func (b *bounds) estimate() {
	b.guess = make([]float64, len(b.dist))
	for v := range b.guess {
		b.guess[v] = math.Inf(1)
	}
	b.guess[b.to] = 0
	done := make([]bool, len(b.guess))
	for {
		u := -1
		for v, g := range b.guess {
			if !done[v] && !math.IsInf(g, 1) && (u < 0 || g < b.guess[u]) {
				u = v
			}
		}
		if u < 0 {
			return
		}
		done[u] = true
		for _, i := range b.scene.in[u] {
			h := &b.scene.hops[i]
			b.guess[h.from] = min(b.guess[h.from], h.slow+b.guess[u])
		}
	}
}

// whole is the bound by the deadline for searches from a slot on.
func (b *bounds) whole(begin int) *bound { return b.by(begin, b.scene.clock.slots-1) }

// by is a bound on arrivals by the end of a slot, or of one not much later, so that
// questions share tables.
func (b *bounds) by(begin, slot int) *bound {
	slot = b.last(slot)
	t := b.table(begin, slot)
	if t == nil {
		t = newBound(b.scene, b.to, begin, slot+1, b.levels, b.blind, b.keep(slot))
		b.tables = append(b.tables, t)
		b.paid = b.spent
	}
	return t
}

// last is the slot up to which there is a table for a slot.
func (b *bounds) last(slot int) int {
	last := b.scene.clock.slots - 1
	if slot < last {
		step := 1 << max(0, bits.Len(uint(slot))-5)
		slot = min((slot+step)/step*step-1, last)
	}
	return slot
}

// table is a table made before, nil if there is none.
func (b *bounds) table(begin, slot int) *bound {
	for _, t := range b.tables {
		if t.slots == slot+1 && t.begin <= begin {
			return t
		}
	}
	return nil
}

// keep says which hops matter to a bound: for one that is asked whether half of
// all tries arrive, hops that are done less often do not.
func (b *bounds) keep(slot int) func(hop int) bool {
	if slot == b.scene.clock.slots-1 {
		return func(int) bool { return true }
	}
	return func(hop int) bool { return b.scene.mean(b.reach(hop)) >= half }
}

// mean weighs figures by node of the net-wide deviate.
func (s *scene) mean(per []float64) float64 {
	sum := 0.0
	for n, w := range s.eval.Weights() {
		sum += w * per[n]
	}
	return min(sum, 1)
}

// least is how many slots a chain of so many hops takes from the slot it starts
// with to the one it arrives in, the first and the last included.
func (s *scene) least(hops int) int {
	p := &s.net.Slots
	blocks := 1
	if p.Block > 0 {
		blocks = (s.frames + p.Block - 1) / p.Block
	}
	return hops*(s.frames+blocks*s.gap()) - s.gap()
}

// gap is the slots that pass after the frames of a round.
func (s *scene) gap() int { return 2*s.net.Slots.Turnaround + s.net.Slots.Ack }

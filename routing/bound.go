package routing

import (
	"math"

	"farhop/routing/delivery"
)

// buckets is how many steps a bound divides the time to its deadline into.
const buckets = 64

// bound is an upper bound on the chance that a message that may leave a station
// from a slot on reaches the destination by the end of a slot:
//
//	V(j, v, t) = max over hops v → w of Σ P(hop done at s | started at t) · V(j−1, w, s)
//
// for each node of the net-wide deviate. It lets every station choose anew for
// every time and every node, and lets walks come back to where they were, so no
// chain does better. Times are taken in buckets of slots: a value is the largest
// of its bucket. Hops too weak to matter are left out; what a chain that uses one
// could do at most is the floor.
type bound struct {
	scene  *scene
	to     int
	slots  int // arrivals count in slots before this one
	width  int // slots a bucket
	count  int // buckets
	nodes  int // of the net-wide deviate
	levels int // most hops
	blind  int // a last hop without answer may be sent so many times
	weight []float64
	value  [][][]float64 // V by level and station: nodes × count
	via    [][][]float64 // the same by level and first hop, nil for hops left out
}

// newBound computes the bound for a destination: arrivals in slots before
// slots, in at most so many hops. keep says which hops are not left out.
func newBound(s *scene, to, slots, levels, blind int, keep func(hop int) bool) *bound {
	b := &bound{scene: s, to: to, slots: slots, levels: levels, blind: blind, weight: s.eval.Weights()}
	b.nodes = len(b.weight)
	b.width = max(1, (slots+buckets-1)/buckets)
	b.count = (slots + b.width - 1) / b.width
	b.value = make([][][]float64, levels+1)
	b.via = make([][][]float64, levels+1)
	b.value[0] = make([][]float64, len(s.net.Stations))
	for j := 1; j <= levels; j++ {
		b.level(j, keep)
	}
	return b
}

// level fills V(j, ·, ·) from V(j−1, ·, ·).
func (b *bound) level(j int, keep func(hop int) bool) {
	s := b.scene
	b.value[j] = make([][]float64, len(s.net.Stations))
	b.via[j] = make([][]float64, len(s.hops))
	for v := range b.value[j] {
		if v == b.to {
			continue
		}
		for _, i := range s.out[v] {
			h := &s.hops[i]
			if !keep(i) || h.to != b.to && b.value[j-1][h.to] == nil {
				continue
			}
			via := b.through(i, j)
			b.via[j][i] = via
			b.value[j][v] = raise(b.value[j][v], via)
		}
	}
}

// raise is the larger of two rows, element by element; row may be nil and is
// reused.
func raise(row, by []float64) []float64 {
	if row == nil {
		return append([]float64(nil), by...)
	}
	for i, x := range by {
		row[i] = max(row[i], x)
	}
	return row
}

// through is the bound by way of one hop with j hops left.
func (b *bound) through(hop, j int) []float64 {
	h := &b.scene.hops[hop]
	if h.to == b.to && j > 1 {
		return b.via[1][hop]
	}
	row := make([]float64, b.nodes*b.count)
	tally := h.tally
	for k := range b.count {
		first := k * b.width
		last := min(first+b.width, b.slots) - 1
		if tally.rank[first] == tally.rank[b.slots] {
			break // no open slot is left
		}
		from := b.scene.eval.Quarter(int(tally.slots[tally.rank[first]]))
		upto := from
		if r := tally.rank[last]; r < tally.rank[b.slots] {
			upto = b.scene.eval.Quarter(int(tally.slots[r]))
		}
		for q := from; q <= upto; q++ {
			for n := range b.nodes {
				at := n*b.count + k
				if h.to == b.to {
					row[at] = max(row[at], b.last(h, q, n, tally, first))
				} else {
					row[at] = max(row[at], b.onward(h, q, n, tally, first, last, b.value[j-1][h.to][n*b.count:(n+1)*b.count]))
				}
			}
		}
	}
	return row
}

// last is the chance that the last hop, begun at a slot, is done in time.
func (b *bound) last(h *hop, quarter, node int, t *tally, slot int) float64 {
	if h.unheard && b.blind > 0 {
		return 1
	}
	first, pmf := b.scene.eval.Times(h.leg, quarter, node, false)
	room := int(t.rank[b.slots]-t.rank[slot]) - first + 1
	sum := 0.0
	for _, p := range pmf[:max(0, min(room, len(pmf)))] {
		sum += p
	}
	return sum
}

// onward is Σ P(hop done at s) · V(s) for a hop begun in a bucket of slots, each
// V the largest that any slot of the bucket could meet.
func (b *bound) onward(h *hop, quarter, node int, t *tally, from, upto int, value []float64) float64 {
	first, pmf := b.scene.eval.Times(h.leg, quarter, node, true)
	lo, hi := int(t.rank[from])+first-1, int(t.rank[upto])+first-1 // ordinals of the open slots that end the hop
	end := int(t.rank[b.slots])
	sum := 0.0
	for i := 0; i < len(pmf) && lo+i < end; {
		k := (int(t.slots[lo+i]) + 1) / b.width
		if k >= b.count {
			break
		}
		// The run of counts over which both ends stay in their buckets.
		run := int(t.before((k+1)*b.width-1)) - lo - i
		m := b.count
		if hi+i < end {
			m = (int(t.slots[hi+i]) + 1) / b.width
			run = min(run, int(t.before((m+1)*b.width-1))-hi-i)
		}
		best := value[k]
		for x := k + 1; x <= m && x < b.count; x++ {
			best = max(best, value[x])
		}
		mass := 0.0
		for _, p := range pmf[i:min(i+run, len(pmf))] {
			mass += p
		}
		sum += mass * best
		i += run
	}
	return sum
}

// tally counts open slots.
type tally struct {
	slots []int32 // the open slots by the deadline, in order
	rank  []int32 // rank[s] is how many of them come before slot s
}

// before is how many open slots come before a slot, which may lie past the end.
func (t *tally) before(slot int) int32 { return t.rank[min(slot, len(t.rank)-1)] }

// newTally counts the open slots of a clock. Boundaries of the opening's day
// count from midnight.
func newTally(o *opening, c clock) *tally {
	t := &tally{rank: make([]int32, c.slots+1)}
	day := int64(len(o.open))
	at := c.first / c.seconds % day
	if at < 0 {
		at += day
	}
	for s := range c.slots {
		t.rank[s] = int32(len(t.slots))
		if o.open[at] {
			t.slots = append(t.slots, int32(s))
		}
		if at++; at == day {
			at = 0
		}
	}
	t.rank[c.slots] = int32(len(t.slots))
	return t
}

// mass is a prefix's chance of leaving, by node and bucket of a bound.
func (b *bound) mass(p *delivery.Prefix) []float64 {
	m := make([]float64, b.nodes*b.count)
	for n := range b.nodes {
		row := p.Row(n)
		row = row[:min(len(row), b.slots)]
		for s, x := range row {
			m[n*b.count+s/b.width] += x
		}
	}
	return m
}

// per is the bound by node of the deviate for a prefix's mass.
func (b *bound) per(mass, value []float64) []float64 {
	chance := make([]float64, b.nodes)
	if value == nil {
		return chance
	}
	for n := range chance {
		for i := n * b.count; i < (n+1)*b.count; i++ {
			chance[n] += mass[i] * value[i]
		}
	}
	return chance
}

// total weighs chances by node.
func (b *bound) total(per []float64) float64 {
	sum := 0.0
	for n, w := range b.weight {
		sum += w * per[n]
	}
	return math.Min(sum, 1)
}

package routing

import (
	"context"
	"math"
	"slices"
	"sync/atomic"

	"farhop/mesh/link"
	"farhop/mesh/workers"
)

// ceiling bounds from above, quickly, the chance that a hop is ever done, given
// the decode chances p of a frame and q of an answering frame. It plays an easier
// exchange: a round in which nothing was decoded may be acknowledged like any
// other, and only the message's last blocks count. Then the number K of rounds
// that carry frames does not depend on what was decoded, and each block of n
// frames is there with chance Σ P(K = k) (1 − (1 − p)^k)^n. More frames go
// through there, whatever is drawn; and it grows with p and q, which the real
// exchange need not do (an empty round forces a poll).
type ceiling struct {
	frames, ack, rounds, block int
	table                      []atomic.Uint64 // of the bits of 1 + bound, 0 = not worked out
}

// The table is over u and v, p = Φ(u), q = Φ(v); an entry is for the upper end of
// its step both ways.
const (
	ceilingLow  = -4.0
	ceilingHigh = 5.0
	perU        = 32
	perV        = 8
	stepsU      = int((ceilingHigh - ceilingLow) * perU)
	stepsV      = int((ceilingHigh - ceilingLow) * perV)
	ownReach    = 4.0 // deviations of the hop's own deviate that are looked at
	perOwn      = 16  // steps a deviation
)

// ownUpTo are the chances that the hop's own deviate is below the ends of steps.
var ownUpTo = func() (p [int(2*ownReach*perOwn) + 1]float64) {
	for i := range p {
		p[i] = link.Phi(ownAt(i))
	}
	return p
}()

// ownAt is the hop's own deviate at the end of a step.
func ownAt(i int) float64 { return float64(i)/perOwn - ownReach }

func newCeiling(frames, ack, rounds, block int) *ceiling {
	if block == 0 || block > frames {
		block = frames
	}
	return &ceiling{frames, ack, rounds, block, make([]atomic.Uint64, (stepsU+1)*(stepsV+1))}
}

// of is the bound for decode chances p and q.
func (c *ceiling) of(p, q float64) float64 {
	read := power(q, c.ack)
	// filled is the chance that a round carries frames, polled that it is a poll,
	// by the number k of rounds so far that carried frames.
	var few [2][16]float64
	filled, polled := few[0][:], few[1][:]
	if c.rounds >= len(filled) {
		filled, polled = make([]float64, c.rounds+1), make([]float64, c.rounds+1)
	}
	filled[1] = 1
	for range c.rounds - 1 {
		for k := c.rounds; k > 0; k-- {
			poll := filled[k]*(1-read) + polled[k]*(1-p*read)
			filled[k] = filled[k-1]*read + polled[k-1]*p*read
			polled[k] = poll
		}
	}
	whole, rest, missed := 0.0, 0.0, 1.0
	last := (c.frames-1)%c.block + 1 // frames of the last block
	for k := 1; k <= c.rounds; k++ {
		missed *= 1 - p
		chance, through := filled[k]+polled[k], power(1-missed, last)
		rest += chance * through
		if last < c.block {
			through *= power(1-missed, c.block-last)
		}
		whole += chance * through
	}
	return min(1, power(whole, (c.frames-1)/c.block)*rest)
}

// power is x to the n-th, n ≥ 0.
func power(x float64, n int) float64 {
	y := 1.0
	for ; n > 0; n >>= 1 {
		if n&1 != 0 {
			y *= x
		}
		x *= x
	}
	return y
}

// place is where the table has an argument, at so many steps a unit, most in all.
func place(u, per float64, most int) int {
	switch {
	case u >= ceilingHigh:
		return most
	case u > ceilingLow:
		return int((u - ceilingLow) * per)
	}
	return 0
}

// at is the bound at u and v, from the table.
func (c *ceiling) at(u, v float64) float64 {
	i, j := place(u, perU, stepsU), place(v, perV, stepsV)
	entry := &c.table[i*(stepsV+1)+j]
	if bits := entry.Load(); bits != 0 {
		return math.Float64frombits(bits) - 1
	}
	p, q := 1.0, 1.0
	if i < stepsU {
		p = link.Phi(ceilingLow + float64(i+1)/perU)
	}
	if j < stepsV {
		q = link.Phi(ceilingLow + float64(j+1)/perV)
	}
	bound := c.of(p, q)
	entry.Store(math.Float64bits(bound + 1))
	return bound
}

// span is what several states of one direction have at most, as u = at + common·η
// + own·ζ. Slopes are kept at both ends: the larger counts where the deviate is
// above 0 and the smaller where it is below.
type span struct {
	at                    float64
	commonLow, commonHigh float64
	ownLow, ownHigh       float64
}

// spanOf is the span of some states of a direction.
func spanOf(states []link.Direction) span {
	s := span{at: math.Inf(-1), commonLow: math.Inf(1), ownLow: math.Inf(1)}
	for _, d := range states {
		var at, common, own float64
		switch d.Kind {
		case link.Certain:
			at = math.Sqrt2 * math.Erfinv(2*min(max(d.Decode, 0), 1)-1)
		case link.Gaussian:
			at, common = d.Margin/d.Noise, d.Common/d.Noise
			own = math.Sqrt(max((d.SD-d.Common)*(d.SD+d.Common), 0)) / d.Noise
		default:
			continue
		}
		s.at = max(s.at, at)
		s.commonLow, s.commonHigh = min(s.commonLow, common), max(s.commonHigh, common)
		s.ownLow, s.ownHigh = min(s.ownLow, own), max(s.ownHigh, own)
	}
	if math.IsInf(s.at, -1) {
		return span{at: s.at} // closed
	}
	return s
}

// given fixes the net-wide deviate: the rest of u at most is at + own·ζ.
func (s span) given(eta float64) float64 {
	if math.IsInf(s.at, -1) {
		return s.at
	}
	return s.at + eta*pick(eta, s.commonLow, s.commonHigh)
}

func pick(deviate, low, high float64) float64 {
	if deviate > 0 {
		return high
	}
	return low
}

// reach bounds the chance that a hop is ever done in any of some states, at a
// value of the net-wide deviate.
func (c *ceiling) reach(f, r span, eta float64) float64 {
	u, v := f.given(eta), r.given(eta)
	switch {
	case math.IsInf(u, -1):
		return 0
	case f.ownHigh == 0 && r.ownHigh == 0:
		return c.at(u, v)
	}
	own := func(i int) float64 {
		zeta := ownAt(i)
		return c.at(u+zeta*pick(zeta, f.ownLow, f.ownHigh), v+zeta*pick(zeta, r.ownLow, r.ownHigh))
	}
	last := len(ownUpTo) - 1
	low, high := own(0), own(last)
	sum := ownUpTo[0]*(1+low) + climbing(own, 0, last, low, high) // beyond the steps on either side, and between
	return min(sum, 1)
}

// climbing bounds the mean of a rising figure over steps of the hop's own deviate,
// given it at both ends: a stretch over which it hardly rises counts as its end.
func climbing(own func(int) float64, from, to int, low, high float64) float64 {
	if to == from+1 || high-low <= riseShare*high+riseLeast {
		return (ownUpTo[to] - ownUpTo[from]) * high
	}
	middle := (from + to) / 2
	at := own(middle)
	return climbing(own, from, middle, low, at) + climbing(own, middle, to, at, high)
}

const (
	riseShare = 1e-3
	riseLeast = 1e-7
)

// reach bounds, by node of the net-wide deviate, the chance that a hop is ever
// done, whatever quarter it starts in by the deadline.
func (s *scene) reach(hop int) []float64 {
	if h := &s.hops[hop]; h.still {
		h.alone.Do(func() { h.reach = s.steadily(hop) })
	} else {
		s.reachIn(hop, s.spells[coarse])
	}
	return s.hops[hop].reach
}

// steadily is reach for a hop in one state.
func (s *scene) steadily(hop int) []float64 {
	if known := s.told(hop, nil, 0); known != nil {
		return known
	}
	f, r := spanOf([]link.Direction{s.forward(hop, 0)}), spanOf([]link.Direction{s.backward(hop, 0)})
	reach := make([]float64, len(s.eval.Nodes()))
	for n, eta := range s.eval.Nodes() {
		reach[n] = s.ceiling.reach(f, r, eta)
	}
	return reach
}

// reachIn is the same by spell and node.
func (s *scene) reachIn(hop int, p *spells) []float64 {
	h := &s.hops[hop]
	h.once[p.grade].Do(func() {
		if h.still {
			h.in[p.grade] = slices.Repeat(s.reach(hop), p.count())
			return
		}
		most, in := s.bound(hop, p)
		if h.in[p.grade] = in; p.grade == coarse {
			h.reach = most
		}
	})
	return h.in[p.grade]
}

// reachAll works out reachIn for all hops, on all processors.
func (s *scene) reachAll(p *spells) {
	s.whole[p.grade].Do(func() {
		_ = workers.Run(context.Background(), len(s.hops), func() (func(int), func()) {
			return func(hop int) { s.reachIn(hop, p) }, nil
		})
	})
}

// bound works out the figures of reach, overall and by spell. Quarters of one spell
// are bounded together.
func (s *scene) bound(hop int, p *spells) (reach, in []float64) {
	h, nodes := &s.hops[hop], s.eval.Nodes()
	reach, in = make([]float64, len(nodes)), make([]float64, p.count()*len(nodes))
	room := make([]float64, len(nodes))
	var forward, backward []link.Direction
	quarters := h.starts(s)
	for i, q := range quarters {
		forward, backward = append(forward, s.forward(hop, q)), append(backward, s.backward(hop, q))
		spell := q / p.quarters
		if i+1 < len(quarters) && quarters[i+1]/p.quarters == spell {
			continue
		}
		known := s.told(hop, p, spell)
		if known == nil {
			known = room
			f, r := spanOf(forward), spanOf(backward)
			for n, eta := range nodes {
				known[n] = s.ceiling.reach(f, r, eta)
			}
		}
		for n, x := range known {
			reach[n] = max(reach[n], x)
			in[spell*len(nodes)+n] = x
		}
		forward, backward = forward[:0], backward[:0]
	}
	return reach, in
}

// told is what an elder scene knows of a hop in a spell, by node, nil where it can't
// tell.
func (s *scene) told(hop int, p *spells, spell int) []float64 {
	if s.elder == nil {
		return nil
	}
	h := &s.hops[hop]
	i := s.elder.find(h.from, h.to, h.channel)
	if i < 0 {
		return nil
	}
	if h.still {
		return s.elder.reach(i)
	}
	e := s.elder.spells[p.grade]
	if e.quarters != p.quarters || spell >= min(e.count(), p.count())-1 {
		return nil // not the same quarters
	}
	nodes := len(s.eval.Nodes())
	return s.elder.reachIn(i, e)[spell*nodes:][:nodes]
}

// starts lists the quarters in which the hop can start.
func (h *hop) starts(s *scene) []int {
	if h.still {
		return []int{0}
	}
	var list []int
	for _, slot := range h.tally.slots {
		if q := s.eval.Quarter(int(slot)); len(list) == 0 || list[len(list)-1] != q {
			list = append(list, q)
		}
	}
	return list
}

package routing

import (
	"math"

	"farhop/mesh/link"
)

// ceiling bounds from above, quickly, the chance that a hop is ever done:
// each of F frames is sent at most R times, so given the decode chance p it is at
// most (1 − (1 − p)^R)^F. It is held as a table over u, p = Φ(u), each entry for
// the upper end of its step; the hop's own deviate is integrated over in steps as
// well, each at its upper end. Every figure is at least the true one.
type ceiling struct {
	frames, rounds float64
	table          []float64 // over u
	own            []float64 // chance of each step of the hop's own deviate
}

const (
	ceilingLow, ceilingHigh = -8.0, 8.0
	ceilingPerUnit          = 64
	ownPerUnit              = 8
	ownReach                = 4
)

func newCeiling(frames, rounds int) *ceiling {
	c := &ceiling{frames: float64(frames), rounds: float64(rounds)}
	n := int((ceilingHigh - ceilingLow) * ceilingPerUnit)
	c.table = make([]float64, n+1)
	for i := range c.table {
		c.table[i] = c.of(link.Phi(-(ceilingLow + float64(i+1)/ceilingPerUnit)))
	}
	c.table[n] = 1
	last := link.Phi(-ownReach)
	c.own = append(c.own, last)
	for i := 1; i <= 2*ownReach*ownPerUnit; i++ {
		next := link.Phi(-ownReach + float64(i)/ownPerUnit)
		c.own = append(c.own, next-last)
		last = next
	}
	return c
}

// of is the bound given the chance that a frame is missed.
func (c *ceiling) of(miss float64) float64 {
	return math.Exp(c.frames * math.Log1p(-math.Pow(miss, c.rounds)))
}

// at is the bound at u.
func (c *ceiling) at(u float64) float64 {
	i := int((u - ceilingLow) * ceilingPerUnit)
	return c.table[min(max(i, 0), len(c.table)-1)]
}

// reach is the bound for a direction at a value of the net-wide deviate.
func (c *ceiling) reach(d link.Direction, eta float64) float64 {
	switch d.Kind {
	case link.Certain:
		return c.of(1 - d.Decode)
	case link.Gaussian:
		at := (d.Margin + d.Common*eta) / d.Noise
		slope := math.Sqrt(max((d.SD-d.Common)*(d.SD+d.Common), 0)) / d.Noise
		if slope == 0 {
			return c.at(at)
		}
		sum := link.Phi(-ownReach) // everything beyond the last step
		for i, p := range c.own {
			sum += p * c.at(at+slope*(float64(i)/ownPerUnit-ownReach))
		}
		return min(sum, 1)
	}
	return 0
}

// reach bounds, by node of the net-wide deviate, the chance that a hop is ever
// done, whatever quarter it starts in by the deadline.
func (s *scene) reach(hop int) []float64 {
	h := &s.hops[hop]
	h.once.Do(func() {
		h.reach = make([]float64, len(s.eval.Weights()))
		for _, q := range h.starts(s) {
			d := s.forward(hop, q)
			for n, eta := range s.eval.Nodes() {
				h.reach[n] = max(h.reach[n], s.ceiling.reach(d, eta))
			}
		}
	})
	return h.reach
}

// starts lists the quarters in which the hop can start.
func (h *hop) starts(s *scene) []int {
	if len(h.states) == 1 {
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

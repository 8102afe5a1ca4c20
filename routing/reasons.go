package routing

import "math"

// Figures by which a hop counts as weak or old. Choices, not measurements.
const (
	weakDecode   = 0.5
	weakAnswer   = 0.3
	oldFreshness = 0.25
)

// reasons lists why a hop may disappoint, most telling first.
func (q *question) reasons(h *Hop) []Reason {
	var list []Reason
	add := func(when bool, r Reason) {
		if when {
			list = append(list, r)
		}
	}
	e := h.Edge
	add(!e.Fixed && !e.Inferred && !e.Known, UnknownHour)
	add(e.Inferred, Inferred)
	add(e.Decode < weakDecode, Weak)
	add(!h.Blind && (!h.HasReverse || !q.scene.allowed(h.Reverse) || h.Reverse.Decode < weakAnswer), AnswerWeak)
	add(!e.Fixed && e.Reports == 1, OneReport)
	add(!e.Fixed && e.Freshness < oldFreshness, Old)
	return list
}

// weakest is the hop least likely to get the message across, the first of equals.
func weakest(hops []Hop) int {
	w := 0
	for i, h := range hops {
		if h.Done < hops[w].Done-1e-9 || math.Abs(h.Done-hops[w].Done) <= 1e-9 && h.Edge.Decode < hops[w].Edge.Decode {
			w = i
		}
	}
	return w
}

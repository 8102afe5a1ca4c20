package routing

import (
	"fmt"
	"slices"
)

// warnings says what a reader of the answer must know beside the numbers.
func (q *question) warnings(a *Answer) []Warning {
	var list []Warning
	add := func(w Warning) {
		if !slices.ContainsFunc(list, func(o Warning) bool { return o.Code == w.Code && o.Message == w.Message }) {
			list = append(list, w)
		}
	}
	if !a.Proven {
		add(Warning{Code: WarnNotProven, Message: "the search was cut short: a better chain may exist"})
	}
	for _, c := range a.Chains {
		for _, h := range c.Hops {
			for _, w := range q.hopWarnings(h) {
				add(w)
			}
		}
	}
	for _, w := range q.leftOut() {
		add(w)
	}
	return list
}

// hopWarnings says what is doubtful about a hop that is used.
func (q *question) hopWarnings(h Hop) []Warning {
	n := q.scene.net
	name := fmt.Sprintf("%s → %s on %s", n.Stations[h.From].Call, n.Stations[h.To].Call, n.Channels[h.Channel].Name)
	answer := fmt.Sprintf("%s → %s", n.Stations[h.To].Call, n.Stations[h.From].Call)
	pair := []int{h.From, h.To}
	var list []Warning
	if e := h.Edge; !e.Fixed && !e.Inferred && !e.Known {
		list = append(list, Warning{WarnUsesUnknown, name + " is unknown at that hour", pair})
	}
	if h.Edge.Inferred {
		list = append(list, Warning{WarnUsesInferred, name + " is inferred from the opposite direction", pair})
	}
	if h.Blind {
		return list
	}
	switch e := h.Reverse; {
	case !h.HasReverse || e.Fixed && closed(e.Direction):
		list = append(list, Warning{WarnNoReverse, fmt.Sprintf("%s: no link %s, acknowledgments are never read", name, answer), pair})
	case q.scene.allowed(e):
	case e.Inferred:
		list = append(list, Warning{WarnInferredReverse, fmt.Sprintf("%s: the answering direction is only inferred and counts as closed", name), pair})
	default:
		list = append(list, Warning{WarnUnknownReverse, fmt.Sprintf("%s: the answering direction is unknown and counts as closed", name), pair})
	}
	return list
}

// leftOut counts the links that the hours would let be used by the deadline but that were
// left out for want of knowledge.
func (q *question) leftOut() []Warning {
	unknown, inferred := 0, 0
	s, seen := q.scene, map[*opening]bool{}
	open := func(from, to, c int) bool {
		o := q.planner.watches.between(from, to, c)
		some, ok := seen[o]
		if !ok {
			some = o.by(s.clock)
			seen[o] = some
		}
		return some
	}
	for from := range s.net.Stations {
		for to := range s.net.Stations {
			if from == to {
				continue
			}
			u, i := q.withheld(from, to, open)
			unknown, inferred = unknown+u, inferred+i
		}
	}
	var list []Warning
	if unknown > 0 {
		list = append(list, Warning{Code: WarnUnknownForward, Message: fmt.Sprintf("%d unknown %s left out", unknown, plural(unknown, "link was", "links were"))})
	}
	if inferred > 0 {
		list = append(list, Warning{Code: WarnInferredForward, Message: fmt.Sprintf("%d inferred %s left out", inferred, plural(inferred, "link was", "links were"))})
	}
	return list
}

// withheld reports whether an ordered pair has no hop at all only because what
// is known of it does not suffice, on a channel that is open to it in some slot.
func (q *question) withheld(from, to int, open func(from, to, c int) bool) (unknown, inferred int) {
	s := q.scene
	for c := range s.net.Channels {
		if s.find(from, to, c) >= 0 {
			return 0, 0
		}
		e, ok := s.edge(from, to, c, 0)
		switch {
		case !ok || e.Fixed || !open(from, to, c):
		case e.Inferred:
			inferred = 1
		case !e.Known:
			unknown = 1
		}
	}
	if inferred == 1 {
		unknown = 0
	}
	return unknown, inferred
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

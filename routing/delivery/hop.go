package delivery

import "sync"

// hop is what one hop does when it starts in one state of its link, for each
// node of the net-wide deviate. Times count open slots.
type hop struct {
	d       pair
	base    sync.Once
	figures [figureCount][]float64 // by node; frames of the receiver in place of acknowledgments
	done    spans                  // until the receiver has it
	relayed sync.Once
	relay   spans // until a relay may send on
	ended   sync.Once
	read    spans // until the last sender has read so
	ceased  sync.Once
	lost    spans // until the sender gives up
	weighed sync.Once
	fail    []float64
}

// times is a distribution of slots: of[i] is the chance of first + i.
type times struct {
	first int
	of    []float64
}

// spans are distributions of slots, one for each node of the net-wide deviate:
// of[node·n + i] is the chance of first + i.
type spans struct {
	first, n int
	of       []float64
}

func (s *spans) node(j int) []float64 { return s.of[j*s.n : (j+1)*s.n] }

// packed is a copy without the entries that are too small for all nodes at
// either end.
func (s spans) packed() spans {
	if s.n == 0 {
		return spans{first: s.first}
	}
	lo, hi := s.bulk()
	nodes := len(s.of) / s.n
	t := spans{s.first + lo, hi - lo, make([]float64, nodes*(hi-lo))}
	for j := range nodes {
		copy(t.node(j), s.node(j)[lo:hi])
	}
	return t
}

// shrink is packed in the room of s, which is not to be used any more.
func (s spans) shrink() spans {
	lo, hi := s.bulk()
	if lo == 0 && hi == s.n {
		return s
	}
	nodes := len(s.of) / s.n
	t := spans{s.first + lo, hi - lo, s.of[:nodes*(hi-lo)]}
	for j := range nodes {
		copy(t.node(j), s.node(j)[lo:hi])
	}
	return t
}

// longer is a copy with so many zeros after each node's entries.
func (s spans) longer(tail int) spans {
	if s.n == 0 {
		return s
	}
	nodes := len(s.of) / s.n
	t := spans{s.first, s.n + tail, make([]float64, nodes*(s.n+tail))}
	for j := range nodes {
		copy(t.node(j), s.node(j))
	}
	return t
}

// bulk is the entries lo…hi−1 outside of which all are too small for all nodes.
func (s spans) bulk() (lo, hi int) {
	if s.n == 0 {
		return 0, 0
	}
	nodes := len(s.of) / s.n
	small := func(i int) bool {
		for j := range nodes {
			if s.of[j*s.n+i] >= leastShare {
				return false
			}
		}
		return true
	}
	lo, hi = 0, s.n
	for hi > 0 && small(hi-1) {
		hi--
	}
	for lo < hi && small(lo) {
		lo++
	}
	return lo, hi
}

// begin sees to the hop's figures and the open slots until the receiver has the
// message.
func (h *hop) begin(e *Evaluator) *hop {
	h.base.Do(func() {
		h.done = e.opened(h.d, kindDone, &h.figures)
		for j := range h.figures[figureAnswers] {
			h.figures[figureAnswers][j] *= float64(e.plan.Protocol.Ack)
		}
	})
	return h
}

// forwarding returns the open slots until a relay may send on.
func (h *hop) forwarding(e *Evaluator) *spans {
	h.relayed.Do(func() {
		more := e.blocks.gap()
		h.relay = e.busy.later(h.arriving(e).longer(e.busy.tail(more)), more).shrink()
	})
	return &h.relay
}

// arriving returns the open slots until the receiver has the message.
func (h *hop) arriving(e *Evaluator) *spans {
	return &h.begin(e).done
}

// ending returns the open slots until the last sender has read that all is
// there, and sees to the figures of a last hop.
func (h *hop) ending(e *Evaluator) *spans {
	h.ended.Do(func() {
		h.read = e.opened(h.d, kindRead, &h.figures)
		for j := range h.figures[figureHeard] {
			h.figures[figureHeard][j] *= float64(e.plan.Protocol.Ack)
		}
	})
	return &h.read
}

// ceasing returns the open slots until the sender has given up.
func (h *hop) ceasing(e *Evaluator) *spans {
	h.ceased.Do(func() { h.lost = e.opened(h.d, kindLost, nil) })
	return &h.lost
}

// failing returns the chances that the hop fails, without working out its times
// where they aren't known yet.
func (h *hop) failing(e *Evaluator) []float64 {
	h.weighed.Do(func() {
		var figures [figureCount][]float64
		e.average(h.d, kindNone, &figures)
		h.fail = figures[figureFail]
	})
	return h.fail
}

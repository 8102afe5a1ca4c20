package delivery

// Reach returns, for each node of the net-wide deviate, the chance that the hop
// succeeds at all if it starts in the given quarter of an hour. It costs less
// than the times, and no hop does better.
func (e *Evaluator) Reach(id LegID, quarter int) []float64 {
	fail := e.hop(e.leg(id), quarter).failing(e)
	reach := make([]float64, len(fail))
	for j, v := range fail {
		reach[j] = 1 - v
	}
	return reach
}

// Times returns how many open slots the hop takes if it starts in the given
// quarter of an hour, at a node of the net-wide deviate: of[i] is the chance of
// first + i, until the receiver may send the message on, if relay is set, or
// else until it has it. The slice must not be changed.
func (e *Evaluator) Times(id LegID, quarter, node int, relay bool) (first int, of []float64) {
	h := e.hop(e.leg(id), quarter)
	s := h.arriving
	if relay {
		s = h.forwarding
	}
	t := s(e)
	return t.first, t.node(node)
}

// OpenSlots returns the slots below the given one that are open to the leg. The
// slice must not be changed.
func (e *Evaluator) OpenSlots(id LegID, below int) []int32 {
	l := e.leg(id)
	l.mu.Lock()
	defer l.mu.Unlock()
	i := l.from(min(below, e.horizon), e.horizon)
	return l.open[:i:i]
}

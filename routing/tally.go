package routing

// tally counts the open slots of a hop up to the deadline.
type tally struct {
	slots []int32 // the open slots, in order
	rank  []int32 // rank[s] is how many of them come before slot s
}

// before is how many open slots come before a slot, which may lie past the end.
func (t *tally) before(slot int) int32 { return t.rank[min(slot, len(t.rank)-1)] }

// by reports whether any slot of a clock is open.
func (o *opening) by(c clock) bool {
	if o.all || !o.any {
		return o.any && c.slots > 0
	}
	return len(newTally(o, c).slots) > 0
}

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

package delivery

import (
	"sort"
	"sync"
)

// leg is a registered leg and what is known of it so far.
type leg struct {
	Leg
	mu      sync.Mutex
	open    []int32 // slots open to the hop, in order
	scanned int     // slots 0…scanned−1 have been looked at
	hops    map[int]*hop
}

// NewLeg registers a leg. Nothing is asked of it until it is used.
func (e *Evaluator) NewLeg(l Leg) LegID {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.legs = append(e.legs, &leg{Leg: l, hops: map[int]*hop{}})
	return LegID(len(e.legs) - 1)
}

func (e *Evaluator) leg(id LegID) *leg {
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.legs[id]
}

// FirstOpen returns the first slot from the given one on that is open to the
// leg, or −1 if there is none up to a week after the deadline.
func (e *Evaluator) FirstOpen(id LegID, slot int) int {
	l := e.leg(id)
	l.mu.Lock()
	defer l.mu.Unlock()
	i := l.from(slot, e.horizon)
	if i == len(l.open) {
		return -1
	}
	return int(l.open[i])
}

// from returns the index of the first open slot at or after the given one, or
// len(l.open) if the horizon has none. l.mu is held.
func (l *leg) from(slot, horizon int) int {
	for l.scanned < horizon && (len(l.open) == 0 || int(l.open[len(l.open)-1]) < slot) {
		l.scan()
	}
	return sort.Search(len(l.open), func(i int) bool { return int(l.open[i]) >= slot })
}

// upTo returns the open slots with index below n, or all the horizon has.
// l.mu is held. The slice stays as it is when more slots are looked at.
func (l *leg) upTo(n, horizon int) []int32 {
	for l.scanned < horizon && len(l.open) < n {
		l.scan()
	}
	return l.open[:min(n, len(l.open))]
}

func (l *leg) scan() {
	if l.Open(l.scanned) {
		l.open = append(l.open, int32(l.scanned))
	}
	l.scanned++
}

// hop returns what the leg's hop does when it starts in a quarter.
func (e *Evaluator) hop(l *leg, quarter int) *hop {
	l.mu.Lock()
	h := l.hops[quarter]
	l.mu.Unlock()
	if h != nil {
		return h
	}
	var d pair
	d.forward, d.reverse = l.Directions(quarter)
	e.known.Lock()
	if h = e.hops[d]; h == nil {
		h = &hop{d: d}
		e.hops[d] = h
	}
	e.known.Unlock()
	l.mu.Lock()
	l.hops[quarter] = h
	l.mu.Unlock()
	return h
}

package delivery

import (
	"slices"
	"sort"
	"sync"
)

// leg is a registered leg and what is known of it so far.
type leg struct {
	Leg
	*openSlots
	known sync.Mutex
	hops  map[int]*hop // by quarter
}

// openSlots are the slots open to a leg, or to several.
type openSlots struct {
	is      func(slot int) bool
	mu      sync.Mutex
	open    []int32 // slots open to the hop, in order
	scanned int     // slots 0…scanned−1 have been looked at
}

// NewLeg registers a leg. Nothing is asked of it until it is used.
func (e *Evaluator) NewLeg(l Leg) LegID { return e.NewLegs(1, func(int) Leg { return l }) }

// NewLegs registers n legs, of which it returns the first; the others follow. Each is
// made, once, when it is first used.
func (e *Evaluator) NewLegs(n int, make func(i int) Leg) LegID {
	e.mu.Lock()
	defer e.mu.Unlock()
	first := len(e.legs)
	e.legs = append(e.legs, slices.Repeat([]legMaker{{first: first, make: make}}, n)...)
	return LegID(first)
}

// legMaker is a leg, or how to make it.
type legMaker struct {
	leg   *leg
	first int
	make  func(i int) Leg
}

func (e *Evaluator) leg(id LegID) *leg {
	e.mu.Lock()
	defer e.mu.Unlock()
	m := &e.legs[id]
	if m.leg == nil {
		l := m.make(int(id) - m.first)
		h := e.hours[l.Hours]
		if h == nil {
			h = &openSlots{is: l.Open}
			if l.Hours != nil {
				e.hours[l.Hours] = h
			}
		}
		m.leg = &leg{Leg: l, openSlots: h, hops: map[int]*hop{}}
	}
	return m.leg
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
func (l *openSlots) from(slot, horizon int) int {
	for l.scanned < horizon && (len(l.open) == 0 || int(l.open[len(l.open)-1]) < slot) {
		l.scan()
	}
	return sort.Search(len(l.open), func(i int) bool { return int(l.open[i]) >= slot })
}

// upTo returns the open slots with index below n, or all the horizon has.
// l.mu is held. The slice stays as it is when more slots are looked at.
func (l *openSlots) upTo(n, horizon int) []int32 {
	for l.scanned < horizon && len(l.open) < n {
		l.scan()
	}
	return l.open[:min(n, len(l.open))]
}

func (l *openSlots) scan() {
	if l.is(l.scanned) {
		l.open = append(l.open, int32(l.scanned))
	}
	l.scanned++
}

// hop returns what the leg's hop does when it starts in a quarter.
func (e *Evaluator) hop(l *leg, quarter int) *hop {
	l.known.Lock()
	h := l.hops[quarter]
	l.known.Unlock()
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
	l.known.Lock()
	l.hops[quarter] = h
	l.known.Unlock()
	return h
}

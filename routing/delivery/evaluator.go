package delivery

import (
	"errors"
	"fmt"
	"math"
	"sync"
	"time"

	"farhop/mesh/link"
)

const (
	quarterLength = 15 * time.Minute
	followBeyond  = 7 * 24 * time.Hour // tries are followed so long past the deadline
)

// Plan is one message under one slot scheme, asked about from one start.
type Plan struct {
	Protocol Protocol
	Slot     time.Duration // slot length, > 0
	Offset   time.Duration // from the start to the beginning of slot 0, ≥ 0
	Deadline time.Duration // after the start; a slot counts if it ends by then
	Common   float64       // the largest Share of the directions asked about, 0…1
}

// Check returns what is wrong with the plan, or nil.
func (p Plan) Check() error {
	pr := p.Protocol
	var errs []error
	bad := func(wrong bool, format string, args ...any) {
		if wrong {
			errs = append(errs, fmt.Errorf(format, args...))
		}
	}
	bad(pr.Frames < 1, "frames %d: must be at least 1", pr.Frames)
	bad(pr.Ack < 0, "acknowledgment frames %d: must not be negative", pr.Ack)
	bad(pr.Turnaround < 0, "turnaround slots %d: must not be negative", pr.Turnaround)
	bad(pr.Rounds < 1, "rounds %d: must be at least 1", pr.Rounds)
	bad(pr.Block < 0, "block frames %d: must not be negative", pr.Block)
	bad(!(pr.Busy >= 0 && pr.Busy < 1), "busy share %v: must be from 0 to below 1", pr.Busy)
	bad(p.Slot <= 0, "slot length %v: must be positive", p.Slot)
	bad(p.Offset < 0, "offset %v: must not be negative", p.Offset)
	bad(p.Deadline < 0, "deadline %v: must not be negative", p.Deadline)
	bad(!(p.Common >= 0 && p.Common <= 1), "common share %v: must be from 0 to 1", p.Common)
	return errors.Join(errs...)
}

// LegID names a leg registered with an Evaluator.
type LegID int

// Evaluator computes arrivals of one message. What it learns about a hop in a
// quarter of an hour is kept and serves every chain that uses the hop. It is
// safe for concurrent use if the functions of its legs are.
type Evaluator struct {
	plan     Plan
	blocks   blocks
	rule     deviates
	slots    int // 0…slots−1 end by the deadline
	horizon  int // slots that are looked at
	mu       sync.Mutex
	legs     []*leg
	hops     map[pair]*hop
	busy     busyTable
	quarters struct{ offset, slot time.Duration }
}

// pair is the two directions of a hop.
type pair struct{ forward, reverse link.Direction }

// leg is a registered leg and what is known of it so far.
type leg struct {
	Leg
	mu      sync.Mutex
	open    []int32 // slots open to the hop, in order
	scanned int     // slots 0…scanned−1 have been looked at
	hops    map[int]*hop
}

// NewEvaluator prepares the tables for a message. The error says what is wrong
// with the plan.
func NewEvaluator(p Plan) (*Evaluator, error) {
	if err := p.Check(); err != nil {
		return nil, err
	}
	e := &Evaluator{plan: p, rule: newDeviates(p.Common), hops: map[pair]*hop{}}
	e.blocks = newBlocks(&e.plan.Protocol, false)
	e.slots = slotsBy(p.Deadline-p.Offset, p.Slot)
	e.horizon = max(slotsBy(p.Deadline-p.Offset+followBeyond, p.Slot), e.slots)
	e.busy.share = p.Protocol.Busy
	return e, nil
}

// slotsBy is the number of slots that end within d.
func slotsBy(d, slot time.Duration) int {
	if d < 0 {
		return 0
	}
	return int(min(d/slot, math.MaxInt32))
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

// Slots returns the number of slots that end by the deadline.
func (e *Evaluator) Slots() int { return e.slots }

// After returns the time from the start to the end of a slot.
func (e *Evaluator) After(slot int) time.Duration {
	return e.plan.Offset + time.Duration(slot+1)*e.plan.Slot
}

// Quarter returns the quarter of an hour after the start in which a slot begins.
func (e *Evaluator) Quarter(slot int) int {
	return int((e.plan.Offset + time.Duration(slot)*e.plan.Slot) / quarterLength)
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
	lo, hi := 0, len(l.open)
	for lo < hi {
		if mid := (lo + hi) / 2; int(l.open[mid]) < slot {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	return lo
}

// upTo returns the open slots with index below n, or all the horizon has.
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

// hop returns what the leg's hop does when it starts in a quarter. l.mu is held.
func (e *Evaluator) hop(l *leg, quarter int) *hop {
	if h := l.hops[quarter]; h != nil {
		return h
	}
	var d pair
	d.forward, d.reverse = l.Directions(quarter)
	e.mu.Lock()
	defer e.mu.Unlock()
	h := e.hops[d]
	if h == nil {
		h = e.newHop(d)
		e.hops[d] = h
	}
	l.hops[quarter] = h
	return h
}

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
	tableDegree   = 70                 // messages of so many blocks that a node would need more are averaged without tables
)

// What is beyond these would take memory or time without end, and is no message
// that anyone sends.
const (
	mostFrames = 10000
	mostPause  = 100
	mostRounds = 500
	mostBusy   = 0.99
	mostSlots  = 1000000
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
	bad(pr.Frames < 1 || pr.Frames > mostFrames, "frames %d: must be from 1 to %d", pr.Frames, mostFrames)
	bad(pr.Ack < 0 || pr.Ack > mostPause, "acknowledgment frames %d: must be from 0 to %d", pr.Ack, mostPause)
	bad(pr.Turnaround < 0 || pr.Turnaround > mostPause, "turnaround slots %d: must be from 0 to %d", pr.Turnaround, mostPause)
	bad(pr.Rounds < 1 || pr.Rounds > mostRounds, "rounds %d: must be from 1 to %d", pr.Rounds, mostRounds)
	bad(pr.Block < 0, "block frames %d: must not be negative", pr.Block)
	bad(!(pr.Busy >= 0 && pr.Busy <= mostBusy), "busy share %v: must be from 0 to %v", pr.Busy, mostBusy)
	bad(p.Slot <= 0, "slot length %v: must be positive", p.Slot)
	bad(p.Offset < 0, "offset %v: must not be negative", p.Offset)
	bad(p.Deadline < 0, "deadline %v: must not be negative", p.Deadline)
	bad(p.Slot > 0 && p.Deadline/max(p.Slot, 1) > mostSlots, "deadline %v: must be within %d slots", p.Deadline, mostSlots)
	bad(!(p.Common >= 0 && p.Common <= 1), "common share %v: must be from 0 to 1", p.Common)
	return errors.Join(errs...)
}

// LegID names a leg registered with an Evaluator.
type LegID int

// Evaluator computes arrivals of one message. What it learns about a hop in a
// quarter of an hour is kept and serves every chain that uses the hop. It is
// safe for concurrent use if the functions of its legs are.
type Evaluator struct {
	*exchanges
	plan    Plan
	slots   int // 0…slots−1 end by the deadline
	horizon int // slots that are looked at
	mu      sync.Mutex
	legs    []legMaker
	hours   map[any]*openSlots // by Leg.Hours
}

// exchanges are what becomes of a message on a hop whatever the clock says.
type exchanges struct {
	blocks blocks
	grid   *grid
	direct bool // no tables: too many blocks
	rule   deviates
	busy   busyTable
	room   sync.Pool  // *averager
	desks  sync.Pool  // *desk
	known  sync.Mutex // for the next two
	hops   map[pair]*hop
	blind  map[blindKey]*hop
}

// pair is the two directions of a hop.
type pair struct{ forward, reverse link.Direction }

// NewEvaluator prepares the tables for a message. The error says what is wrong
// with the plan.
func NewEvaluator(p Plan) (*Evaluator, error) {
	if err := p.Check(); err != nil {
		return nil, err
	}
	return newEvaluator(p, false), nil
}

func newEvaluator(p Plan, known bool) *Evaluator {
	x := &exchanges{rule: newDeviates(p.Common), hops: map[pair]*hop{}, blind: map[blindKey]*hop{}}
	x.blocks = newBlocks(&p.Protocol, known)
	x.grid = newGrid(&x.blocks)
	x.direct = x.blocks.full > 0 && x.blocks.degree() > tableDegree
	x.room.New = func() any { return &averager{} }
	x.desks.New = func() any { return &desk{} }
	x.busy.share = p.Protocol.Busy
	return x.under(p)
}

// under is an evaluator under another clock.
func (x *exchanges) under(p Plan) *Evaluator {
	e := &Evaluator{exchanges: x, plan: p, hours: map[any]*openSlots{}}
	e.slots = slotsBy(p.Deadline-p.Offset, p.Slot)
	e.horizon = max(slotsBy(p.Deadline-p.Offset+followBeyond, p.Slot), e.slots)
	return e
}

// Under returns an evaluator for another plan, which shares what this one has
// learnt about hops where the message and the net-wide share are the same. Legs
// have to be registered anew.
func (e *Evaluator) Under(p Plan) (*Evaluator, error) {
	if p.Protocol != e.plan.Protocol || p.Common != e.plan.Common {
		return NewEvaluator(p)
	}
	if err := p.Check(); err != nil {
		return nil, err
	}
	return e.under(p), nil
}

// slotsBy is the number of slots that end within d.
func slotsBy(d, slot time.Duration) int {
	if d < 0 {
		return 0
	}
	return int(min(d/slot, math.MaxInt32))
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

// Weights returns the weights of the nodes of the net-wide deviate; their sum
// is 1. Chains share the deviate, so chances of several chains are to be
// combined node by node.
func (e *Evaluator) Weights() []float64 { return e.rule.weights }

// Nodes returns the nodes of the net-wide deviate, in standard deviations, in
// growing order. The slice must not be changed.
func (e *Evaluator) Nodes() []float64 { return e.rule.nodes }

func (e *Evaluator) mean(byNode []float64) (sum float64) {
	for i, w := range e.rule.weights {
		sum += w * byNode[i]
	}
	return sum
}

package routing

import (
	"errors"
	"fmt"
	"time"

	"farhop/mesh"
)

// Order says which chain is best.
type Order uint8

const (
	// Surest puts the greatest chance of delivery by the deadline first, then
	// the earliest 50 % time.
	Surest Order = iota
	// Soonest puts the earliest 50 % time first.
	Soonest
	// Lightest puts the least airtime for a delivered message first: expected
	// frames keyed divided by the chance of delivery by the deadline.
	Lightest
)

var orderNames = [...]string{"surest", "soonest", "lightest"}

// String is the order's name.
func (o Order) String() string {
	if int(o) < len(orderNames) {
		return orderNames[o]
	}
	return fmt.Sprintf("Order(%d)", o)
}

// ParseOrder reads an order's name.
func ParseOrder(name string) (Order, bool) {
	for o, n := range orderNames {
		if n == name {
			return Order(o), true
		}
	}
	return 0, false
}

// Defaults of a Request.
const (
	DefaultChains   = 3
	DefaultRelays   = 4
	DefaultDeadline = 4 * time.Hour
	// DirectOnly as Request.Relays asks for chains without a relay.
	DirectOnly = -1
)

// Depart says when the message may leave.
type Depart uint8

const (
	DepartNow  Depart = iota // at the moment asked for
	DepartBest               // at the moment from which it does best by the deadline
)

// Request is a message to be carried and how its chains are to be compared.
// Stations are indexes into the prepared net.
type Request struct {
	From, To int
	Frames   int           // frames of the message on every hop, header and identification included, ≥ 1
	Start    int64         // the moment asked for, Unix seconds
	Deadline time.Duration // after Start, > 0; 0 = DefaultDeadline
	Order    Order
	Chains   int  // how many chains, 0 = DefaultChains
	Relays   int  // at most so many relays, 0 = DefaultRelays, DirectOnly = none
	Unknown  bool // use links that are unknown at the time
	Inferred bool // use links inferred from the opposite direction
	Confirm  bool // a reply of 2 frames returns over the reversed chain
	Both     bool // the backup pair is sent at once, not one after the other
	Blind    int  // sendings to a destination that isn't heard, 0 = off
	Depart   Depart
}

// filled is the request with its defaults in place.
func (r Request) filled() Request {
	if r.Deadline == 0 {
		r.Deadline = DefaultDeadline
	}
	if r.Chains == 0 {
		r.Chains = DefaultChains
	}
	switch {
	case r.Relays == 0:
		r.Relays = DefaultRelays
	case r.Relays < 0:
		r.Relays = 0
	}
	return r
}

// Errors that a Request can earn.
var (
	ErrStation  = errors.New("no such station")
	ErrSame     = errors.New("origin and destination are the same station")
	ErrFrames   = errors.New("a message has at least one frame")
	ErrDeadline = errors.New("the deadline must lie after the start")
	ErrCount    = errors.New("counts must not be negative")
	ErrRelays   = fmt.Errorf("at most %d relays", maxRelays)
)

// maxRelays bounds what a search may be asked for.
const maxRelays = 12

// check says what is wrong with a filled request on a net.
func (r Request) check(n *mesh.Net) error {
	for _, v := range []int{r.From, r.To} {
		if v < 0 || v >= len(n.Stations) {
			return fmt.Errorf("%w: %d of %d", ErrStation, v, len(n.Stations))
		}
	}
	switch {
	case r.From == r.To:
		return ErrSame
	case r.Frames < 1:
		return ErrFrames
	case r.Deadline <= 0:
		return ErrDeadline
	case r.Chains < 0 || r.Blind < 0:
		return ErrCount
	case r.Relays > maxRelays:
		return ErrRelays
	}
	return nil
}

// terms is what the request shares with others on the same scene.
func (r Request) terms() terms {
	return terms{r.Start, int64(r.Deadline / time.Second), r.Frames, r.Unknown, r.Inferred}
}

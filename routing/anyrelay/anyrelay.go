// Package anyrelay works out what becomes of a whole message when whoever hears
// it may take it on, in place of one chain fixed beforehand.
//
// What each station does. A plan gives every station that may have to send an
// order: the stations that may take the message on from it, the one nearest the
// destination first. With F frames, A acknowledgment frames, G turnaround slots and
// R rounds, and K = 2G + A + 1:
//
//   - A sending is the F frames of the message keyed once through, in usable slots:
//     those in which the sender and at least one station of its order listen to the
//     sender's channel, and which are not busy. The blocks of a hop don't apply: nobody
//     is asked for fills. The origin begins at once.
//   - The station at place j = 1 … k of the sender's order has its turn in the
//     (jK)-th usable slot after the last frame of a sending: the first where the next
//     station of a chain would begin, and K slots later for each place. The
//     sender's own turn comes at place k + 1.
//   - A station whose copy is whole at the end of the sending, and wasn't before,
//     sends the message on in its turn, unless it has heard a station nearer the
//     destination by then. It decides once.
//   - The destination acknowledges in its turn, with A frames, at least one.
//   - A station that had a whole copy before the sending began, and decoded a frame
//     of it, acknowledges likewise, if it isn't keying itself.
//   - The sender, in its own turn, is done if it has heard a station nearer the
//     destination; on silence it sends the whole message again, at most R times in all.
//
// To hear a station is to decode any frame it keys, while not keying. Only whole
// copies count: frames add up over the sendings of all in whose order a station
// stands; what it overhears of others counts for nothing but hearing them. How near
// a station is to the destination is the cost of the any-relay figure for a single
// frame. Signals side by side don't disturb each other: they are on other offsets.
//
// Duplicates. A station that sends on although one nearer already sent on or
// acknowledged is a duplicate: it could not hear it. Sendings begun in that state,
// first or again, are needless.
//
// Links. A frame decodes with the chance of the link at the first slot of its
// sending, rounded down to a whole quarter of an hour after the start (that of an estimated
// link as much later as mesh.Slots.Midway says), under one
// standard normal deviate for both directions of a pair on a channel, kept for the whole
// message, and one for the whole net. Receptions are independent otherwise.
//
// Results are exact, up to a stated share of histories left out, where all links are
// stated by the plan as sure, one channel is used, all stations share its open
// slots and few enough histories matter; else the plan is played with dice and
// intervals are stated.
package anyrelay

import (
	"context"
	"errors"
	"time"

	"farhop/mesh"
)

// Source is what the plan asks of links; *mesh.Links is one. It is asked by
// several goroutines at once.
type Source interface {
	Edge(from, to, channel int, unix int64) (mesh.Edge, bool)
}

// Order is who may take the message on from a station.
type Order struct {
	Station int
	Channel int     // the channel it sends on
	By      []int   // the nearest to the destination first
	Cost    float64 // how far it is from the destination; greater than that of any of By
}

// Plan is one message. Stations and channels are indexes into the prepared net.
type Plan struct {
	Net      *mesh.Net
	Links    Source
	To       int
	Orders   []Order       // origin first; each of By but To has an order
	Frames   int           // F, as on a hop, ≥ 1
	Start    int64         // the moment asked for, Unix seconds
	Deadline time.Duration // after Start; a slot counts if it ends by then
	Unknown  bool          // use directions that are unknown at the time
	Inferred bool          // use directions inferred from the opposite one
}

// DefaultRuns makes a standard error of at most 0.35 points of a share.
const DefaultRuns = 20_000

// Options says how the plan is worked out.
type Options struct {
	Runs   int    // with dice, 0 = DefaultRuns
	Seed   uint64 // all randomness comes from it
	Played bool   // with dice even where the exact figures are to be had
}

// What a plan can be refused for.
var (
	ErrNet      = errors.New("a prepared net and its links are needed")
	ErrOrders   = errors.New("every station that may take the message on needs an order of stations nearer the destination")
	ErrFrames   = errors.New("a message has 1 to 100,000 frames")
	ErrDeadline = errors.New("the deadline must lie after the start and within 10,000,000 slots")
	ErrRuns     = errors.New("the number of runs must not be negative")
)

// Expect works the plan out: exactly where it can, else with dice. The error is
// that of a plan that makes no sense, or of the context. Played, it takes about
// runs × slots of a try × (1 + listeners) × 10 ns.
func Expect(ctx context.Context, p Plan, o Options) (*Result, error) {
	if o.Runs < 0 {
		return nil, ErrRuns
	}
	c, err := p.course()
	if err != nil {
		return nil, err
	}
	if o.Runs == 0 {
		o.Runs = DefaultRuns
	}
	if !o.Played {
		r, err := c.exact(ctx)
		if r != nil || err != nil {
			return r, err
		}
	}
	return c.played(ctx, o)
}

// Turn is when the station at a place of an order has its turn: so many usable
// slots after the last frame of a sending, places counted from 1.
func Turn(s mesh.Slots, place int) int { return place * (2*s.Turnaround + s.Ack + 1) }

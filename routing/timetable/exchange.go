package timetable

import (
	"math"
	"time"

	"farhop/mesh/link"
	"farhop/routing/delivery"
)

// state is what decides how an exchange goes: both directions of a hop. The
// deviation shared by the whole net counts as the hop's own here, which changes
// no figure of a single hop.
type state struct{ forward, reverse link.Direction }

// exchanges computes, for messages of one length, how many slots a hop takes.
type exchanges struct {
	frames int
	eval   *delivery.Evaluator
	known  map[state]*exchange
	hops   [][]*exchange // of known: [hop][quarter]
}

// exchange is a hop in one state.
type exchange struct {
	by     []float64 // [n]: chance that it is over after n+1 slots
	leg    delivery.LegID
	eval   *delivery.Evaluator
	frames []float64 // expected frames keyed by either end over the whole try; nil until asked for
}

// keyed is the expected frames keyed by the sender and by the receiver over the
// whole try.
func (e *exchange) keyed() (sent, answered float64) {
	if e.frames == nil {
		e.frames = e.eval.Chain(e.leg).Frames
	}
	return e.frames[0], e.frames[1]
}

// longest is the longest stretch of an exchange that is looked at.
const longest = 12 * time.Hour

func (g *ground) exchangesOf(frames int) (*exchanges, error) {
	if x, ok := g.lengths[frames]; ok {
		return x, nil
	}
	s := g.net.Slots
	eval, err := delivery.NewEvaluator(delivery.Plan{
		Protocol: delivery.Protocol{
			Frames: frames, Ack: s.Ack, Turnaround: s.Turnaround, Rounds: s.Rounds, Block: s.Block, Busy: s.Busy,
		},
		Slot: s.Length, Deadline: longest,
	})
	if err != nil {
		return nil, err
	}
	x := &exchanges{frames: frames, eval: eval, known: map[state]*exchange{}, hops: make([][]*exchange, len(g.cells))}
	g.lengths[frames] = x
	return x, nil
}

// exchange is a hop in a quarter.
func (g *ground) exchange(x *exchanges, h hop, quarter int) *exchange {
	row := &x.hops[g.number(h)]
	if *row == nil {
		*row = make([]*exchange, g.hours*hourQuarters)
	}
	e := &(*row)[quarter]
	if *e == nil {
		*e = x.of(g.state(h, quarter, x.frames))
	}
	return *e
}

// of computes a hop, or remembers it.
func (x *exchanges) of(s state) *exchange {
	if e, ok := x.known[s]; ok {
		return e
	}
	id := x.eval.NewLeg(delivery.Leg{
		Open:       func(int) bool { return true },
		Directions: func(int) (forward, reverse link.Direction) { return s.forward, s.reverse },
	})
	e := &exchange{leg: id, eval: x.eval}
	after := x.eval.Extend(x.eval.Start(), id).Row(0)
	e.by = make([]float64, len(after))
	sum := 0.0
	for i, v := range after {
		sum += v
		if i > 0 {
			e.by[i-1] = sum
		}
	}
	if n := len(after); n > 0 {
		e.by[n-1] = sum
	}
	x.known[s] = e
	return e
}

// slots is how many slots make the hop over with at least this chance, 0 when
// none do.
func (e *exchange) slots(level float64) int {
	return delivery.Quantile(e.by, level) + 1
}

// blind is the chance that every frame of a message decodes at least once when
// each is sent n + 1 times without acknowledgment, by n.
func blind(d link.Direction, frames int) (chances [mostSendings]float64) {
	add := func(p, weight float64) {
		lost := 1.0
		for n := range chances {
			lost *= 1 - p
			chances[n] += weight * math.Pow(1-lost, float64(frames))
		}
	}
	switch d.Kind {
	case link.Closed:
		return chances
	case link.Certain:
		add(d.Decode, 1)
		return chances
	}
	const points, reach = 65, 5.5
	sum := 0.0
	for i := range points {
		z := -reach + 2*reach*float64(i)/(points-1)
		weight := math.Exp(-z * z / 2)
		add(d.Frame(z, 0), weight)
		sum += weight
	}
	for n := range chances {
		chances[n] /= sum
	}
	return chances
}

// waiting is how many slots hold so many free ones with at least this chance,
// when each is taken by others with chance busy; and that chance.
func waiting(frames int, busy, level float64) (slots int, chance float64) {
	if busy <= 0 {
		return frames, 1
	}
	// The chance that the last free slot needed is the n-th: negative binomial.
	term := math.Pow(1-busy, float64(frames))
	sum := term
	n := frames
	for sum < level && n < frames*50+1000 {
		term *= busy * float64(n) / float64(n-frames+1)
		n++
		sum += term
	}
	return n, min(sum, 1)
}

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
	eval  *delivery.Evaluator
	known map[state]*exchange
	hops  [][]*exchange // of known: [hop][quarter]
}

// exchange is a hop in one state.
type exchange struct {
	by             []float64 // [n]: chance that it is over after n+1 slots
	sent, answered float64   // expected frames keyed over the whole try
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
	x := &exchanges{eval: eval, known: map[state]*exchange{}, hops: make([][]*exchange, len(g.cells))}
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
		*e = x.of(g.state(h, quarter))
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
	e := &exchange{}
	r := x.eval.Chain(id)
	e.sent, e.answered = r.Frames[0], r.Frames[1]
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
// each is sent so many times without acknowledgment.
func blind(d link.Direction, frames, sendings int) float64 {
	chance := func(p float64) float64 {
		if p >= 1 {
			return 1
		}
		return math.Pow(1-math.Pow(1-p, float64(sendings)), float64(frames))
	}
	if d.Kind == link.Certain {
		return chance(d.Decode)
	}
	if d.Kind == link.Closed {
		return 0
	}
	const points, reach = 65, 5.5
	sum, weight := 0.0, 0.0
	for i := range points {
		z := -reach + 2*reach*float64(i)/(points-1)
		w := math.Exp(-z * z / 2)
		sum += w * chance(d.Frame(z, 0))
		weight += w
	}
	return sum / weight
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

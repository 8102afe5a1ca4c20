package routing

import (
	"cmp"
	"errors"
	"slices"

	"farhop/routing/delivery"
)

// ErrChain is a chain that the request can't be carried over.
var ErrChain = errors.New("no such chain")

// Act is what a station keys in a slot.
type Act uint8

const (
	Sends        Act = iota // frames of the message, fills included
	Polls                   // a frame that asks for the acknowledgment again
	Acknowledges            // a frame of an acknowledgment
)

// Keying is one station keying in a slot.
type Keying struct {
	Station int // index into the chain's stations
	Act     Act
	Chance  float64
}

// State is why nobody may be expected to key in a slot.
type State uint8

const (
	Waiting  State = iota // a turnaround, a busy slot, or a message that isn't there yet
	Closed                // the hop whose turn it most likely is has no open slot
	Finished              // nobody is likely to have anything left to key
)

// Expected is what to expect of one slot of a chain.
type Expected struct {
	Unix  int64    // second in which the slot starts
	Keys  []Keying // the most likely first; chances under 1 in 1,000 left out
	Holds []float64
	Turn  int   // index into the chain's hops: whose turn it most likely is
	State State // while nobody keys
}

// Delivered is the chance that the last station holds the message.
func (e *Expected) Delivered() float64 { return e.Holds[len(e.Holds)-1] }

// leastKeying is the chance below which a keying is left out.
const leastKeying = 1e-3

// Expect tells slot by slot up to the deadline what a chain is expected to do:
// who keys what with what chance, and the chance that each station holds the
// message by the end of the slot. The reply of a Confirm is not in it. depart is
// the Unix second from which the origin may send, 0 for the start. Holds and
// delivery are those of Route, exactly; chances of keying are within half a per cent.
func (p *Planner) Expect(r Request, stations, channels []int, depart int64) ([]Expected, error) {
	q, err := p.question(r)
	if err != nil {
		return nil, err
	}
	hops, err := q.scene.chain(stations, channels)
	if err != nil {
		return nil, err
	}
	q.leave(depart)
	return q.expect(hops), nil
}

// leave has the message leave at a Unix second, or at the start.
func (q *question) leave(depart int64) {
	if c := q.scene.clock; depart > c.first {
		q.depart = int((depart - c.first) / c.seconds)
	}
}

// chain finds the hops of a chain.
func (s *scene) chain(stations, channels []int) ([]int, error) {
	if len(stations) < 2 || len(channels) != len(stations)-1 {
		return nil, ErrChain
	}
	var hops []int
	for i, c := range channels {
		if stations[i] < 0 || stations[i] >= len(s.out) {
			return nil, ErrChain
		}
		h := s.find(stations[i], stations[i+1], c)
		if h < 0 {
			return nil, ErrChain
		}
		hops = append(hops, h)
	}
	return hops, nil
}

// running is one hop of a chain being told of.
type running struct {
	begun, has []float64 // cumulative: the hop may begin, its receiver has the message
	course     *delivery.Course
	opens      func(slot int) bool
}

func (q *question) expect(hops []int) []Expected {
	s := q.scene
	list := make([]Expected, s.clock.slots)
	if len(list) == 0 {
		return nil
	}
	var run []running
	at := q.root()
	for i, h := range hops {
		last := i == len(hops)-1
		run = append(run, q.running(at.prefix, h, last))
		if !last {
			at = at.extend(s, h)
		}
	}
	for slot := range list {
		e := &list[slot]
		e.Unix = s.clock.unix(slot)
		e.Holds = append(e.Holds, 1)
		for i := range run {
			r := &run[i]
			e.Holds = append(e.Holds, r.has[slot])
			if r.begun[slot] >= 0.5 {
				e.Turn = i
			}
			e.key(i, Sends, r.course.Sends, slot)
			e.key(i, Polls, r.course.Polls, slot)
			e.key(i+1, Acknowledges, r.course.Answers, slot)
		}
		slices.SortStableFunc(e.Keys, func(a, b Keying) int { return cmp.Compare(b.Chance, a.Chance) })
		switch {
		case !run[e.Turn].opens(slot):
			e.State = Closed
		case e.Delivered() >= 0.5 && e.Turn == len(run)-1:
			e.State = Finished
		}
	}
	return list
}

func (e *Expected) key(station int, act Act, by []float64, slot int) {
	if slot < len(by) && by[slot] >= leastKeying {
		e.Keys = append(e.Keys, Keying{station, act, min(by[slot], 1)})
	}
}

// running works out one hop of the chain.
func (q *question) running(p *delivery.Prefix, hop int, last bool) running {
	s := q.scene
	h := &s.hops[hop]
	r := running{begun: make([]float64, s.clock.slots), opens: s.legOf(hop).Open}
	for n, w := range s.eval.Weights() {
		for slot, x := range p.Row(n) {
			if slot < len(r.begun) {
				r.begun[slot] += w * x
			}
		}
	}
	for i := 1; i < len(r.begun); i++ {
		r.begun[i] += r.begun[i-1]
	}
	if last && q.Blind > 0 && h.unheard() {
		r.has = s.eval.Blind(p, h.leg, q.Blind).Delivered
		r.course = s.eval.BlindCourse(p, h.leg, q.Blind)
		return r
	}
	r.has = s.eval.Finish(p, h.leg).Delivered
	r.course = s.eval.Course(p, h.leg, last)
	return r
}

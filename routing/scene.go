package routing

import (
	"math"
	"sync"
	"sync/atomic"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
	"farhop/routing/delivery"
)

// Source is what the planner asks of a net's links; *mesh.Links is one. It must
// be safe for concurrent use. False means that there is no such link.
type Source interface {
	Edge(from, to, channel int, unix int64) (mesh.Edge, bool)
}

// terms are what two questions must share to share results.
type terms struct {
	start             int64
	deadline          int64 // seconds
	frames            int
	unknown, inferred bool
}

// scene is one message size under one clock: every hop that could carry it and
// what is known of them. Many questions are asked of one scene.
type scene struct {
	terms
	net   *mesh.Net
	links Source
	clock clock
	eval  *delivery.Evaluator
	share float64 // the largest net-wide share of a deviation
	hops  []hop
	out   [][]int // hops that leave a station, by receiving station and channel
	in    [][]int // hops that reach a station

	settled    bool   // a later deadline adds no hop and no state
	elder      *scene // one that differs in the deadline alone, nil if there is none
	ceiling    *ceiling
	spells     [grades]*spells
	whole      [grades]sync.Once // see reachAll
	longest    int               // see mostSlots
	steadyHops int
	replying   sync.Mutex
	replies    *replies     // nil until asked for
	kept       atomic.Int64 // figures kept in stems
	tables     atomic.Int64 // made so far
}

// hop is a link used on a channel that is open in some slot by the deadline and
// passes frames in some quarter.
type hop struct {
	from, to, channel int
	leg               delivery.LegID
	open              *opening
	tally             *tally
	states            []link.Direction // by quarter, or one for all
	slow              float64          // rough slots it takes
	still             bool             // both directions are stated by the plan, or absent
	back              int              // the hop of the answers, −1 = its receiver cannot answer
	alone             sync.Once        // for reach, if still
	once              [grades]sync.Once
	reach             []float64         // see scene.reach
	in                [grades][]float64 // the same by spell
}

// quarters is how many quarters begin by the deadline.
func (s *scene) quarters() int { return int(s.deadline/quarterSeconds) + 1 }

// at is the Unix second that stands for a quarter.
func (s *scene) at(quarter int) int64 { return s.start + int64(quarter)*quarterSeconds }

// allowed reports whether the question may use the edge.
func (t terms) allowed(e mesh.Edge) bool {
	switch {
	case e.Fixed:
		return true
	case e.Inferred:
		return t.inferred
	default:
		return e.Known || t.unknown
	}
}

// edge is one direction of a link at a quarter, as it is shown.
func (s *scene) edge(from, to, channel, quarter int) (mesh.Edge, bool) {
	return s.links.Edge(from, to, channel, s.at(quarter))
}

// direction is one direction of a link for a hop that starts in a quarter, closed when
// it is absent or not to be used.
func (s *scene) direction(from, to, channel, quarter int) link.Direction {
	e, ok := mesh.Underway(s.links, s.net.Slots, s.frames, from, to, channel, s.at(quarter))
	if !ok || !s.allowed(e) {
		return link.Direction{}
	}
	return e.Through(s.net.Slots, s.frames)
}

// states lists the direction at every quarter that begins by the deadline, or
// once for all where the plan states it. It is nil when nothing ever passes.
func (s *scene) states(from, to, channel int) []link.Direction {
	e, ok := s.edge(from, to, channel, 0)
	switch {
	case !ok || e.Fixed && closed(e.Direction):
		return nil
	case e.Fixed:
		return []link.Direction{e.Direction}
	}
	list := make([]link.Direction, s.quarters())
	passes := false
	for q := range list {
		list[q] = s.direction(from, to, channel, q)
		passes = passes || !closed(list[q])
	}
	if !passes {
		return nil
	}
	return list
}

// absent reports whether a direction is stated by the plan, or not there at all: no later
// quarter knows better.
func (s *scene) absent(from, to, channel int) bool {
	e, ok := s.edge(from, to, channel, 0)
	return !ok || e.Fixed
}

// forward is the direction of a hop at a quarter.
func (s *scene) forward(hop, quarter int) link.Direction {
	h := &s.hops[hop]
	switch {
	case len(h.states) == 1:
		return h.states[0]
	case quarter < len(h.states):
		return h.states[quarter]
	}
	return s.direction(h.from, h.to, h.channel, quarter)
}

// backward is the answering direction of a hop at a quarter.
func (s *scene) backward(hop, quarter int) link.Direction {
	h := &s.hops[hop]
	if h.back >= 0 {
		return s.forward(h.back, quarter)
	}
	if quarter < s.quarters() {
		return link.Direction{}
	}
	return s.direction(h.to, h.from, h.channel, quarter)
}

// rough guesses how many slots a hop takes: every frame until it decodes, and
// turnarounds until all have.
func (s *scene) rough(hop int) float64 {
	frames, p := float64(s.frames), 0.0
	for q := range s.hops[hop].states {
		if p = s.forward(hop, q).Mean(); p > 0.01 {
			break
		}
	}
	p = min(max(p, 0.01), 0.99)
	rounds := 1 + math.Log(frames+1)/-math.Log(1-p)
	return frames/p + rounds*float64(2*s.net.Slots.Turnaround+s.net.Slots.Ack)
}

// find returns the index of a hop, −1 when it isn't one.
func (s *scene) find(from, to, channel int) int {
	for _, i := range s.out[from] {
		if s.hops[i].to == to && s.hops[i].channel == channel {
			return i
		}
	}
	return -1
}

// scene returns the scene of a question, kept from an earlier one where it can
// be.
func (p *Planner) scene(t terms) (*scene, error) {
	if s, ok := p.scenes[t]; ok {
		return s, nil
	}
	n := p.net
	s := &scene{terms: t, net: n, links: p.links, clock: newClock(t.start, time.Duration(t.deadline)*time.Second, n.Slots)}
	var hops []hop
	if s.elder = p.elder(t, func(o *scene) bool { return o.settled && o.deadline <= s.deadline }); s.elder != nil {
		hops, s.share, s.settled = s.inherited(), s.elder.share, true
	} else {
		hops, s.share = s.candidates(p.watches)
		s.elder = p.elder(t, func(o *scene) bool { return o.share == s.share })
	}
	eval, err := p.evaluator(s)
	if err != nil {
		return nil, err
	}
	s.eval = eval
	for grade := range s.spells {
		s.spells[grade] = s.newSpells(grade)
	}
	s.longest = s.mostSlots()
	if s.elder != nil {
		s.ceiling = s.elder.ceiling
	} else {
		s.ceiling = newCeiling(t.frames, n.Slots.Ack, n.Slots.Rounds, n.Slots.Block)
	}
	s.register(hops)
	p.scenes[t] = s
	return s, nil
}

// elder is the longest-lived scene that differs in the deadline alone, among those that
// will do, nil if there is none.
func (p *Planner) elder(t terms, will func(*scene) bool) (elder *scene) {
	for u, o := range p.scenes {
		u.deadline = t.deadline
		if u == t && will(o) && (elder == nil || o.deadline > elder.deadline) {
			elder = o
		}
	}
	return elder
}

// inherited are the hops of a settled elder scene with an earlier deadline.
func (s *scene) inherited() []hop {
	tallies := map[*opening]*tally{}
	hops := make([]hop, len(s.elder.hops))
	for i := range hops {
		e := &s.elder.hops[i]
		t := tallies[e.open]
		if t == nil {
			t = newTally(e.open, s.clock)
			tallies[e.open] = t
		}
		hops[i] = hop{from: e.from, to: e.to, channel: e.channel, tally: t, open: e.open, states: e.states}
	}
	return hops
}

// evaluator is the scene's, which shares what an elder one knows.
func (p *Planner) evaluator(s *scene) (*delivery.Evaluator, error) {
	if s.elder != nil {
		return s.elder.eval.Under(s.plan(s.frames))
	}
	return delivery.NewEvaluator(s.plan(s.frames))
}

// candidates lists every hop that has an open slot and passes frames by the
// deadline, by sender, receiver and channel, and the largest net-wide share.
func (s *scene) candidates(w *watches) (hops []hop, common float64) {
	s.settled = true
	tallies := map[*opening]*tally{}
	for from := range s.net.Stations {
		for to := range s.net.Stations {
			for c := range s.net.Channels {
				if from == to {
					continue
				}
				open := w.between(from, to, c)
				if !open.any {
					continue
				}
				t, ok := tallies[open]
				if !ok {
					t = newTally(open, s.clock)
					tallies[open] = t
				}
				if len(t.slots) == 0 {
					s.settled = false
					continue
				}
				states := s.states(from, to, c)
				s.settled = s.settled && s.absent(from, to, c)
				for _, d := range states {
					common = max(common, delivery.Share(d))
				}
				if len(states) > 0 {
					hops = append(hops, hop{from: from, to: to, channel: c, tally: t, open: open, states: states})
				}
			}
		}
	}
	return hops, common
}

// register makes the hops known to the evaluator and to each other.
func (s *scene) register(hops []hop) {
	s.hops = hops
	s.out, s.in = make([][]int, len(s.net.Stations)), make([][]int, len(s.net.Stations))
	for i := range hops {
		h := &hops[i]
		s.out[h.from] = append(s.out[h.from], i)
		s.in[h.to] = append(s.in[h.to], i)
	}
	first := s.eval.NewLegs(len(hops), s.legOf)
	for i := range hops {
		h := &hops[i]
		h.back = s.find(h.to, h.from, h.channel)
		h.still = len(h.states) == 1 && (h.back >= 0 && len(hops[h.back].states) == 1 || h.back < 0 && s.absent(h.to, h.from, h.channel))
		h.leg = first + delivery.LegID(i)
		h.slow = s.rough(i)
		if h.still {
			s.steadyHops++
		}
	}
}

// legOf is a hop as the evaluator asks about it.
func (s *scene) legOf(hop int) delivery.Leg {
	h := &s.hops[hop]
	day, midnight := int64(len(h.open.open)), s.clock.first/s.clock.seconds
	return delivery.Leg{
		Hours: h.open,
		Open: func(slot int) bool {
			at := (midnight + int64(slot)) % day
			if at < 0 {
				at += day
			}
			return h.open.open[at]
		},
		Directions: func(quarter int) (forward, reverse link.Direction) {
			return s.forward(hop, quarter), s.backward(hop, quarter)
		},
	}
}

// closed reports whether a direction passes nothing.
func closed(d link.Direction) bool {
	return d.Kind == link.Closed || d.Kind == link.Certain && d.Decode == 0
}

// unheard reports whether the hop's receiver cannot answer by the deadline.
func (h *hop) unheard() bool { return h.back < 0 }

// steady reports whether the hop is in the same state at all times.
func (h *hop) steady() bool { return h.still }

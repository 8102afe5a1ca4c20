package anyrelay

import (
	"maps"
	"math"
	"math/rand/v2"
	"slices"

	"farhop/mesh/link"
)

// stage plays the rules a second time, written from the package's words alone:
// stations are those of the net, copies are sets of frames, and what a station
// has heard is a set of stations. All luck comes from a coin.
type stage struct {
	plan   Plan
	coin   func(chance float64) bool
	normal func() float64

	slot    int
	busy    map[int]bool // channel → taken in this slot
	actors  map[int]*actor
	acts    []*act // being keyed
	silent  []*act // sendings over, whose turns are waited for
	weather float64
	zeta    map[[3]int]float64

	arrived                      int
	frames, duplicates, needless int
}

type actor struct {
	frames map[int]bool
	full   bool
	fullAt int
	heard  map[int]bool
	sent   int
	onAir  int // first slot it keyed in, −1
	owed   []func()
}

// act is a sending or an acknowledgment.
type act struct {
	by, channel int
	order       []int
	since       int
	length      int
	next        int
	ack         bool
	passed      int
	chance      map[int]float64
	turns       map[int]func() // by usable slots passed
	audience    map[int]bool   // who heard a frame of it
}

func newStage(p Plan, coin func(float64) bool, normal func() float64) *stage {
	s := &stage{plan: p, coin: coin, normal: normal, actors: map[int]*actor{}, zeta: map[[3]int]float64{}, arrived: -1}
	for _, o := range p.Orders {
		s.actors[o.Station] = &actor{frames: map[int]bool{}, heard: map[int]bool{}, onAir: -1}
	}
	s.actors[p.To] = &actor{frames: map[int]bool{}, heard: map[int]bool{}, onAir: -1}
	s.weather = normal()
	return s
}

// stations are those of the plan in the net's order, so that a seed decides all.
func (s *stage) stations() []int { return slices.Sorted(maps.Keys(s.actors)) }

func (s *stage) cost(v int) float64 {
	for _, o := range s.plan.Orders {
		if o.Station == v {
			return o.Cost
		}
	}
	return 0
}

func (s *stage) order(v int) Order {
	return s.plan.Orders[slices.IndexFunc(s.plan.Orders, func(o Order) bool { return o.Station == v })]
}

func (s *stage) unix(slot int) int64 {
	n := s.plan.Net.Slots
	return n.Start(s.plan.Start) + int64(slot)*n.Seconds()
}

// open: the sender and someone of its order listen.
func (s *stage) open(a *act, slot int) bool {
	return slices.ContainsFunc(a.order, func(w int) bool {
		return s.plan.Net.OpenSlot(s.sender(a), w, a.channel, s.unix(slot))
	})
}

// sender of the sending that an act is or answers.
func (s *stage) sender(a *act) int {
	for _, o := range s.plan.Orders {
		if slices.Equal(o.By, a.order) && o.Channel == a.channel && (a.by == o.Station || a.ack && slices.Contains(o.By, a.by)) {
			return o.Station
		}
	}
	return a.by
}

func (s *stage) usable(a *act) bool {
	if !s.open(a, s.slot) {
		return false
	}
	if _, drawn := s.busy[a.channel]; !drawn {
		s.busy[a.channel] = s.plan.Net.Slots.Busy > 0 && s.coin(s.plan.Net.Slots.Busy)
	}
	return !s.busy[a.channel]
}

func (s *stage) keys(v int) bool {
	return slices.ContainsFunc(s.acts, func(a *act) bool { return a.by == v })
}

// run plays from the origin's first sending until nothing is to come, for at
// most so many slots.
func (s *stage) run(most int) {
	origin := s.actors[s.plan.Orders[0].Station]
	origin.full = true
	s.busy = map[int]bool{}
	s.send(s.plan.Orders[0].Station)
	for ; s.slot < most && len(s.acts)+len(s.silent) > 0; s.slot++ {
		if s.slot > 0 {
			s.busy = map[int]bool{}
		}
		for _, o := range append([]Order{{Station: s.plan.To}}, s.plan.Orders...) {
			if a := s.actors[o.Station]; len(a.owed) > 0 && !s.keys(o.Station) {
				owed := a.owed
				a.owed = nil
				for _, f := range owed {
					f()
				}
			}
		}
		for _, a := range slices.Clone(s.silent) {
			if !s.usable(a) {
				continue
			}
			a.passed++
			if f := a.turns[a.passed]; f != nil {
				f()
			}
			if a.passed == (len(a.order)+1)*s.k() {
				s.silent = slices.DeleteFunc(s.silent, func(b *act) bool { return b == a })
			}
		}
		s.transmit()
	}
}

func (s *stage) k() int { n := s.plan.Net.Slots; return 2*n.Turnaround + n.Ack + 1 }

func (s *stage) nearerOnAir(v int) bool {
	for w, a := range s.actors {
		if s.cost(w) < s.cost(v) && a.onAir >= 0 && a.onAir < s.slot {
			return true
		}
	}
	return false
}

func (s *stage) send(v int) {
	a, o := s.actors[v], s.order(v)
	if s.nearerOnAir(v) {
		s.needless++
		if a.sent == 0 && v != s.plan.Orders[0].Station {
			s.duplicates++
		}
	}
	a.sent++
	s.begin(&act{by: v, channel: o.Channel, order: o.By, length: s.plan.Frames})
}

func (s *stage) begin(x *act) {
	x.since, x.chance, x.audience, x.turns = s.slot, map[int]float64{}, map[int]bool{}, map[int]func(){}
	first := s.slot
	for i := 0; i < 86400 && !s.open(x, first); i++ {
		first++
	}
	quarter := (s.unix(first) - s.plan.Start) / 900 * 900
	for _, w := range s.stations() {
		if w == x.by {
			continue
		}
		e, ok := s.plan.Links.Edge(x.by, w, x.channel, s.plan.Start+quarter)
		if !ok || !e.Known {
			continue
		}
		if e.Direction.Kind == link.Certain {
			x.chance[w] = e.Direction.Decode
			continue
		}
		pair := [3]int{min(x.by, w), max(x.by, w), x.channel}
		if _, ok := s.zeta[pair]; !ok {
			s.zeta[pair] = s.normal()
		}
		d := e.Direction
		snr := d.Margin + d.Common*s.weather + math.Sqrt(d.SD*d.SD-d.Common*d.Common)*s.zeta[pair]
		x.chance[w] = 0.5 * math.Erfc(-snr/d.Noise/math.Sqrt2)
	}
	s.acts = append(s.acts, x)
}

// transmit keys a frame of every act that can.
func (s *stage) transmit() {
	var now []*act
	for _, a := range s.acts {
		if s.usable(a) {
			now = append(now, a)
		}
	}
	var over []*act
	for _, a := range now {
		s.frames++
		if me := s.actors[a.by]; me.onAir < 0 {
			me.onAir = s.slot
		}
		for _, w := range s.stations() {
			s.hear(a, w, now)
		}
		if a.next++; a.next == a.length {
			s.acts = slices.DeleteFunc(s.acts, func(b *act) bool { return b == a })
			if !a.ack {
				over = append(over, a)
			}
		}
	}
	for _, a := range over {
		s.settle(a)
	}
}

func (s *stage) hear(a *act, w int, now []*act) {
	if w == a.by || !s.plan.Net.Listens(w, a.channel, s.unix(s.slot)) || slices.ContainsFunc(now, func(b *act) bool { return b.by == w }) {
		return
	}
	farther := s.cost(w) > s.cost(a.by)
	if !farther && (a.ack || !slices.Contains(a.order, w)) {
		return
	}
	if a.chance[w] == 0 || !s.coin(a.chance[w]) {
		return
	}
	if farther {
		s.actors[w].heard[a.by] = true
		return
	}
	a.audience[w] = true
	r := s.actors[w]
	if r.full {
		return
	}
	r.frames[a.next] = true
	if w == s.plan.To && s.arrived < 0 && len(r.frames) == s.plan.Frames {
		s.arrived = s.slot
	}
}

// settle gives turns to those who have something to do after a sending.
func (s *stage) settle(a *act) {
	s.silent = append(s.silent, a)
	for place, w := range a.order {
		r, turn := s.actors[w], (place+1)*s.k()
		ack := func() {
			if !s.keys(w) && s.plan.Net.Listens(w, a.channel, s.unix(s.slot)) {
				s.begin(&act{by: w, channel: a.channel, order: a.order, length: max(1, s.plan.Net.Slots.Ack), ack: true})
			}
		}
		switch {
		case !r.full && len(r.frames) == s.plan.Frames:
			r.full, r.fullAt = true, s.slot+1
			a.turns[turn] = ack
			if w != s.plan.To {
				a.turns[turn] = func() { s.consider(w, false) }
			}
		case r.full && r.fullAt <= a.since && a.audience[w]:
			a.turns[turn] = ack
		}
	}
	a.turns[(len(a.order)+1)*s.k()] = func() { s.consider(a.by, true) }
}

func (s *stage) consider(v int, again bool) {
	a := s.actors[v]
	switch {
	case len(a.heard) > 0:
	case again && a.sent >= s.plan.Net.Slots.Rounds:
	case s.keys(v):
		a.owed = append(a.owed, func() { s.consider(v, again) })
	default:
		s.send(v)
	}
}

// sums are those of weighted runs.
type sums struct {
	weight, delivered            float64
	frames, duplicates, needless float64
	arrivals                     map[int]float64
}

func (t *sums) add(s *stage, weight float64, inTime int) {
	t.weight += weight
	if s.arrived >= 0 && s.arrived < inTime {
		t.delivered += weight
		t.arrivals[s.arrived] += weight
	}
	t.frames += weight * float64(s.frames)
	t.duplicates += weight * float64(s.duplicates)
	t.needless += weight * float64(s.needless)
}

// everyWay plays every way the coins can fall, with its chance.
func everyWay(p Plan, inTime int) *sums {
	t := &sums{arrivals: map[int]float64{}}
	var falls []bool // of the coins so far
	for {
		at, weight := 0, 1.0
		coin := func(chance float64) bool {
			if chance <= 0 || chance >= 1 {
				return chance >= 1
			}
			if at == len(falls) {
				falls = append(falls, true)
			}
			f := falls[at]
			at++
			if f {
				weight *= chance
			} else {
				weight *= 1 - chance
			}
			return f
		}
		s := newStage(p, coin, func() float64 { return 0 })
		s.run(100_000)
		t.add(s, weight, inTime)
		for len(falls) > 0 && !falls[len(falls)-1] {
			falls = falls[:len(falls)-1]
		}
		if len(falls) == 0 {
			return t
		}
		falls[len(falls)-1] = false
	}
}

// manyTimes plays with luck.
func manyTimes(p Plan, inTime, runs int, seed uint64) *sums {
	r := rand.New(rand.NewPCG(seed, 77))
	t := &sums{arrivals: map[int]float64{}}
	for range runs {
		s := newStage(p, func(c float64) bool { return r.Float64() < c }, r.NormFloat64)
		s.run(1_000_000)
		t.add(s, 1/float64(runs), inTime)
	}
	return t
}

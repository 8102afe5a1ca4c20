package anyrelay

import "context"

// explorer follows histories. Time counts usable slots.
type explorer struct {
	*course
	ctx       context.Context
	sure      [][]float64
	err       error
	histories int
	work      int
	lost      float64

	arrivals                     []float64 // chance by slot
	frames, duplicates, needless float64
}

// keyed is frames that a station has keyed or is keying, in a row.
type keyed struct {
	station, begin, frames int
	sending                bool
}

// turn is something to come.
type turn struct {
	at      int
	kind    turnKind
	station int
	keyed   int // index of the sending it belongs to
}

type turnKind uint8

const (
	ends       turnKind = iota // of a sending, before the turns of the same slot
	first                      // of a station with a new copy
	answering                  // of one that had it already
	repetition                 // of the sender
)

// knows is what is settled about a station.
type knows struct {
	whole  bool
	since  int // slot from which it is
	judged int // its copy is not whole in slots before
	heard  bool
	tested int // it has heard nobody nearer in slots before
	sent   int
	free   int // it keys in no slot from here on
}

// state is a history so far.
type state struct {
	keyed   []keyed
	turns   []turn
	members []knows
}

func (s *state) clone() *state {
	return &state{append([]keyed(nil), s.keyed...), append([]turn(nil), s.turns...), append([]knows(nil), s.members...)}
}

func (x *explorer) begin() *state {
	s := &state{members: make([]knows, len(x.stations))}
	s.members[x.from].whole = true
	x.send(s, x.from, 0, 1)
	return s
}

// follow goes on with a history of the given chance until nothing is to come.
func (x *explorer) follow(s *state, chance float64) {
	if x.histories++; x.spent() || x.err != nil {
		return
	}
	if x.histories%1024 == 0 {
		x.err = x.ctx.Err()
	}
	for len(s.turns) > 0 {
		if chance < leastHistory {
			x.lost += chance
			return
		}
		t := s.pop()
		switch t.kind {
		case ends:
			// What each station of the order has is settled one after the other.
			x.judge(s, t, 0, &chance)
		case answering:
			if s.members[t.station].free <= t.at {
				x.answer(s, t.station, t.at, chance)
			}
		default:
			x.decide(s, t, &chance)
		}
	}
}

// spent reports whether there is too much to follow.
func (x *explorer) spent() bool { return x.histories > mostHistories || x.work > mostWork }

// pop takes the next turn; of those in one slot ends come first, then the order
// in which they were planned.
func (s *state) pop() turn {
	best := 0
	for i, t := range s.turns {
		b := s.turns[best]
		if t.at < b.at || t.at == b.at && t.kind == ends && b.kind != ends {
			best = i
		}
	}
	t := s.turns[best]
	s.turns = append(s.turns[:best], s.turns[best+1:]...)
	return t
}

// split goes on with the history in which something of chance q is false in another
// follow, and leaves that in which it is true to the caller. It returns false when
// only the former is possible.
func (x *explorer) split(s *state, chance *float64, q float64, otherwise func(*state, *float64)) bool {
	if q <= 0 {
		otherwise(s, chance)
		return false
	}
	if q < 1 {
		o, p := s.clone(), *chance*(1-q)
		otherwise(o, &p)
		x.follow(o, p)
		*chance *= q
	}
	return true
}

// judge settles, from the k-th station of the order on, who has a whole copy at
// the end of a sending or heard a frame of it.
func (x *explorer) judge(s *state, t turn, k int, chance *float64) {
	o := &x.orders[t.station]
	if k == len(o.by) {
		s.turns = append(s.turns, turn{t.at + x.gap()*o.turn() - 1, repetition, t.station, t.keyed})
		return
	}
	w, sending := o.by[k], s.keyed[t.keyed]
	m := &s.members[w]
	rest := func(o *state, p *float64) { x.judge(o, t, k+1, p) }
	due := turn{t.at + x.gap()*(k+1) - 1, first, w, t.keyed}
	switch {
	case !m.whole:
		before := x.complete(s, w, m.judged)
		q := (x.complete(s, w, t.at) - before) / (1 - before)
		if w == 0 {
			x.arrive(s, m.judged, t.at, *chance/(1-before))
		}
		judged := func(o *state, p *float64) {
			o.members[w].judged = t.at
			rest(o, p)
		}
		if !x.split(s, chance, q, judged) {
			return
		}
		m.whole, m.since = true, t.at
	case m.since <= sending.begin:
		listened := sending.frames - s.keyedIn(w, sending.begin, t.at)
		if !x.split(s, chance, 1-miss(x.sure[t.station][w], listened), rest) {
			return
		}
		due.kind = answering
	default:
		rest(s, chance)
		return
	}
	s.turns = append(s.turns, due)
	rest(s, chance)
}

// complete is the chance that all frames keyed for w before a slot make a whole
// copy.
func (x *explorer) complete(s *state, w, before int) float64 {
	all := 1.0
	x.work += x.Frames * len(s.keyed)
	for f := range x.Frames {
		lacks := 1.0
		for i := range s.keyed {
			k := &s.keyed[i]
			if k.sending && k.begin+f < before && x.orders[k.station].stands[w] {
				lacks *= 1 - x.sure[k.station][w]
			}
		}
		if all *= 1 - lacks; all == 0 {
			break
		}
	}
	return all
}

// arrive adds the chances that the destination's copy becomes whole in the slots
// from one on and before another.
func (x *explorer) arrive(s *state, from, before int, chance float64) {
	for len(x.arrivals) < before {
		x.arrivals = append(x.arrivals, 0)
	}
	last := x.complete(s, 0, from)
	for slot := from; slot < before; slot++ {
		next := x.complete(s, 0, slot+1)
		x.arrivals[slot] += chance * (next - last)
		last = next
	}
}

// keyedIn is in how many slots of a stretch a station keys.
func (s *state) keyedIn(w, from, before int) (n int) {
	for _, k := range s.keyed {
		if k.station == w {
			n += max(0, min(k.begin+k.frames, before)-max(k.begin, from))
		}
	}
	return n
}

// unheard is the chance that w, who has heard nobody nearer before, hasn't by a
// slot.
func (x *explorer) unheard(s *state, w, by int) float64 {
	q, from := 1.0, s.members[w].tested
	for _, k := range s.keyed {
		if k.station >= w || x.sure[k.station][w] == 0 {
			continue
		}
		n := 0
		for slot := max(k.begin, from); slot < min(k.begin+k.frames, by); slot++ {
			if s.keyedIn(w, slot, slot+1) == 0 {
				n++
			}
		}
		q *= miss(x.sure[k.station][w], n)
	}
	return q
}

// decide lets a station with the message send it on or again, if it has heard
// nobody nearer.
func (x *explorer) decide(s *state, t turn, chance *float64) {
	m := &s.members[t.station]
	switch {
	case t.station == 0:
		if m.free <= t.at {
			x.answer(s, 0, t.at, *chance)
		}
		return
	case m.heard || t.kind == repetition && m.sent >= x.slots.Rounds:
		return
	}
	silent := func(o *state, _ *float64) { o.members[t.station].heard = true }
	if !x.split(s, chance, x.unheard(s, t.station, t.at), silent) {
		return
	}
	m.tested = t.at
	if m.free > t.at {
		t.at = m.free
		s.turns = append(s.turns, t)
		return
	}
	x.send(s, t.station, t.at, *chance)
}

// send begins a sending.
func (x *explorer) send(s *state, i, at int, chance float64) {
	for _, k := range s.keyed {
		if k.station < i && k.begin < at {
			x.needless += chance
			if i != x.from && s.members[i].sent == 0 {
				x.duplicates += chance
			}
			break
		}
	}
	x.frames += chance * float64(x.Frames)
	s.members[i].sent++
	s.members[i].free = at + x.Frames
	s.turns = append(s.turns, turn{at + x.Frames, ends, i, len(s.keyed)})
	s.keyed = append(s.keyed, keyed{i, at, x.Frames, true})
}

// answer keys an acknowledgment.
func (x *explorer) answer(s *state, i, at int, chance float64) {
	x.frames += chance * float64(x.course.answer())
	s.members[i].free = at + x.course.answer()
	s.keyed = append(s.keyed, keyed{i, at, x.course.answer(), false})
}

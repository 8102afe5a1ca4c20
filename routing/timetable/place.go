package timetable

import "math"

// trouble says why a message could not be placed.
type trouble struct {
	kind    troubleKind
	hop     hop     // where
	chance  float64 // best chance of that hop
	wanted  float64 // chance asked of it
	slots   int     // slots it needs at a stretch
	arrival int     // the slot by whose end it would be through, late
}

type troubleKind uint8

const (
	fine      troubleKind = iota
	noChain               // no way leads there
	unsure                // a hop never gets as sure as asked
	stretch               // a hop needs more slots at a stretch than are ever open
	full                  // no room before the end of what is looked at
	tooLate               // it would arrive after the deadline
	tooEarly              // its deadline is over at the start
	uncovered             // for every member: some members can't be reached
)

// place finds the earliest reservations for the hops of a chain, one after the
// other, from a slot on. What it finds is not booked. It gives up where a hop
// would end after the limit.
func (p *planner) place(m int, c chain, frames, slot, limit int, margin float64) ([]entry, trouble, error) {
	x, err := p.exchangesOf(frames)
	if err != nil {
		return nil, trouble{}, err
	}
	level := math.Pow(margin, 1/float64(len(c.hops)))
	var list []entry
	for i, h := range c.hops {
		e := entry{message: m, hop: i + 1, from: h.from, to: []int{h.to}, channel: h.channel, frames: frames}
		if t := p.earliest(&e, x, h, level, slot, limit); t.kind != fine {
			if t.kind == unsure {
				t = p.weakest(t, x, c.hops[i+1:], slot)
			}
			return nil, t, nil
		}
		slot = e.end()
		list = append(list, e)
	}
	return list, trouble{}, nil
}

// weakest names, instead of a hop that is not sure enough, one after it that is
// even less so.
func (p *planner) weakest(t trouble, x *exchanges, hops []hop, slot int) trouble {
	for _, h := range hops {
		if k := p.opens(h, slot); k >= 0 {
			if chance := last(x.of(p.state(h, p.quarter(k))).by); chance < t.chance {
				t.hop, t.chance = h, chance
			}
		}
	}
	return t
}

// earliest fills in the first stretch from a slot on in which a hop can be done.
func (p *planner) earliest(e *entry, x *exchanges, h hop, level float64, slot, limit int) trouble {
	t := trouble{kind: full, hop: h, wanted: level}
	able, first := false, slot
	for slot < limit {
		if !p.free(e, slot) { // the cheap question first
			slot++
			continue
		}
		ex := x.of(p.state(h, p.quarter(slot)))
		n := ex.slots(level)
		if n == 0 {
			if v := last(ex.by); v > t.chance {
				t.chance = v
			}
			slot = p.after(slot)
			continue
		}
		if !able || n < t.slots {
			able, t.slots = true, n
		}
		if slot+n > limit {
			break
		}
		e.start, e.n = slot, n
		if k, ok := p.blockedAt(e); !ok {
			slot = k + 1
			continue
		}
		offset, next, ok := p.offset(e)
		if ok && p.opt.Single {
			next, ok = p.quiet(e)
		}
		if !ok {
			slot = max(next, slot+1)
			continue
		}
		e.offset, e.chance, e.sent, e.answered = offset, ex.by[n-1], ex.sent, ex.answered
		return trouble{}
	}
	switch {
	case !able && t.chance > 0:
		t.kind = unsure
	case !able:
		t.kind = noChain
	case p.longestOpen(e, first, limit) < t.slots:
		t.kind = stretch
	}
	return t
}

func last(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	return v[len(v)-1]
}

// free reports whether a slot is open to a reservation's stations and none of
// them is taken.
func (p *planner) free(e *entry, slot int) bool {
	return p.open(e, slot) && !p.taken(e, slot)
}

// open reports whether a slot is open to a reservation, other traffic aside.
func (p *planner) open(e *entry, slot int) bool {
	return !p.catchUp[slot] && !e.any(func(v int) bool { return !p.listening(v, e.channel, slot) })
}

func (p *planner) taken(e *entry, slot int) bool {
	return e.any(func(v int) bool { return p.book.taken[v][slot] })
}

// longestOpen is the longest stretch of slots open to a reservation, other
// traffic aside.
func (p *planner) longestOpen(e *entry, from, to int) (most int) {
	run := 0
	for k := from; k < to; k++ {
		run++
		if !p.open(e, k) {
			run = 0
		}
		most = max(most, run)
	}
	return most
}

// blockedAt is the last slot of the stretch that is not free; ok when all are.
func (p *planner) blockedAt(e *entry) (slot int, ok bool) {
	for k := e.end() - 1; k >= e.start; k-- {
		if !p.free(e, k) {
			return k, false
		}
	}
	return 0, true
}

// quiet reports whether nothing at all is on the air in the stretch; else next
// is the slot after the last in which something is.
func (p *planner) quiet(e *entry) (next int, ok bool) {
	for k := e.end() - 1; k >= e.start; k-- {
		if p.book.air[k] > 0 {
			return k + 1, false
		}
	}
	return 0, true
}

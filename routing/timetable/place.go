package timetable

import (
	"math"
	"slices"
)

// trouble says why a message could not be placed.
type trouble struct {
	kind    troubleKind
	hop     hop     // where
	chance  float64 // best chance of that hop
	wanted  float64 // chance asked of it
	slots   int     // slots it needs at a stretch
	station int     // whose limit of duty stands in the way
	arrival int     // the slot by whose end it would be through, late
}

type troubleKind uint8

const (
	fine      troubleKind = iota
	noChain               // no way leads there
	unsure                // a hop never gets as sure as asked
	stretch               // a hop needs more slots at a stretch than are ever open
	hushed                // they would be open without the quiet hours
	noisy                 // no offset is clear of noise where it would be received
	full                  // no room before the end of what is looked at
	limited               // there is room, but for a limit of duty
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
	defer func() {
		for i := range list {
			p.book.key(&list[i], -1)
		}
	}()
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
		p.book.key(&e, 1) // a relay's next hop counts beside this one
	}
	return list, trouble{}, nil
}

// weakest names, instead of a hop that is not sure enough, one after it that is
// even less so.
func (p *planner) weakest(t trouble, x *exchanges, hops []hop, slot int) trouble {
	for _, h := range hops {
		if k := p.opens(h, slot); k >= 0 {
			if chance := last(p.exchange(x, h, p.midway(k, x.frames)).by); chance < t.chance {
				t.hop, t.chance = h, chance
			}
		}
	}
	return t
}

// earliest fills in the first stretch from a slot on in which a hop can be done.
func (p *planner) earliest(e *entry, x *exchanges, h hop, level float64, slot, limit int) trouble {
	t := trouble{kind: full, hop: h, wanted: level}
	able, first, room := false, slot, p.room(e)
	for slot = room.next(slot, limit); slot < limit; slot = room.next(slot, limit) {
		ex := p.exchange(x, h, p.midway(slot, x.frames))
		n := ex.slots(level)
		if n == 0 {
			t.chance = max(t.chance, last(ex.by))
			slot = p.after(slot)
			continue
		}
		if !able || n < t.slots {
			able, t.slots = true, n
		}
		if slot+n > limit {
			break
		}
		if gap := room.nextGap(slot, slot+n); gap < slot+n {
			slot = gap
			continue
		}
		e.start, e.n, e.chance = slot, n, ex.by[n-1]
		e.sent, e.answered = ex.keyed()
		if slot = p.fits(e, &t); slot == e.start {
			return trouble{}
		}
	}
	if !able && t.chance == 0 { // no slot was open: would the hop do where quiet hours are?
		if slot = p.open(e, true).next(first, limit); slot < limit {
			ex := p.exchange(x, h, p.midway(slot, x.frames))
			t.slots, t.chance = ex.slots(level), last(ex.by)
			able = t.slots > 0
		}
	}
	p.diagnose(e, &t, able, first, limit)
	return t
}

// fits looks for an offset for an entry that has its slots, and keeps it within
// the limits of duty. It returns the slot from which to look on, the entry's first
// one when all is well.
func (p *planner) fits(e *entry, t *trouble) int {
	if v := p.over(e); v >= 0 {
		t.kind, t.station = limited, v
		return e.start + 1
	}
	offset, next, ok := p.offset(e)
	if ok && p.opt.Single {
		next, ok = p.quiet(e)
	}
	if !ok {
		return max(next, e.start+1)
	}
	e.offset = offset
	return e.start
}

// diagnose tells the trouble of an entry for which no place was found: whether
// the hop is able at all, and else whether what it needs is ever open.
func (p *planner) diagnose(e *entry, t *trouble, able bool, first, limit int) {
	switch {
	case !p.hasOffset(hop{e.from, e.to[0], e.channel}):
		t.kind = noisy
	case !able && t.chance > 0:
		t.kind = unsure
	case !able:
		t.kind = noChain
	case p.open(e, p.opt.AnyHour).longest(first, limit) >= t.slots:
	case p.open(e, true).longest(first, limit) >= t.slots:
		t.kind = hushed
	default:
		t.kind = stretch
	}
}

// hasOffset reports whether some offset is clear of noise at both ends of a hop.
func (g *ground) hasOffset(h hop) bool {
	there := g.offsets[g.at(h.to, h.channel)]
	return slices.ContainsFunc(g.offsets[g.at(h.from, h.channel)], func(i int) bool { return slices.Contains(there, i) })
}

func last(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	return v[len(v)-1]
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

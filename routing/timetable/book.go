package timetable

import "slices"

// entry is a reservation in slots.
type entry struct {
	message, hop   int
	from           int
	to             []int
	channel        int
	offset         int // index into the channel's offsets, 0 where it has none
	start, n       int // slots
	frames         int
	sendings       int
	chance         float64
	sent, answered float64
}

func (e *entry) end() int { return e.start + e.n }

// stations calls f for each station of the reservation until it returns true,
// and reports whether it did.
func (e *entry) any(f func(station int) bool) bool {
	return f(e.from) || slices.ContainsFunc(e.to, f)
}

// book holds what is reserved. Entries are taken back in the reverse order.
type book struct {
	entries []entry
	channel [][]int  // by channel: entries, in the order of booking
	taken   [][]bool // [station][slot]
	air     []int    // [slot]: entries in it
}

func newBook(stations, channels, slots int) book {
	b := book{channel: make([][]int, channels), taken: make([][]bool, stations), air: make([]int, slots)}
	for i := range b.taken {
		b.taken[i] = make([]bool, slots)
	}
	return b
}

func (b *book) add(e entry) {
	b.channel[e.channel] = append(b.channel[e.channel], len(b.entries))
	b.entries = append(b.entries, e)
	b.mark(&e, true)
}

func (b *book) mark(e *entry, taken bool) {
	count := 1
	if !taken {
		count = -1
	}
	for k := e.start; k < e.end(); k++ {
		b.taken[e.from][k] = taken
		b.air[k] += count
		for _, to := range e.to {
			b.taken[to][k] = taken
		}
	}
}

// back takes back all entries from the given one on.
func (b *book) back(to int) {
	for i := len(b.entries) - 1; i >= to; i-- {
		e := &b.entries[i]
		b.mark(e, false)
		b.channel[e.channel] = b.channel[e.channel][:len(b.channel[e.channel])-1]
	}
	b.entries = b.entries[:to]
}

// offset finds the audio offset for an entry that begins in its start slot. It is
// that farthest from those in use beside it, the first of equals. When there is
// none, next is the first slot in which that may have changed.
func (p *planner) offset(e *entry) (offset, next int, ok bool) {
	offsets := p.net.Channels[e.channel].OffsetsHz
	count := max(1, len(offsets))
	blocked := make([]bool, count)
	var used []int
	next = p.total
	for _, i := range p.book.channel[e.channel] {
		o := &p.book.entries[i]
		if o.start >= e.end() || o.end() <= e.start {
			continue
		}
		same, beside := p.clash(e, o)
		if !same && !beside {
			continue
		}
		next = min(next, o.end())
		if beside {
			return 0, next, false
		}
		blocked[o.offset] = true
		if len(offsets) > 0 {
			used = append(used, offsets[o.offset])
		}
	}
	best, found := -1, -1
	for i := range count {
		if blocked[i] {
			continue
		}
		clear := 1 << 30
		for _, u := range used {
			clear = min(clear, abs(offsets[i]-u))
		}
		if clear > best {
			best, found = clear, i
		}
	}
	return max(found, 0), next, found >= 0
}

// clash reports, for two entries on a channel that overlap in time, whether any
// station of one can hear any of the other while they do, so that they need
// different offsets; and whether they are too unequal in level to go on side by
// side.
func (p *planner) clash(a, b *entry) (same, beside bool) {
	from, to := max(a.start, b.start), min(a.end(), b.end())
	for q := p.quarter(from); q <= p.quarter(to-1); q++ {
		a.any(func(x int) bool {
			return b.any(func(y int) bool {
				same = same || p.heeds(x, y, a.channel, q).audible || p.heeds(y, x, a.channel, q).audible
				return same
			})
		})
		if p.drowns(a, b, q) || p.drowns(b, a, q) {
			return same, true
		}
	}
	return same, false
}

// drowns reports whether a station of the one entry is received so much more
// strongly than what a station of the other wants that it covers it, offsets apart.
func (p *planner) drowns(loud, soft *entry, quarter int) bool {
	covers := func(wanted, at int) bool {
		w := p.heeds(wanted, at, soft.channel, quarter)
		return w.hasSNR && loud.any(func(x int) bool {
			l := p.heeds(x, at, loud.channel, quarter)
			return l.hasSNR && l.snr-w.snr > p.opt.SideBySideDB
		})
	}
	for _, to := range soft.to {
		if covers(soft.from, to) || soft.sendings == 0 && covers(to, soft.from) {
			return true
		}
	}
	return false
}

func abs(v int) int { return max(v, -v) }

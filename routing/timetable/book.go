package timetable

import (
	"math"
	"slices"
)

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

// sender calls f for each station that transmits until it returns true, and
// reports whether it did.
func (e *entry) sender(f func(station int) bool) bool {
	return f(e.from) || e.sendings == 0 && f(e.to[0])
}

// eachSlot spreads expected frames over the slots of the entry.
func (e *entry) eachSlot(frames float64) int64 { return int64(frames/float64(e.n)*part + 0.5) }

// book holds what is reserved. Entries are taken back in the reverse order.
type book struct {
	entries []entry
	channel [][]int   // by channel: entries, in the order of booking
	taken   []slotSet // [station]
	air     []int     // [slot]: entries in it
	hours   []int32   // [slot]: its clock hour
	keyed   [][]int64 // [station][clock hour]: expected slots keyed, in parts of one
}

func newBook(g *ground) book {
	b := book{channel: make([][]int, len(g.net.Channels)), air: make([]int, g.total), hours: g.clockHours}
	for v := range g.net.Stations {
		b.taken = append(b.taken, newSlotSet(g.total))
		b.keyed = append(b.keyed, slices.Clone(g.sounded[v]))
	}
	return b
}

func (b *book) add(e entry) {
	b.channel[e.channel] = append(b.channel[e.channel], len(b.entries))
	b.entries = append(b.entries, e)
	b.mark(&e, true)
}

func (b *book) mark(e *entry, taken bool) {
	count, put := int64(1), slotSet.add
	if !taken {
		count, put = -1, slotSet.remove
	}
	for k := e.start; k < e.end(); k++ {
		b.air[k] += int(count)
		put(b.taken[e.from], k)
		for _, to := range e.to {
			put(b.taken[to], k)
		}
	}
	b.key(e, count)
}

// key counts what an entry keys so many times, −1 to take it back.
func (b *book) key(e *entry, count int64) {
	sent, answered := count*e.eachSlot(e.sent), count*e.eachSlot(e.answered)
	for k := e.start; k < e.end(); k++ {
		b.keyed[e.from][b.hours[k]] += sent
		if e.sendings == 0 {
			b.keyed[e.to[0]][b.hours[k]] += answered
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

// beside is what goes on at the time of an entry on its channel where stations
// of both hear each other.
type beside struct {
	used []int // offsets in use
	next int   // the first slot in which that may have changed
	over bool  // something is too unequal in level to go on beside
}

func (p *planner) beside(e *entry) beside {
	b := beside{next: p.total}
	for _, i := range p.book.channel[e.channel] {
		o := &p.book.entries[i]
		if o.start >= e.end() || o.end() <= e.start {
			continue
		}
		same, over := p.clash(e, o)
		if !same && !over {
			continue
		}
		b.next = min(b.next, o.end())
		b.used, b.over = append(b.used, o.offset), b.over || over
	}
	return b
}

// offset finds the audio offset for an entry that begins in its start slot: clear
// of noise where it is received, clear of those in use beside it, and then the
// farthest from them, the first of equals. When there is none, next is the first
// slot in which that may have changed.
func (p *planner) offset(e *entry) (offset, next int, ok bool) {
	b := p.beside(e)
	if b.over {
		return 0, b.next, false
	}
	most := -1
	for _, i := range p.offsets[p.at(e.to[0], e.channel)] {
		quiet := e.sendings > 0 || slices.Contains(p.offsets[p.at(e.from, e.channel)], i)
		for _, v := range e.to[1:] {
			quiet = quiet && slices.Contains(p.offsets[p.at(v, e.channel)], i)
		}
		if clear := p.clearance(e.channel, i, b.used); quiet && clear > most {
			offset, most = i, clear
		}
	}
	return offset, b.next, most >= 0
}

// clearance is how far an offset is from those in use, −1 when it is too close
// to one.
func (p *planner) clearance(channel, offset int, used []int) int {
	list := p.net.Channels[channel].OffsetsHz
	clear := math.MaxInt
	for _, u := range used {
		if u == offset || abs(list[u]-list[offset]) < p.net.Limits.ClearHz {
			return -1
		}
		clear = min(clear, abs(list[u]-list[offset]))
	}
	return clear
}

// clash reports, for two entries on a channel that overlap in time, whether any
// station of one can hear any of the other while they do, so that they need
// different offsets; and whether they are too unequal in level to go on side by
// side, which takes hearing each other.
func (p *planner) clash(a, b *entry) (same, beside bool) {
	from, to := max(a.start, b.start), min(a.end(), b.end())
	for q := p.quarter(from); q <= p.quarter(to-1); q++ {
		a.any(func(x int) bool {
			return b.any(func(y int) bool {
				same = same || p.cell(hop{x, y, a.channel}, q).audible || p.cell(hop{y, x, a.channel}, q).audible
				return same
			})
		})
		if same && (p.drowns(a, b, q) || p.drowns(b, a, q)) {
			return true, true
		}
	}
	return same, false
}

// drowns reports whether a station of the one entry is received so much more
// strongly than what a station of the other wants that it covers it, offsets apart.
func (p *planner) drowns(loud, soft *entry, quarter int) bool {
	covers := func(wanted, at int) bool {
		w := p.cell(hop{wanted, at, soft.channel}, quarter)
		return w.hasSNR && loud.sender(func(x int) bool {
			l := p.cell(hop{x, at, loud.channel}, quarter)
			return l.hasSNR && l.snr-w.snr > p.net.Limits.SideBySideDB
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

package timetable

import (
	"farhop/mesh"
	"farhop/mesh/link"
)

// quarterSeconds is the step at which link states are taken, and hourQuarters
// how many of them are looked up together.
const (
	quarterSeconds = 15 * 60
	hourQuarters   = 4
	hourSeconds    = hourQuarters * quarterSeconds
)

// ground is a net and its links from a moment on: what timetables for any
// messages, margin and limits have in common, kept as it is found out. Slots count
// from the first slot boundary at or after the moment.
type ground struct {
	net               *mesh.Net
	links             Source
	unknown, inferred bool
	start             int64 // the moment planned from
	first             int64 // Unix second in which slot 0 starts
	seconds           int64 // length of a slot
	total             int   // slots looked at, a day more than asked for, to tell what would fit later

	listens, answers []slotSet // [station × channels + channel]
	offsets          [][]int   // [station × channels + channel]: indexes of the offsets clear of noise there
	clockHours       []int32   // [slot]: clock hour it begins in, counted from that of slot 0
	sounds           []slotSet // [station]: with a sounding of the plan
	sounded          [][]int64 // [station][clock hour]: soundings of the plan, in parts of a slot
	hours            int
	cells            [][]*[hourQuarters]cell // [hop][hour]
	lengths          map[int]*exchanges
	ratings          map[rating]*rated
	scores           map[score]float64
	blinds           map[blindKey]*[mostSendings]float64
	heards           map[int][][]*[mostSendings]float64 // by frames: [hop][quarter], see heard
	heardBy          map[span]*heardBy
	placed           int // messages placed so far, a measure of the work done
}

// cell is one direction of a hop in one quarter.
type cell struct {
	asked   bool
	audible bool // known and decoded at least Audible, or unknown
	hasSNR  bool
	snr     float64        // expected, dB
	carries link.Direction // closed when it is absent or not to be used
	fading  link.Fading
}

func newGround(n *mesh.Net, links Source, o Options) *ground {
	g := &ground{
		net: n, links: links, unknown: o.Unknown, inferred: o.Inferred, start: o.Start,
		first: n.Slots.Start(o.Start), seconds: n.Slots.Seconds(),
		lengths: map[int]*exchanges{}, ratings: map[rating]*rated{}, scores: map[score]float64{}, blinds: map[blindKey]*[mostSendings]float64{},
		heardBy: map[span]*heardBy{}, heards: map[int][][]*[mostSendings]float64{},
	}
	g.total = g.before(o.end()) + int(n.Slots.PerDay())
	g.hours = g.quarter(g.total)/hourQuarters + 1
	stations, channels := len(n.Stations), len(n.Channels)
	g.cells = make([][]*[hourQuarters]cell, stations*stations*channels)
	for v := range stations {
		for c := range channels {
			listens, answers := newSlotSet(g.total), newSlotSet(g.total)
			g.mark(listens, func(unix int64) bool { return n.Listens(v, c, unix) })
			g.mark(answers, func(unix int64) bool { return n.Answers(v, c, unix) })
			g.listens, g.answers = append(g.listens, listens), append(g.answers, answers)
			var clear []int
			for i, hz := range n.Channels[c].OffsetsHz {
				if n.OffsetClear(v, c, hz) {
					clear = append(clear, i)
				}
			}
			if len(n.Channels[c].OffsetsHz) == 0 {
				clear = []int{0}
			}
			g.offsets = append(g.offsets, clear)
		}
	}
	g.count()
	return g
}

// part is how finely keyed slots are counted: whole numbers, so that what is
// booked and taken back leaves no trace.
const part = 1_000_000

// count sets up the clock hours, and the soundings of the plan in each.
func (g *ground) count() {
	g.clockHours = make([]int32, g.total)
	last := floorDiv(g.first, hourSeconds)
	for k := range g.clockHours {
		g.clockHours[k] = int32(floorDiv(g.unix(k), hourSeconds) - last)
	}
	for v := range g.net.Stations {
		list, sounds := make([]int64, g.total*int(g.seconds)/hourSeconds+2), newSlotSet(g.total)
		if len(g.net.Stations[v].Soundings) > 0 {
			g.mark(sounds, func(unix int64) bool { _, ok := g.net.Sounds(v, unix); return ok })
		}
		for k := sounds.next(0, g.total); k < g.total; k = sounds.next(k+1, g.total) {
			list[g.clockHours[k]] += part
		}
		g.sounds, g.sounded = append(g.sounds, sounds), append(g.sounded, list)
	}
}

// mark enters the slots of which a condition holds that depends on the time of
// day alone.
func (g *ground) mark(s slotSet, holds func(unix int64) bool) {
	day := int(g.net.Slots.PerDay())
	for k := range min(day, g.total) {
		if holds(g.unix(k)) {
			for at := k; at < g.total; at += day {
				s.add(at)
			}
		}
	}
}

// unix is the second in which a slot starts.
func (g *ground) unix(slot int) int64 { return g.first + int64(slot)*g.seconds }

// before is how many slots end by a time.
func (g *ground) before(unix int64) int { return int(max(0, (unix-g.first)/g.seconds)) }

// from is the first slot that starts at or after a time.
func (g *ground) from(unix int64) int {
	return int(max(0, (unix-g.first+g.seconds-1)/g.seconds))
}

// quarter is that of a slot, in quarters of an hour after the start.
func (g *ground) quarter(slot int) int { return int((g.unix(slot) - g.start) / quarterSeconds) }

// midway is the quarter in which the states of a hop's links are taken that begins in a slot.
func (g *ground) midway(slot, frames int) int {
	later := int(g.net.Slots.Midway(frames).Round(mesh.StateStep) / mesh.StateStep)
	return min(g.quarter(slot)+later, g.hours*hourQuarters-1)
}

// after is the first slot of the next quarter.
func (g *ground) after(slot int) int {
	return max(slot+1, g.from(g.start+int64(g.quarter(slot)+1)*quarterSeconds))
}

// hour is the first slot of the hour, counted from the start, that holds a slot.
func (g *ground) hour(slot int) int {
	return g.from(g.start + (g.unix(slot)-g.start)/hourSeconds*hourSeconds)
}

// at is the place of a station's figures on a channel.
func (g *ground) at(station, channel int) int { return station*len(g.net.Channels) + channel }

// hop is a link used on a channel.
type hop struct{ from, to, channel int }

// number is the place of a hop's figures.
func (g *ground) number(h hop) int {
	return (h.from*len(g.net.Stations)+h.to)*len(g.net.Channels) + h.channel
}

// cell is what one station hears of another on a channel in a quarter.
func (g *ground) cell(h hop, quarter int) *cell {
	row := &g.cells[g.number(h)]
	if *row == nil {
		*row = make([]*[hourQuarters]cell, g.hours)
	}
	page := &(*row)[quarter/hourQuarters]
	if *page == nil {
		*page = new([hourQuarters]cell)
	}
	c := &(*page)[quarter%hourQuarters]
	if !c.asked {
		c.asked = true
		g.look(c, h, quarter)
	}
	return c
}

func (g *ground) look(c *cell, h hop, quarter int) {
	e, ok := g.links.Edge(h.from, h.to, h.channel, g.start+int64(quarter)*quarterSeconds)
	if !ok {
		return
	}
	known := e.Known || e.Fixed
	c.audible = !known || e.Decode >= Audible
	c.hasSNR, c.snr = known && e.HasSNR, e.SNR
	if g.allowed(e) {
		c.carries = e.Direction
		c.carries.Common, c.fading = 0, e.Fading
	}
}

// allowed reports whether an edge may carry messages.
func (g *ground) allowed(e mesh.Edge) bool {
	switch {
	case e.Fixed:
		return true
	case e.Inferred:
		return g.inferred
	default:
		return e.Known || g.unknown
	}
}

// state is both directions of a hop of so many frames, by the cells of a quarter.
func (g *ground) state(h hop, quarter, frames int) state {
	span := 2 * g.net.Slots.Midway(frames).Seconds()
	there, back := g.cell(h, quarter), g.cell(hop{h.to, h.from, h.channel}, quarter)
	return state{there.carries.Over(there.fading, span), back.carries.Over(back.fading, span)}
}

func floorDiv(a, b int64) int64 {
	if a < 0 {
		return -((-a + b - 1) / b)
	}
	return a / b
}

package timetable

import (
	"slices"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
)

// quarterSeconds is the step at which link states are taken.
const quarterSeconds = 15 * 60

// planner is a timetable being made. Slots count from the first slot boundary
// at or after the start.
type planner struct {
	net      *mesh.Net
	links    Source
	opt      Options
	messages []mesh.Message
	first    int64 // Unix second in which slot 0 starts
	seconds  int64 // length of a slot
	slots    int   // slots that end within the horizon
	total    int   // slots looked at, a day more, to tell what would fit later

	listens [][]bool // [station × channels + channel][slot of the day]
	catchUp []bool   // [slot]: kept free
	lengths map[int]*exchanges
	states  map[stateKey]state
	ears    [][]heed // [quarter × channels + channel][from × stations + to]
	kinds   []int    // of listens: equal rows have equal kinds
	opening map[[2]int][]int32
	ratings map[rating]*rated
	scores  map[score]float64
	blinds  map[blindKey]float64
	book    book
}

func newPlanner(n *mesh.Net, links Source, messages []mesh.Message, o Options) *planner {
	p := &planner{
		net: n, links: links, opt: o, messages: messages, first: n.Slots.Start(o.Start), seconds: n.Slots.Seconds(),
		lengths: map[int]*exchanges{}, states: map[stateKey]state{}, opening: map[[2]int][]int32{}, ratings: map[rating]*rated{}, scores: map[score]float64{},
		blinds: map[blindKey]float64{},
	}
	p.slots = p.before(o.Start + int64(o.Horizon/time.Second))
	p.total = p.slots + int(n.Slots.PerDay())
	day := int(n.Slots.PerDay())
	p.listens = make([][]bool, len(n.Stations)*len(n.Channels))
	for v := range n.Stations {
		for c := range n.Channels {
			row := make([]bool, day)
			for k := range row {
				row[k] = n.Listens(v, c, int64(k)*p.seconds)
			}
			p.listens[v*len(n.Channels)+c] = row
		}
	}
	p.kinds = kindsOf(p.listens)
	p.catchUp = make([]bool, p.total)
	if free := int64(o.CatchUp / time.Second); free > 0 {
		for k := range p.catchUp {
			at := mod(p.unix(k), 3600)
			p.catchUp[k] = at+p.seconds > 3600-free
		}
	}
	p.book = newBook(len(n.Stations), len(n.Channels), p.total)
	return p
}

// kindsOf numbers rows so that equal rows have equal numbers.
func kindsOf(rows [][]bool) []int {
	kinds := make([]int, len(rows))
	for i := range rows {
		kinds[i] = slices.IndexFunc(rows[:i+1], func(r []bool) bool { return slices.Equal(r, rows[i]) })
	}
	return kinds
}

// unix is the second in which a slot starts.
func (p *planner) unix(slot int) int64 { return p.first + int64(slot)*p.seconds }

// before is how many slots end by a time.
func (p *planner) before(unix int64) int { return int(max(0, (unix-p.first)/p.seconds)) }

// from is the first slot that starts at or after a time.
func (p *planner) from(unix int64) int {
	return int(max(0, (unix-p.first+p.seconds-1)/p.seconds))
}

// quarter is that of a slot, in quarters of an hour after the start.
func (p *planner) quarter(slot int) int { return int((p.unix(slot) - p.opt.Start) / quarterSeconds) }

// after is the first slot of the next quarter.
func (p *planner) after(slot int) int {
	return max(slot+1, p.from(p.opt.Start+int64(p.quarter(slot)+1)*quarterSeconds))
}

// listening reports whether a station listens to a channel in a slot.
func (p *planner) listening(station, channel, slot int) bool {
	row := p.listens[station*len(p.net.Channels)+channel]
	return row[mod(p.first/p.seconds+int64(slot), int64(len(row)))]
}

// allowed reports whether an edge may carry messages.
func (p *planner) allowed(e mesh.Edge) bool {
	switch {
	case e.Fixed:
		return true
	case e.Inferred:
		return p.opt.Inferred
	default:
		return e.Known || p.opt.Unknown
	}
}

// direction is one direction of a hop at a quarter, closed when it is absent or
// not to be used.
func (p *planner) direction(from, to, channel, quarter int) link.Direction {
	e, ok := p.links.Edge(from, to, channel, p.opt.Start+int64(quarter)*quarterSeconds)
	if !ok || !p.allowed(e) {
		return link.Direction{}
	}
	d := e.Direction
	d.Common = 0
	return d
}

type stateKey struct{ from, to, channel, quarter int32 }

// state is both directions of a hop at a quarter.
func (p *planner) state(h hop, quarter int) state {
	key := stateKey{int32(h.from), int32(h.to), int32(h.channel), int32(quarter)}
	s, ok := p.states[key]
	if !ok {
		s = state{p.direction(h.from, h.to, h.channel, quarter), p.direction(h.to, h.from, h.channel, quarter)}
		p.states[key] = s
	}
	return s
}

// hop is a link used on a channel.
type hop struct{ from, to, channel int }

// heed is what one station hears of another.
type heed struct {
	asked   bool
	audible bool
	hasSNR  bool
	snr     float64 // expected, dB
}

// heeds is what a station hears of another on a channel at a quarter. It is
// audible over a known link that decodes at least Audible of the frames, or an
// unknown one.
func (p *planner) heeds(from, to, channel, quarter int) *heed {
	n := len(p.net.Stations)
	at := quarter*len(p.net.Channels) + channel
	for at >= len(p.ears) {
		p.ears = append(p.ears, nil)
	}
	if p.ears[at] == nil {
		p.ears[at] = make([]heed, n*n)
	}
	h := &p.ears[at][from*n+to]
	if !h.asked {
		h.asked = true
		e, ok := p.links.Edge(from, to, channel, p.opt.Start+int64(quarter)*quarterSeconds)
		known := e.Known || e.Fixed
		h.audible = ok && (!known || e.Decode >= Audible)
		if ok && known && e.HasSNR {
			h.hasSNR, h.snr = true, e.SNR
		}
	}
	return h
}

// mod is the remainder, never negative.
func mod(a, b int64) int64 {
	if r := a % b; r < 0 {
		return r + b
	} else {
		return r
	}
}

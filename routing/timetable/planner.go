package timetable

import (
	"slices"

	"farhop/mesh"
)

// planner is a timetable being made.
type planner struct {
	*ground
	opt      Options
	messages []mesh.Message
	slots    int     // slots that end within the horizon
	catchUp  slotSet // kept free
	duty     []int64 // [station]: most it may key in a clock hour, in parts of a slot; none without limits
	spare    []bool  // [station]: not to relay, where that can be avoided
	book     book
}

func newPlanner(g *ground, messages []mesh.Message, o Options) *planner {
	p := &planner{ground: g, opt: o, messages: messages, slots: min(g.before(o.end()), g.total)}
	p.catchUp = newSlotSet(g.total)
	if free := int64(o.CatchUp.Seconds()); free > 0 {
		for k := range g.total {
			if mod(g.unix(k), hourSeconds)+g.seconds > hourSeconds-free {
				p.catchUp.add(k)
			}
		}
	}
	p.book = newBook(g)
	p.limit()
	if len(o.Spare) > 0 {
		p.spare = make([]bool, len(g.net.Stations))
		for _, v := range o.Spare {
			p.spare[v] = true
		}
	}
	return p
}

// again is a planner on the same ground, with nothing booked.
func (p *planner) again(messages []mesh.Message, o Options) *planner {
	return newPlanner(p.ground, messages, o)
}

// limit sets up the limits of duty; the soundings of the plan count as keyed.
func (p *planner) limit() {
	perHour := float64(hourSeconds) / float64(p.seconds)
	limits := false
	p.duty = make([]int64, len(p.net.Stations))
	for v := range p.duty {
		limits = limits || p.net.Duty(v) < 1
		p.duty[v] = int64(p.net.Duty(v) * perHour * part)
	}
	if !limits || p.opt.AnyDuty {
		p.duty = nil
	}
}

// over is a station that an entry would take over its limit of duty, −1 = none.
func (p *planner) over(e *entry) int {
	if p.duty == nil {
		return -1
	}
	check := func(v int, frames float64) bool {
		each := e.eachSlot(frames)
		sum, hour := int64(0), int32(-1)
		for k := e.start; k < e.end(); k++ {
			if h := p.clockHours[k]; h != hour {
				sum, hour = p.book.keyed[v][h], h
			}
			if sum += each; sum > p.duty[v] {
				return true
			}
		}
		return false
	}
	if check(e.from, e.sent) {
		return e.from
	}
	if e.sendings == 0 && check(e.to[0], e.answered) {
		return e.to[0]
	}
	return -1
}

// room is the slots open to an entry's stations in which none of them is taken:
// both must be able to send where the hop is acknowledged.
func (p *planner) room(e *entry) slotSet {
	s := p.open(e, p.opt.AnyHour)
	s.drop(p.book.taken[e.from])
	for _, v := range e.to {
		s.drop(p.book.taken[v])
	}
	return s
}

// open is the same, other traffic aside, and quiet hours too where any hour will do.
func (p *planner) open(e *entry, anyHour bool) slotSet {
	sends, receives := p.answers, p.listens
	if anyHour {
		sends = p.listens
	}
	if e.sendings == 0 {
		receives = sends
	}
	s := slices.Clone(sends[p.at(e.from, e.channel)])
	for _, v := range e.to {
		s.keep(receives[p.at(v, e.channel)])
	}
	s.drop(p.catchUp)
	return s
}

// mod is the remainder, never negative.
func mod(a, b int64) int64 { return a - floorDiv(a, b)*b }

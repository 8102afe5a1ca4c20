package timetable

import (
	"cmp"
	"context"
	"slices"
	"time"

	"farhop/mesh"
)

// Make plans messages onto a prepared net. Their stations are indexes into the
// net, and each must be at least one character long. The error is one of the
// options, or of the context; a message that doesn't fit is no error.
//
// Finding a place looks at every slot of the horizon at most once for each chain
// and hop; within a precedence other orders are tried only when a message misses its
// deadline, a bounded number of them.
func Make(ctx context.Context, n *mesh.Net, links Source, messages []mesh.Message, o Options) (*Timetable, error) {
	o, err := o.filled()
	if err != nil {
		return nil, err
	}
	p := newPlanner(n, links, messages, o)
	order, outcomes, err := p.all(ctx)
	if err != nil {
		return nil, err
	}
	t := &Timetable{
		First: p.first, Slots: p.slots, SlotSeconds: p.seconds, Order: order, CatchUp: o.CatchUp, Margin: o.Margin,
		Messages: make([]Planned, len(messages)),
	}
	for m := range messages {
		if t.Messages[m], err = p.planned(m, outcomes[m]); err != nil {
			return nil, err
		}
	}
	p.report(t)
	return t, nil
}

// planned turns an outcome into what is told of the message.
func (p *planner) planned(m int, o outcome) (Planned, error) {
	deadline := p.opt.Start + int64(p.opt.Horizon/time.Second)
	if d := p.messages[m].Deadline; !d.IsZero() {
		deadline = d.Unix()
	}
	v := Planned{Message: m, Chain: o.chain, Deadline: deadline, Fits: o.trouble.kind == fine, Missing: o.missing}
	if o.arrival > 0 {
		v.Arrival, v.Chance = p.unix(o.arrival), 1
		for i := range p.book.entries {
			e := &p.book.entries[i]
			switch {
			case e.message != m:
			case p.messages[m].To == mesh.EveryMember:
				v.Chance = min(v.Chance, e.chance)
			default:
				v.Chance *= e.chance
			}
		}
	}
	if v.Fits {
		return v, nil
	}
	v.WhyNot = p.words(m, o)
	var err error
	v.Changes, err = p.changes(m, o)
	return v, err
}

// report fills in the reservations and the shares of time.
func (p *planner) report(t *Timetable) {
	t.Duty = make([]float64, len(p.net.Stations))
	used := make([][]bool, len(p.net.Channels))
	for c := range used {
		used[c] = make([]bool, p.slots)
	}
	for i := range p.book.entries {
		e := &p.book.entries[i]
		r := Reservation{
			Message: e.message, Hop: e.hop, From: e.from, To: e.to, Channel: e.channel, Start: p.unix(e.start),
			End: p.unix(e.end()), Slots: e.n, Frames: e.frames, Sendings: e.sendings, Chance: e.chance,
			Sent: e.sent, Answered: e.answered,
		}
		if list := p.net.Channels[e.channel].OffsetsHz; len(list) > 0 {
			r.OffsetHz = list[e.offset]
		}
		t.Reservations = append(t.Reservations, r)
		t.Duty[e.from] += e.sent / float64(max(p.slots, 1))
		if e.sendings == 0 {
			t.Duty[e.to[0]] += e.answered / float64(max(p.slots, 1))
		}
		for k := e.start; k < min(e.end(), p.slots); k++ {
			used[e.channel][k] = true
		}
	}
	slices.SortFunc(t.Reservations, func(a, b Reservation) int {
		return cmp.Or(cmp.Compare(a.Start, b.Start), cmp.Compare(a.Channel, b.Channel),
			cmp.Compare(a.OffsetHz, b.OffsetHz), cmp.Compare(a.From, b.From))
	})
	busy, open := 0, 0
	for c := range used {
		for k := range p.slots {
			if p.net.InWindow(c, p.unix(k)) {
				open++
			}
			if used[c][k] {
				busy++
			}
		}
	}
	if open > 0 {
		t.Occupancy = float64(busy) / float64(open)
	}
}

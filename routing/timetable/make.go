package timetable

import (
	"cmp"
	"context"
	"slices"

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
	p := newPlanner(newGround(n, links, o), messages, o)
	order, outcomes, err := p.all(ctx)
	if err != nil {
		return nil, err
	}
	advice := p.adviser(outcomes)
	t := &Timetable{
		First: p.first, Slots: p.slots, SlotSeconds: p.seconds, Order: order, CatchUp: o.CatchUp, Margin: o.Margin, Spare: o.Spare,
		Messages: make([]Planned, len(messages)),
	}
	for m := range messages {
		t.Messages[m] = p.planned(m, outcomes[m])
	}
	p.report(t)
	if !o.NoAdvice {
		if err := advice.give(ctx, t); err != nil {
			return nil, err
		}
	}
	if o.Compare {
		t.Single, err = p.single(ctx)
	}
	return t, err
}

// single plans the same messages with one reservation at a time.
func (p *planner) single(ctx context.Context) (*Comparison, error) {
	o := p.opt
	o.Single = true
	_, outcomes, err := p.again(p.messages, o).all(ctx)
	if err != nil {
		return nil, err
	}
	c := &Comparison{}
	for _, out := range outcomes {
		if out.trouble.kind == fine {
			c.Fit++
		}
		if out.arrival > 0 {
			c.Last = max(c.Last, p.unix(out.arrival))
		}
	}
	return c, nil
}

// planned turns an outcome into what is told of the message.
func (p *planner) planned(m int, o outcome) Planned {
	deadline := p.opt.end()
	if d := p.messages[m].Deadline; !d.IsZero() {
		deadline = d.Unix()
	}
	v := Planned{Message: m, Chain: o.chain, Deadline: deadline, Fits: o.trouble.kind == fine, Missing: o.missing, Fewest: o.fewest}
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
	if !v.Fits {
		v.WhyNot = p.words(m, o)
	}
	return v
}

// report fills in the reservations and the shares of time.
func (p *planner) report(t *Timetable) {
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
	}
	slices.SortFunc(t.Reservations, func(a, b Reservation) int {
		return cmp.Or(cmp.Compare(a.Start, b.Start), cmp.Compare(a.Channel, b.Channel),
			cmp.Compare(a.OffsetHz, b.OffsetHz), cmp.Compare(a.From, b.From))
	})
	p.occupancy(t)
	p.shares(t)
}

// occupancy tells how much of the channels' open time is reserved, and what goes on
// side by side.
func (p *planner) occupancy(t *Timetable) {
	used := make([]slotSet, len(p.net.Channels))
	for c := range used {
		used[c] = newSlotSet(p.total)
	}
	for i := range p.book.entries {
		e := &p.book.entries[i]
		t.Reserved += e.n
		for k := e.start; k < e.end(); k++ {
			used[e.channel].add(k)
		}
	}
	busy, open := 0, 0
	for k := range p.slots {
		if p.book.air[k] > 0 {
			t.Used++
		}
		for c := range used {
			if p.net.InWindow(c, p.unix(k)) {
				open++
			}
			if used[c].has(k) {
				busy++
			}
		}
	}
	if open > 0 {
		t.Occupancy = float64(busy) / float64(open)
	}
}

// shares tells how much each station transmits.
func (p *planner) shares(t *Timetable) {
	perHour := float64(hourSeconds) / float64(p.seconds)
	for v := range p.net.Stations {
		s := StationShare{Limit: p.net.Duty(v)}
		most := int64(-1)
		for hour, keyed := range p.book.keyed[v] {
			if keyed > most {
				most, s.BusiestAt = keyed, (floorDiv(p.first, hourSeconds)+int64(hour))*hourSeconds
			}
		}
		s.Busiest = float64(most) / part / perHour
		t.Shares = append(t.Shares, s)
		sum := 0
		for k := p.sounds[v].next(0, p.slots); k < p.slots; k = p.sounds[v].next(k+1, p.slots) {
			sum++
		}
		t.Duty = append(t.Duty, float64(sum))
	}
	for i := range p.book.entries {
		e := &p.book.entries[i]
		t.Duty[e.from] += e.sent
		if e.sendings == 0 {
			t.Duty[e.to[0]] += e.answered
		}
	}
	for v := range t.Duty {
		t.Duty[v] /= float64(max(p.slots, 1))
	}
}

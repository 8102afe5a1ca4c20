package timetable

import (
	"cmp"
	"math"
	"slices"

	"farhop/mesh"
	"farhop/mesh/link"
)

// A message to every member goes out in sendings that nobody acknowledges, each
// heard by as many as possible; who has heard it may send it on. Every step asks
// for a chance of margin^(1/generations), so that the margin holds for members
// reached through the most relays.
const (
	generations  = 3
	mostSendings = 6
	waitLevel    = 0.99 // chance that busy slots leave room for all the frames
)

// holder is a station that has the message.
type holder struct {
	station int
	from    int // first slot in which it may send
	depth   int // sendings between the origin and it
}

// sending is a candidate with its worth.
type sending struct {
	entry
	depth int
}

// better is greedy: more members, then fewer slots, then the earlier end.
func (s *sending) better(than *sending) bool {
	if than == nil {
		return true
	}
	return cmp.Or(
		cmp.Compare(len(than.to), len(s.to)), cmp.Compare(s.n, than.n), cmp.Compare(s.end(), than.end()),
	) < 0
}

// step is the chance asked of every sending.
func (p *planner) step() float64 { return math.Pow(p.opt.Margin, 1.0/generations) }

// everyMember books sendings until all members have the message: greedily, the
// sending that reaches the most who lack it first, then fewer where fewer are found.
// EMERGENCY and PRIORITY look no more than an hour ahead as long as that reaches
// anybody, and so do others where that covers more.
func (p *planner) everyMember(j job) (outcome, error) {
	msg := &p.messages[j.message]
	o := outcome{chain: []int{msg.From}}
	var holders []holder
	var pending []int
	for v := range p.net.Stations {
		if v == msg.From || slices.Contains(msg.Has, v) {
			holders = append(holders, holder{v, j.ready, 0})
		} else {
			pending = append(pending, v)
		}
	}
	mark := len(p.book.entries)
	err := p.covering(j, mark, holders, pending)
	if err == nil {
		o.fewest, err = p.fewest(j, mark, holders, pending)
	}
	if err != nil {
		return o, err
	}
	for _, e := range p.book.entries[mark:] {
		o.chain = append(o.chain, e.to...)
		o.arrival = max(o.arrival, e.end())
		pending = slices.DeleteFunc(pending, func(v int) bool { return slices.Contains(e.to, v) })
	}
	if len(pending) > 0 {
		o.missing = pending
		o.trouble = trouble{kind: uncovered}
	}
	return o, nil
}

// covering books sendings from a mark on: greedily and, where that leaves members out, also
// by looking no more than an hour ahead or else further, whichever reaches more.
func (p *planner) covering(j job, mark int, holders []holder, pending []int) error {
	urgent := p.messages[j.message].Precedence <= mesh.Priority
	lacking, err := p.greedily(j, slices.Clone(holders), slices.Clone(pending), urgent)
	if err != nil || lacking == 0 {
		return err
	}
	p.placed += everyMemberCost
	first := slices.Clone(p.book.entries[mark:])
	p.book.back(mark)
	again, err := p.greedily(j, slices.Clone(holders), slices.Clone(pending), !urgent)
	if err != nil || again < lacking {
		return err
	}
	p.book.back(mark)
	for _, e := range first {
		p.book.add(e)
	}
	return nil
}

// greedily books the sending that reaches the most of those pending, again and again, and
// returns how many are left.
func (p *planner) greedily(j job, holders []holder, pending []int, urgent bool) (int, error) {
	msg := &p.messages[j.message]
	for number := 1; len(pending) > 0; number++ {
		s, err := p.nextSending(j, p.unspared(msg.From, holders), pending, urgent)
		if err == nil && s == nil && p.spare != nil {
			s, err = p.nextSending(j, holders, pending, urgent)
		}
		if err != nil || s == nil {
			return len(pending), err
		}
		holders, pending = p.send(j, s, number, holders, pending)
	}
	return 0, nil
}

// send books a sending; who has the message then, and who still lacks it.
func (p *planner) send(j job, s *sending, number int, holders []holder, pending []int) ([]holder, []int) {
	s.message, s.hop, s.frames = j.message, number, j.frames
	p.book.add(s.entry)
	for _, v := range s.to {
		holders = append(holders, holder{v, s.end(), s.depth})
	}
	return holders, slices.DeleteFunc(pending, func(v int) bool { return slices.Contains(s.to, v) })
}

// unspared leaves out holders whose batteries are to be spared, the origin aside.
func (p *planner) unspared(origin int, holders []holder) []holder {
	if p.spare == nil {
		return holders
	}
	return slices.DeleteFunc(slices.Clone(holders), func(h holder) bool { return h.station != origin && p.spare[h.station] })
}

func (p *planner) nextSending(j job, holders []holder, pending []int, urgent bool) (*sending, error) {
	hour := int(3600 / p.seconds)
	var best *sending
	for _, h := range holders {
		if h.depth == generations {
			continue
		}
		until := j.limit
		if urgent {
			until = min(until, h.from+hour)
		}
		best = p.sendingsOf(j, h, pending, until, best)
	}
	if best == nil && urgent {
		return p.nextSending(j, holders, pending, false)
	}
	if best != nil && len(best.to) > 1 {
		return best, nil
	}
	return p.acknowledged(j, holders, pending, best)
}

// sendingsOf tries a holder's channels, from its first slot and from the first in
// which it is free of each quarter after it, with each number of sendings.
func (p *planner) sendingsOf(j job, h holder, pending []int, until int, best *sending) *sending {
	for _, c := range p.net.Stations[h.station].Channels {
		room := p.room(&entry{from: h.station, channel: c, sendings: 1})
		for slot := h.from; slot < until; slot = p.after(slot) {
			start := room.next(slot, min(p.after(slot), j.limit))
			if start == min(p.after(slot), j.limit) {
				continue
			}
			ears := p.earsFor(j, h, c, start, pending)
			if len(ears) == 0 || best != nil && len(ears) < len(best.to) {
				continue // however often it is sent, it doesn't reach more
			}
			for n := 1; n <= mostSendings; n++ {
				if s := p.sending(j, h, c, start, n, room, ears); s != nil && s.better(best) {
					best = s
				}
			}
		}
	}
	return best
}

// ear is a station that may hear a message whole, with the chance by the number of
// sendings less one.
type ear struct {
	station int
	chances *[mostSendings]float64
}

// earsFor lists who would hear a message well enough with the most sendings.
func (p *planner) earsFor(j job, h holder, channel, slot int, pending []int) (list []ear) {
	level := p.step()
	for _, v := range pending {
		c := p.heard(hop{h.station, v, channel}, p.midway(slot, j.frames), j.frames)
		if c != nil && c[mostSendings-1] >= level {
			list = append(list, ear{v, c})
		}
	}
	return list
}

// sending is one candidate; nil when it reaches nobody or doesn't fit. Of the offsets
// that can be used beside what else goes on, it takes the one on which most receive it.
func (p *planner) sending(j job, h holder, channel, slot, sendings int, room slotSet, ears []ear) *sending {
	s := &sending{entry: entry{from: h.station, channel: channel, sendings: sendings, frames: j.frames}, depth: h.depth + 1}
	frames := j.frames * sendings
	n, wait := waiting(frames, p.net.Slots.Busy, waitLevel)
	s.start, s.n, s.sent = slot, n, float64(frames)
	if s.end() > j.limit || room.nextGap(s.start, s.end()) < s.end() || p.over(&s.entry) >= 0 {
		return nil
	}
	var able []int
	level := p.step()
	for _, e := range ears {
		if wait*e.chances[sendings-1] >= level && p.receives(e.station, &s.entry) {
			able = append(able, e.station)
		}
	}
	if !p.tune(s, able) || p.opt.Single && !second(p.quiet(&s.entry)) {
		return nil
	}
	s.chance = 1
	for _, e := range ears {
		if slices.Contains(s.to, e.station) {
			s.chance = min(s.chance, wait*e.chances[sendings-1])
		}
	}
	return s
}

// receives reports whether a station is free to listen all through an entry.
func (p *planner) receives(v int, e *entry) bool {
	listens, taken := p.listens[p.at(v, e.channel)], p.book.taken[v]
	return listens.nextGap(e.start, e.end()) == e.end() && taken.next(e.start, e.end()) == e.end()
}

// tune fills in the offset of a sending and, of the stations that are able to
// receive it, those that hear no noise there; false when there are none.
func (p *planner) tune(s *sending, able []int) bool {
	if len(able) == 0 {
		return false
	}
	s.to = able
	b := p.beside(&s.entry)
	if b.over {
		return false
	}
	var best []int
	for i := range max(1, len(p.net.Channels[s.channel].OffsetsHz)) {
		if p.clearance(s.channel, i, b.used) < 0 {
			continue
		}
		var clear []int
		for _, v := range able {
			if slices.Contains(p.offsets[p.at(v, s.channel)], i) {
				clear = append(clear, v)
			}
		}
		if len(clear) > len(best) {
			s.offset, best = i, clear
		}
	}
	s.to = best
	return len(best) > 0
}

func second(_ int, ok bool) bool { return ok }

// blindKey is a direction with the length of what is sent over it.
type blindKey struct {
	direction link.Direction
	frames    int
}

// hopeless stands for what isn't worth sending without an answer.
var hopeless = new([mostSendings]float64)

// heard is the chance that a message is heard whole, by the number of sendings
// less one; nil where that is hopeless.
func (g *ground) heard(h hop, quarter, frames int) *[mostSendings]float64 {
	rows := g.heards[frames]
	if rows == nil {
		rows = make([][]*[mostSendings]float64, len(g.cells))
		g.heards[frames] = rows
	}
	row := &rows[g.number(h)]
	if *row == nil {
		*row = make([]*[mostSendings]float64, g.hours*hourQuarters)
	}
	v := &(*row)[quarter]
	if *v == nil {
		*v = g.blindly(h, quarter, frames)
	}
	if *v == hopeless {
		return nil
	}
	return *v
}

// blindly works out what heard remembers.
func (g *ground) blindly(h hop, quarter, frames int) *[mostSendings]float64 {
	k := blindKey{g.state(h, quarter, frames).forward, frames}
	if k.direction.Mean() < 0.1 {
		return hopeless
	}
	v := g.blinds[k]
	if v == nil {
		chances := blind(k.direction, frames)
		v = &chances
		g.blinds[k] = v
	}
	return v
}

// acknowledged looks for an ordinary hop to one pending member, and takes it
// where it is over before the sending given, which may be nil.
func (p *planner) acknowledged(j job, holders []holder, pending []int, best *sending) (*sending, error) {
	x, err := p.exchangesOf(j.frames)
	if err != nil {
		return nil, err
	}
	level := p.step()
	for _, h := range holders {
		if h.depth == generations {
			continue
		}
		for _, v := range pending {
			for _, c := range p.net.Stations[h.station].Channels {
				limit := j.limit
				if best != nil {
					limit = min(limit, best.end()-1)
				}
				e := entry{from: h.station, to: []int{v}, channel: c}
				if p.earliest(&e, x, hop{h.station, v, c}, level, h.from, limit).kind == fine {
					best = &sending{entry: e, depth: h.depth + 1}
				}
			}
		}
	}
	return best, nil
}

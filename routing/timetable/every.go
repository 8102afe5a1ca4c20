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

// everyMember books sendings until all members have the message, greedily: the
// sending that reaches the most who lack it comes first. EMERGENCY and PRIORITY
// look no more than an hour ahead as long as that reaches anybody. It is not the
// least number of sendings in general; greedy covers are within a factor of
// ln(members) + 1 of it.
func (p *planner) everyMember(j job) (outcome, error) {
	o := outcome{chain: []int{p.messages[j.message].From}}
	holders := []holder{{o.chain[0], j.ready, 0}}
	var pending []int
	for v := range p.net.Stations {
		if v != o.chain[0] {
			pending = append(pending, v)
		}
	}
	urgent := p.messages[j.message].Precedence <= mesh.Priority
	for number := 1; len(pending) > 0; number++ {
		s, err := p.nextSending(j, holders, pending, urgent)
		if err != nil {
			return o, err
		}
		if s == nil {
			break
		}
		s.message, s.hop, s.frames = j.message, number, j.frames
		p.book.add(s.entry)
		o.chain = append(o.chain, s.to...)
		o.arrival = max(o.arrival, s.end())
		for _, v := range s.to {
			holders = append(holders, holder{v, s.end(), s.depth})
		}
		pending = slices.DeleteFunc(pending, func(v int) bool { return slices.Contains(s.to, v) })
	}
	if len(pending) > 0 {
		o.missing = pending
		o.trouble = trouble{kind: uncovered}
	}
	return o, nil
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

// sendingsOf tries a holder's channels, from its first slot and from each
// quarter after it, with each number of sendings.
func (p *planner) sendingsOf(j job, h holder, pending []int, until int, best *sending) *sending {
	for _, c := range p.net.Stations[h.station].Channels {
		for slot := h.from; slot < until; slot = p.after(slot) {
			for n := 1; n <= mostSendings; n++ {
				if s := p.sending(j, h, c, slot, n, pending); s != nil && s.better(best) {
					best = s
				}
			}
		}
	}
	return best
}

// sending is one candidate from the first slot in this quarter in which the
// holder is free; nil when it reaches nobody or doesn't fit.
func (p *planner) sending(j job, h holder, channel, slot, sendings int, pending []int) *sending {
	s := &sending{entry: entry{from: h.station, channel: channel, sendings: sendings, frames: j.frames}, depth: h.depth + 1}
	for stop := p.after(slot); slot < stop && (slot >= j.limit || !p.free(&s.entry, slot)); slot++ {
		if slot+1 == stop {
			return nil
		}
	}
	frames := j.frames * sendings
	n, wait := waiting(frames, p.net.Slots.Busy, waitLevel)
	s.start, s.n, s.sent = slot, n, float64(frames)
	if s.end() > j.limit {
		return nil
	}
	if _, ok := p.blockedAt(&s.entry); !ok {
		return nil
	}
	level := math.Pow(p.opt.Margin, 1.0/generations)
	s.chance = 1
	for _, v := range pending {
		chance := wait * p.heard(hop{h.station, v, channel}, p.quarter(slot), j.frames, sendings)
		if chance < level {
			continue
		}
		alone := entry{from: v, channel: channel, start: slot, n: n}
		if _, ok := p.blockedAt(&alone); ok {
			s.to = append(s.to, v)
			s.chance = min(s.chance, chance)
		}
	}
	if len(s.to) == 0 || p.opt.Single && !second(p.quiet(&s.entry)) {
		return nil
	}
	offset, _, ok := p.offset(&s.entry)
	s.offset = offset
	if !ok {
		return nil
	}
	return s
}

func second(_ int, ok bool) bool { return ok }

// blindKey is a direction with what is sent over it.
type blindKey struct {
	direction        link.Direction
	frames, sendings int
}

func (p *planner) heard(h hop, quarter, frames, sendings int) float64 {
	k := blindKey{p.state(h, quarter).forward, frames, sendings}
	if k.direction.Mean() < 0.1 {
		return 0
	}
	v, ok := p.blinds[k]
	if !ok {
		v = blind(k.direction, frames, sendings)
		p.blinds[k] = v
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
	level := math.Pow(p.opt.Margin, 1.0/generations)
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

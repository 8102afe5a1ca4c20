package timetable

import (
	"cmp"
	"slices"
	"time"

	"farhop/mesh"
)

// The least number of transmissions is bounded by leaving out the clock: a station
// that has the message may at any moment send it to any set of stations that some
// quarter of its time lets hear it. Whatever can be planned is a way through that
// larger choice, so a number too small there is too small for every timetable; and a
// way with the least number there that can be booked is the least of all.
//
// The ways are searched breadth first over who has the message, with a bound on the
// states made, and a few of the shortest are tried on the book.
const (
	mostStates = 2000
	mostWays   = 24
)

// reached is who has the message, by the most sendings in a row it took.
type reached [generations + 1]members

// within reports whether the other has reached all of them in as few in a row.
func (r *reached) within(other *reached) bool {
	for d := range r {
		if !r[d].within(&other[d]) {
			return false
		}
	}
	return true
}

// spread is a state of the search with how it came about.
type spread struct {
	reached
	before *spread
	sender int
	hears  members
}

// steps lists the sendings of a way in order.
func (w *spread) steps() (list []*spread) {
	for ; w.before != nil; w = w.before {
		list = append(list, w)
	}
	slices.Reverse(list)
	return list
}

// audiences tells who may hear one sending of a station at some time by a limit, as the
// largest sets: every set that can be booked lies in one of them.
type audiences interface {
	of(station int) []members
	cover(station int, all *members) bool // whether one of them holds all of these
}

// span is what the audiences of a message hang on: where it can be sent, its length and
// the chance asked for. What is booked is left out, so that they serve every attempt.
type span struct {
	ready, limit, frames int
	level                float64
	anyHour              bool
	catchUp              time.Duration
}

// heardBy finds the audiences of a span when they are asked for, and keeps them.
type heardBy struct {
	p     *planner
	j     job
	lists [][]members
}

// audiences are those of a message, kept with the ground.
func (p *planner) audiences(j job) audiences {
	k := span{j.ready, j.limit, j.frames, p.step(), p.opt.AnyHour, p.opt.CatchUp}
	h := p.heardBy[k]
	if h == nil {
		h = &heardBy{p: p, j: j, lists: make([][]members, len(p.net.Stations))}
		p.heardBy[k] = h
	}
	return h
}

// quarters calls look with each channel of a station and the first open slot of each
// quarter in which it may send, until one returns true.
func (h *heardBy) quarters(station int, look func(channel, slot int) bool) bool {
	for _, c := range h.p.net.Stations[station].Channels {
		room := h.p.open(&entry{from: station, channel: c, sendings: 1}, h.p.opt.AnyHour)
		for slot := room.next(h.j.ready, h.j.limit); slot < h.j.limit; slot = room.next(h.p.after(slot), h.j.limit) {
			if look(c, slot) {
				return true
			}
		}
	}
	return false
}

func (h *heardBy) of(station int) []members {
	if h.lists[station] != nil {
		return h.lists[station]
	}
	list := []members{}
	h.quarters(station, func(c, slot int) bool {
		sets := make([]members, max(1, len(h.p.net.Channels[c].OffsetsHz)))
		for v := range h.p.net.Stations {
			for _, i := range h.ear(station, v, c, slot) {
				sets[i].add(v)
			}
			if h.exchange(station, v, c, slot) {
				var m members
				m.add(v)
				list = widened(list, m)
			}
		}
		for _, m := range sets {
			list = widened(list, m)
		}
		return false
	})
	h.lists[station] = list
	return list
}

func (h *heardBy) cover(station int, all *members) bool {
	if h.lists[station] != nil {
		return slices.ContainsFunc(h.lists[station], func(m members) bool { return all.within(&m) })
	}
	var list []int
	for v := range h.p.net.Stations {
		if all.has(v) {
			list = append(list, v)
		}
	}
	return h.quarters(station, func(c, slot int) bool {
		if len(list) == 1 && h.exchange(station, list[0], c, slot) {
			return true
		}
		shared := h.ear(station, list[0], c, slot)
		for _, v := range list[1:] {
			if len(shared) == 0 {
				return false
			}
			clear := h.ear(station, v, c, slot)
			shared = slices.DeleteFunc(slices.Clone(shared), func(i int) bool { return !slices.Contains(clear, i) })
		}
		return len(shared) > 0
	})
}

// ear lists the offsets on which one station may hear what another sends in the quarter
// of a slot, without an answer.
func (h *heardBy) ear(from, to, channel, slot int) []int {
	if !h.meets(from, to, channel, slot) || len(h.p.earsFor(h.j, holder{station: from}, channel, slot, []int{to})) == 0 {
		return nil
	}
	return h.p.offsets[h.p.at(to, channel)]
}

// exchange reports whether an acknowledged hop isn't out of the question.
func (h *heardBy) exchange(from, to, channel, slot int) bool {
	if !h.meets(from, to, channel, slot) {
		return false
	}
	s := h.p.state(hop{from, to, channel}, h.p.midway(slot, h.j.frames), h.j.frames)
	return s.forward.Mean() > 0 && s.reverse.Mean() > 0
}

// meets reports whether another station listens somewhere in the quarter of a slot.
func (h *heardBy) meets(from, to, channel, slot int) bool {
	until := min(h.p.after(slot), h.j.limit)
	return to != from && h.p.listens[h.p.at(to, channel)].next(slot, until) < until
}

// widened is a list of sets with one more, without those that lie in another.
func widened(list []members, m members) []members {
	if m == (members{}) || slices.ContainsFunc(list, func(o members) bool { return m.within(&o) }) {
		return list
	}
	return append(slices.DeleteFunc(list, func(o members) bool { return o.within(&m) }), m)
}

// shortest lists ways of the least number of sendings, from one number on and under
// another, that reach the goal with their last; none where there is no such way. It is not
// done when the states run out first.
func shortest(a audiences, stations int, first reached, goal *members, least, under int) (ways []*spread, done bool) {
	made := 0
	layer := []*spread{{reached: first}}
	for k := 1; k < under && len(layer) > 0; k++ {
		var next []*spread
		for _, w := range layer {
			lacking := goal.without(&w.reached[generations])
			for v := range stations {
				depth := slices.IndexFunc(w.reached[:generations], func(m members) bool { return m.has(v) })
				if depth < 0 {
					continue
				}
				var sets []members
				switch {
				case k < under-1:
					sets = a.of(v)
				case a.cover(v, &lacking):
					sets = []members{lacking}
				}
				for i := range sets {
					if sets[i].within(&w.reached[depth+1]) {
						continue
					}
					if made++; made > mostStates {
						return nil, false
					}
					s := &spread{reached: w.reached, before: w, sender: v, hears: sets[i]}
					for d := depth + 1; d <= generations; d++ {
						s.reached[d].join(&sets[i])
					}
					switch {
					case !goal.within(&s.reached[generations]):
						next = undominated(next, s)
					case k >= least && len(ways) < mostWays:
						ways = append(ways, s)
					}
				}
			}
		}
		if len(ways) > 0 {
			return ways, true
		}
		layer = next
	}
	return nil, true
}

// undominated is a list of states with one more, without those that have reached no
// more than another.
func undominated(list []*spread, s *spread) []*spread {
	if slices.ContainsFunc(list, func(o *spread) bool { return s.within(&o.reached) }) {
		return list
	}
	return append(slices.DeleteFunc(list, func(o *spread) bool { return o.within(&s.reached) }), s)
}

// fewest puts fewer sendings in the place of those booked from a mark on, where that
// can be, and reports whether no timetable reaches the same members with fewer than
// are booked then. Of equally few the earlier end is taken, then the earlier senders.
func (p *planner) fewest(j job, mark int, holders []holder, pending []int) (bool, error) {
	booked := slices.Clone(p.book.entries[mark:])
	if len(booked) < 2 || len(p.net.Stations) > mostMembers {
		return len(booked) == 1, nil
	}
	p.book.back(mark)
	var first reached
	var goal members
	for d := range first {
		for _, h := range holders {
			first[d].add(h.station)
		}
	}
	for i := range booked {
		for _, v := range booked[i].to {
			goal.add(v)
		}
	}
	proven := false
	for least := 1; least < len(booked); {
		ways, done := shortest(p.audiences(j), len(p.net.Stations), first, &goal, least, len(booked))
		if len(ways) == 0 {
			proven = done && least == 1
			break
		}
		list, err := p.soonest(j, ways, holders, pending, &goal, len(booked))
		if err != nil {
			return false, err
		}
		if list != nil {
			booked, proven = list, least == 1 && len(list) == len(ways[0].steps())
			break
		}
		least = len(ways[0].steps()) + 1
	}
	for _, e := range booked {
		p.book.add(e)
	}
	return proven, nil
}

// soonest is the booking with the fewest sendings, under the given number, then that which ends first, nil when none can be booked.
func (p *planner) soonest(j job, ways []*spread, holders []holder, pending []int, goal *members, under int) (best []entry, err error) {
	tries := 0
	for _, w := range ways {
		list, err := p.follow(j, w, holders, pending, goal, under, &tries)
		if err != nil {
			return nil, err
		}
		if list != nil && (best == nil || cmp.Or(cmp.Compare(len(list), len(best)), cmp.Compare(latest(list), latest(best))) < 0) {
			best = list
		}
	}
	return best, nil
}

// latest is the end of the last of some entries.
func latest(list []entry) (end int) {
	for i := range list {
		end = max(end, list[i].end())
	}
	return end
}

// mostTries is how many sendings are tried on the book for a message's ways.
const mostTries = 300

// follow books the sendings of a way one after the other, and takes them back: each when
// it is heard by the most or, where that leads nowhere, within the hour. It returns nil
// when they don't find their places or don't reach the goal.
func (p *planner) follow(j job, w *spread, holders []holder, pending []int, goal *members, under int, tries *int) ([]entry, error) {
	return p.followed(j, w.steps(), len(p.book.entries), slices.Clone(holders), slices.Clone(pending), goal, under, tries)
}

func (p *planner) followed(j job, steps []*spread, mark int, holders []holder, pending []int, goal *members, under int, tries *int) ([]entry, error) {
	if len(steps) == 0 {
		return p.rest(j, mark, holders, pending, goal, under, tries)
	}
	s, msg := steps[0], &p.messages[j.message]
	i := slices.IndexFunc(holders, func(h holder) bool { return h.station == s.sender })
	if i < 0 || s.sender != msg.From && p.spare != nil && p.spare[s.sender] {
		return nil, nil
	}
	var wanted []int
	for _, v := range pending {
		if s.hears.has(v) {
			wanted = append(wanted, v)
		}
	}
	for _, urgent := range []bool{false, true} {
		if !urgent && msg.Precedence <= mesh.Priority {
			continue
		}
		if *tries++; *tries > mostTries {
			return nil, nil
		}
		found, err := p.nextSending(j, holders[i:i+1:i+1], wanted, urgent)
		if err != nil || found == nil {
			return nil, err
		}
		before := len(p.book.entries)
		h, rest := p.send(j, found, before-mark+1, slices.Clone(holders), slices.Clone(pending))
		list, err := p.followed(j, steps[1:], mark, h, rest, goal, under, tries)
		p.book.back(before)
		if err != nil || list != nil {
			return list, err
		}
	}
	return nil, nil
}

// rest books greedily what a way that was followed has left out, with fewer sendings in
// all than the given number. The book is left as it was found.
func (p *planner) rest(j job, mark int, holders []holder, pending []int, goal *members, under int, tries *int) ([]entry, error) {
	before := len(p.book.entries)
	defer func() { p.book.back(before) }()
	msg := &p.messages[j.message]
	for slices.ContainsFunc(pending, goal.has) {
		number := len(p.book.entries) - mark + 1
		if *tries++; number >= under || *tries > mostTries {
			return nil, nil
		}
		s, err := p.nextSending(j, p.unspared(msg.From, holders), pending, msg.Precedence <= mesh.Priority)
		if err != nil || s == nil {
			return nil, err
		}
		holders, pending = p.send(j, s, number, holders, pending)
	}
	return slices.Clone(p.book.entries[mark:]), nil
}

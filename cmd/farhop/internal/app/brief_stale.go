package app

import (
	"time"

	"farhop/cmd/farhop/internal/view"
	"farhop/routing"
	"farhop/routing/delivery"
)

// How far ahead and how finely it is looked when next hops are spent.
const (
	staleAhead = 48 * time.Hour
	staleStep  = 900 // seconds
)

// hopKey is a hop of a message that leaves at a start.
type hopKey struct {
	start             int64
	from, to, channel int
}

// stale works out until when next hops hold; see view.Stale.
func (s *Session) stale(start int64, rows []routing.Row) view.Stale {
	v := view.Stale{Ahead: staleAhead.Hours()}
	hops := map[hopKey]int{} // destinations that go by it
	for i := range rows {
		if r := &rows[i]; r.Next >= 0 {
			hops[hopKey{start, r.From, r.Next, r.Channels[0]}]++
			v.NextHop++
		}
	}
	if v.NextHop == 0 {
		return v
	}
	v.At = moment(s.halfSpent(start, hops, v.NextHop))
	return v
}

// turn is when half of the links that are open at the moment no longer serve, 0
// when that isn't within sight.
func (s *Session) turn() int64 {
	links := map[hopKey]int{}
	slot := s.slotStart()
	for from := range s.net.Stations {
		for to := range s.net.Stations {
			for ch := range s.net.Channels {
				e, ok := s.links.Edge(from, to, ch, s.at.Unix())
				if ok && s.usable(&e) && e.Decode >= s.req.Threshold && s.net.OpenSlot(from, to, ch, slot) {
					links[hopKey{s.at.Unix(), from, to, ch}] = 1
				}
			}
		}
	}
	return s.halfSpent(s.at.Unix(), links, len(links))
}

// halfSpent is the first quarter of an hour after a start at which hops that count
// for half of the given number no longer hold, 0 when that isn't within sight.
func (s *Session) halfSpent(start int64, hops map[hopKey]int, of int) int64 {
	first := start - start%staleStep + staleStep
	ends := map[int64]int{} // what is lost at a time
	for h, n := range hops {
		if end := s.spent(h, first, start+int64(staleAhead/time.Second)); end != 0 {
			ends[end] += n
		}
	}
	lost := 0
	for t := first; t <= start+int64(staleAhead/time.Second); t += staleStep {
		if lost += ends[t]; lost > 0 && 2*lost >= of {
			return t
		}
	}
	return 0
}

// spent is the first quarter of an hour from one time to another at which a next
// hop no longer holds, 0 when it does at all of them.
func (s *Session) spent(h hopKey, from, to int64) int64 {
	now, _ := s.links.Edge(h.from, h.to, h.channel, h.start)
	// A window that is still to open doesn't count against it.
	opened := s.net.OpenSlot(h.from, h.to, h.channel, s.net.Slots.Start(h.start))
	for t := from; t <= to; t += staleStep {
		open := s.net.OpenSlot(h.from, h.to, h.channel, s.net.Slots.Start(t))
		opened = opened || open
		if !open && opened {
			return t
		}
		e, ok := s.links.Edge(h.from, h.to, h.channel, t)
		if opened && (!ok || !s.usable(&e) || e.Decode < now.Decode/2) {
			return t
		}
	}
	return 0
}

// giveUps tells for the next hops of some departures after how many minutes from
// one's first frame 95 % of what ever gets across has.
func (s *Session) giveUps(q routing.Request, rows map[int][]departures) (map[hopKey]float64, error) {
	limits := map[hopKey]float64{}
	starts := map[int64]*handover{}
	for station := range s.net.Stations { // in order, so that equal questions do equal work
		for _, d := range rows[station] {
			q.Start = d.start
			h := starts[d.start]
			if h == nil {
				var err error
				if h, err = s.newHandover(q); err != nil {
					return nil, err
				}
				starts[d.start] = h
			}
			h.add(limits, d.list)
		}
	}
	return limits, nil
}

// add works out the next hops of some chains that aren't yet.
func (h *handover) add(limits map[hopKey]float64, list []routing.Row) {
	for i := range list {
		r := &list[i]
		if r.Next < 0 {
			continue
		}
		k := hopKey{h.q.Start, r.From, r.Next, r.Channels[0]}
		if _, have := limits[k]; !have {
			limits[k] = h.giveUp(k.from, k.to, k.channel)
		}
	}
}

// evaluator is one message of so many frames by the plan's exchange.
func (s *Session) evaluator(frames int, offset, deadline time.Duration, common float64) (*delivery.Evaluator, error) {
	n := &s.net.Slots
	return delivery.NewEvaluator(delivery.Plan{
		Protocol: delivery.Protocol{
			Frames: frames, Ack: n.Ack, Turnaround: n.Turnaround, Rounds: n.Rounds, Block: n.Block, Busy: n.Busy,
		},
		Slot: n.Length, Offset: offset, Deadline: deadline, Common: common,
	})
}

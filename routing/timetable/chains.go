package timetable

import (
	"cmp"
	"math"
	"slices"

	"farhop/mesh/link"
	"farhop/routing/delivery"
)

// chain is a way for a message, hop by hop.
type chain struct {
	hops []hop
	cost float64
}

func (c chain) stations() []int {
	list := []int{c.hops[0].from}
	for _, h := range c.hops {
		list = append(list, h.to)
	}
	return list
}

// rating is what decides how good hops are: the hour, and the length of messages
// rounded up to a power of two.
type rating struct{ slot, frames int }

// rated is every hop that can carry a message from an hour on, by sender.
type rated struct {
	out  [][]ratedHop
	best map[int][][]step // by destination
	// chains are candidates found before, by origin and destination.
	chains map[[2]int][]chain
}

type ratedHop struct {
	hop
	cost float64
}

// step is the best way on from a station with some number of hops.
type step struct {
	cost float64
	next int // index into rated.out of the station, −1 = none
}

// Cost of a hop: −ln of the chance that it succeeds at all, and for each slot that
// it roughly takes or waits a ten-thousandth: ten slots count as much as a tenth
// of a point of the chance.
const slotCost = 1e-4

// candidateCount is how many chains are tried for a message from one hour.
const candidateCount = 8

// candidates lists chains for a message that may start with a slot, the surest
// first: the best by each first hop. Hops are judged in their state when they
// are first open from the beginning of that hour on.
func (p *planner) candidates(from, to, frames, slot int) ([]chain, error) {
	bucket := 1
	for bucket < frames {
		bucket *= 2
	}
	r, err := p.rated(rating{p.hour(slot), bucket})
	if err != nil {
		return nil, err
	}
	if list, ok := r.chains[[2]int{from, to}]; ok {
		return list, nil
	}
	best := r.towards(to, p.opt.Relays)
	var list []chain
	for _, h := range r.out[from] {
		c := chain{hops: []hop{h.hop}, cost: h.cost}
		if h.to != to {
			if p.opt.Relays == 0 {
				continue
			}
			rest := best[p.opt.Relays-1][h.to]
			if rest.next < 0 {
				continue
			}
			c.cost += rest.cost
			c.hops = append(c.hops, r.follow(best, h.to, to, p.opt.Relays-1)...)
		}
		if !repeats(c.stations()) {
			list = append(list, c)
		}
	}
	slices.SortStableFunc(list, func(a, b chain) int {
		return cmp.Or(cmp.Compare(a.cost, b.cost), cmp.Compare(len(a.hops), len(b.hops)))
	})
	list = list[:min(len(list), candidateCount)]
	r.chains[[2]int{from, to}] = list
	return list, nil
}

// hour is the first slot of the hour, counted from the start, that holds a slot.
func (p *planner) hour(slot int) int {
	return p.from(p.opt.Start + (p.unix(slot)-p.opt.Start)/3600*3600)
}

func repeats(stations []int) bool {
	for i, v := range stations {
		if slices.Contains(stations[:i], v) {
			return true
		}
	}
	return false
}

// rated rates every hop.
func (p *planner) rated(k rating) (*rated, error) {
	if r, ok := p.ratings[k]; ok {
		return r, nil
	}
	x, err := p.exchangesOf(k.frames)
	if err != nil {
		return nil, err
	}
	r := &rated{out: make([][]ratedHop, len(p.net.Stations)), best: map[int][][]step{}, chains: map[[2]int][]chain{}}
	for from := range p.net.Stations {
		for to := range p.net.Stations {
			for c := range p.net.Channels {
				h := hop{from, to, c}
				if from == to {
					continue
				}
				open := p.opens(h, k.slot)
				if open < 0 {
					continue
				}
				if chance, slots := p.rate(x, p.state(h, p.quarter(open)), k.frames); chance > 0.01 {
					wait := float64(open - k.slot)
					r.out[from] = append(r.out[from], ratedHop{h, -math.Log(chance) + slotCost*(slots+wait)})
				}
			}
		}
	}
	p.ratings[k] = r
	return r, nil
}

// opens is the first slot open to a hop from a slot on, within a day; −1 = none.
func (p *planner) opens(h hop, slot int) int {
	channels := len(p.net.Channels)
	a, b := p.kinds[h.from*channels+h.channel], p.kinds[h.to*channels+h.channel]
	wait, ok := p.opening[[2]int{a, b}]
	if !ok {
		wait = waits(p.listens[a], p.listens[b])
		p.opening[[2]int{a, b}] = wait
	}
	w := wait[mod(p.first/p.seconds+int64(slot), int64(len(wait)))]
	if w < 0 || slot+int(w) >= p.total {
		return -1
	}
	return slot + int(w)
}

// waits is, for each slot of the day, how many slots pass until both rows are
// true; −1 when that never happens.
func waits(a, b []bool) []int32 {
	list := make([]int32, len(a))
	next := int32(-1)
	for k := 2*len(a) - 1; k >= 0; k-- {
		at := k % len(a)
		if next >= 0 {
			next++
		}
		if a[at] && b[at] {
			next = 0
		}
		list[at] = next
	}
	return list
}

// score is a state, rounded, for messages of one length.
type score struct {
	state
	frames int
}

// rate is the chance that a hop succeeds at all, to half a decibel, and roughly
// how many slots it takes.
func (p *planner) rate(x *exchanges, s state, frames int) (chance, slots float64) {
	if s.forward.Kind == link.Closed || s.forward.Mean() < 0.02 {
		return 0, 0
	}
	coarse := func(d link.Direction) link.Direction {
		d.Margin, d.SD = math.Round(d.Margin*2)/2, math.Round(d.SD*2)/2
		d.Margin = min(max(d.Margin, -30), 30)
		return d
	}
	k := score{state{coarse(s.forward), coarse(s.reverse)}, frames}
	chance, ok := p.scores[k]
	if !ok {
		id := x.eval.NewLeg(delivery.Leg{
			Open:       func(int) bool { return true },
			Directions: func(int) (forward, reverse link.Direction) { return k.forward, k.reverse },
		})
		chance = x.eval.Reach(id, 0)[0]
		p.scores[k] = chance
	}
	mean := min(max(s.forward.Mean(), 0.01), 0.99)
	rounds := 1 + math.Log(float64(frames)+1)/-math.Log(1-mean)
	pause := float64(2*p.net.Slots.Turnaround + p.net.Slots.Ack)
	return chance, (float64(frames)/mean + rounds*pause) / (1 - p.net.Slots.Busy)
}

// towards finds the cheapest ways to a destination: [hops − 1][station], with at
// most so many hops.
func (r *rated) towards(to, relays int) [][]step {
	if b, ok := r.best[to]; ok {
		return b
	}
	n := len(r.out)
	best := make([][]step, relays+1)
	for h := range best {
		best[h] = make([]step, n)
		for v := range n {
			best[h][v] = step{math.Inf(1), -1}
			for i, e := range r.out[v] {
				cost := e.cost
				switch {
				case v == to:
					continue
				case e.to != to && h == 0:
					continue
				case e.to != to:
					cost += best[h-1][e.to].cost
				}
				if cost < best[h][v].cost {
					best[h][v] = step{cost, i}
				}
			}
		}
	}
	r.best[to] = best
	return best
}

// follow lists the hops of the cheapest way, begun with level + 1 hops allowed.
func (r *rated) follow(best [][]step, from, to, level int) (hops []hop) {
	for v := from; v != to && level >= 0; level-- {
		e := r.out[v][best[level][v].next]
		hops = append(hops, e.hop)
		v = e.to
	}
	return hops
}

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
	out    [][]ratedHop
	best   map[search][][]step
	chains map[request][]chain // candidates found before
}

type ratedHop struct {
	hop
	cost   float64
	chance float64 // that it succeeds at all
}

// search is what the best ways to a destination depend on.
type search struct {
	to    int
	level float64 // least chance of a hop
	spare bool    // past the stations to spare
}

// request is what the candidates depend on.
type request struct {
	from, to int
	margin   float64
	spare    bool
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
// first: the best by each first hop, and for each number of hops the best whose hops
// all look as sure as the margin asks of so many. Hops are judged in their state when
// they are first open from the beginning of that hour on.
func (p *planner) candidates(q request, frames, slot int) ([]chain, error) {
	bucket := 1
	for bucket < frames {
		bucket *= 2
	}
	r, err := p.rated(rating{p.hour(slot), bucket})
	if err != nil {
		return nil, err
	}
	if list, ok := r.chains[q]; ok {
		return list, nil
	}
	list := p.byFirstHop(r, q)
	slices.SortStableFunc(list, compareChains)
	list = list[:min(len(list), candidateCount)]
	for hops := 1; hops <= p.opt.Relays+1; hops++ {
		best := p.towards(r, search{q.to, math.Pow(q.margin, 1/float64(hops)) - ratingError, q.spare}, hops-1)
		c := chain{hops: r.follow(best, q.from, q.to, hops-1), cost: best[hops-1][q.from].cost}
		same := func(o chain) bool { return slices.Equal(o.hops, c.hops) }
		if len(c.hops) > 0 && !repeats(c.stations()) && !slices.ContainsFunc(list, same) {
			list = append(list, c)
		}
	}
	slices.SortStableFunc(list, compareChains)
	r.chains[q] = list
	return list, nil
}

// ratingError is how far the chance of a hop may be off for its state being
// rounded.
const ratingError = 0.01

func compareChains(a, b chain) int {
	return cmp.Or(cmp.Compare(a.cost, b.cost), cmp.Compare(len(a.hops), len(b.hops)))
}

// byFirstHop is the best chain by each first hop.
func (p *planner) byFirstHop(r *rated, q request) (list []chain) {
	best := p.towards(r, search{q.to, 0, q.spare}, p.opt.Relays)
	for _, h := range r.out[q.from] {
		c := chain{hops: []hop{h.hop}, cost: h.cost}
		if h.to != q.to {
			if p.opt.Relays == 0 || q.spare && p.spare[h.to] {
				continue
			}
			rest := best[p.opt.Relays-1][h.to]
			if rest.next < 0 {
				continue
			}
			c.cost += rest.cost
			c.hops = append(c.hops, r.follow(best, h.to, q.to, p.opt.Relays-1)...)
		}
		if !repeats(c.stations()) {
			list = append(list, c)
		}
	}
	return list
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
func (g *ground) rated(k rating) (*rated, error) {
	if r, ok := g.ratings[k]; ok {
		return r, nil
	}
	x, err := g.exchangesOf(k.frames)
	if err != nil {
		return nil, err
	}
	r := &rated{out: make([][]ratedHop, len(g.net.Stations)), best: map[search][][]step{}, chains: map[request][]chain{}}
	for from := range g.net.Stations {
		for to := range g.net.Stations {
			for c := range g.net.Channels {
				h := hop{from, to, c}
				if from == to || !g.hasOffset(h) {
					continue
				}
				open := g.opens(h, k.slot)
				if open < 0 {
					continue
				}
				if chance, slots := g.rate(x, g.state(h, g.midway(open, k.frames), k.frames), k.frames); chance > 0.01 {
					wait := float64(open - k.slot)
					r.out[from] = append(r.out[from], ratedHop{h, -math.Log(chance) + slotCost*(slots+wait), chance})
				}
			}
		}
	}
	g.ratings[k] = r
	return r, nil
}

// opens is the first slot open to a hop from a slot on, within a day; −1 = none.
func (g *ground) opens(h hop, slot int) int {
	a, b := g.answers[g.at(h.from, h.channel)], g.answers[g.at(h.to, h.channel)]
	limit := min(slot+int(g.net.Slots.PerDay()), g.total)
	for k := a.next(slot, limit); k < limit; k = a.next(k, limit) {
		if k = b.next(k, limit); k < limit && a.has(k) {
			return k
		}
	}
	return -1
}

// score is a state, rounded, for messages of one length.
type score struct {
	state
	frames int
}

// rate is the chance that a hop succeeds at all, to half a decibel, and roughly
// how many slots it takes.
func (g *ground) rate(x *exchanges, s state, frames int) (chance, slots float64) {
	if s.forward.Kind == link.Closed || s.forward.Mean() < 0.02 {
		return 0, 0
	}
	coarse := func(d link.Direction) link.Direction {
		d.Margin, d.SD = math.Round(d.Margin*2)/2, math.Round(d.SD*2)/2
		d.Margin = min(max(d.Margin, -30), 30)
		return d
	}
	k := score{state{coarse(s.forward), coarse(s.reverse)}, frames}
	chance, ok := g.scores[k]
	if !ok {
		id := x.eval.NewLeg(delivery.Leg{
			Open:       func(int) bool { return true },
			Directions: func(int) (forward, reverse link.Direction) { return k.forward, k.reverse },
		})
		chance = x.eval.Reach(id, 0)[0]
		g.scores[k] = chance
	}
	mean := min(max(s.forward.Mean(), 0.01), 0.99)
	rounds := 1 + math.Log(float64(frames)+1)/-math.Log(1-mean)
	pause := float64(2*g.net.Slots.Turnaround + g.net.Slots.Ack)
	return chance, (float64(frames)/mean + rounds*pause) / (1 - g.net.Slots.Busy)
}

// towards finds the cheapest ways to a destination over hops of at least some
// chance: [hops − 1][station], with at most so many hops.
func (p *planner) towards(r *rated, q search, relays int) [][]step {
	best := r.best[q]
	for h := len(best); h <= relays; h++ {
		list := make([]step, len(r.out))
		for v := range list {
			list[v] = step{math.Inf(1), -1}
			for i, e := range r.out[v] {
				cost := e.cost
				switch {
				case v == q.to || e.chance < q.level:
					continue
				case e.to != q.to && (h == 0 || q.spare && p.spare[e.to]):
					continue
				case e.to != q.to:
					cost += best[h-1][e.to].cost
				}
				if cost < list[v].cost {
					list[v] = step{cost, i}
				}
			}
		}
		best = append(best, list)
	}
	r.best[q] = best
	return best
}

// follow lists the hops of the cheapest way, begun with level + 1 hops allowed.
func (r *rated) follow(best [][]step, from, to, level int) (hops []hop) {
	for v := from; v != to && level >= 0; level-- {
		next := best[level][v].next
		if next < 0 {
			return nil
		}
		e := r.out[v][next]
		hops = append(hops, e.hop)
		v = e.to
	}
	return hops
}

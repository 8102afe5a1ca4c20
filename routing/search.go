package routing

import (
	"cmp"
	"context"
	"slices"

	"farhop/routing/delivery"
)

// found is a finished chain as the search sees it.
type found struct {
	key
	scene   *scene
	hops    []int // indexes into scene.hops
	arrival *delivery.Result
}

// goal is something a search looks for among all chains. A branch is given up
// when every goal calls it hopeless.
type goal interface {
	// offer shows the goal a finished chain.
	offer(f *found)
	// hopeless reports whether nothing that the prospect can become matters.
	hopeless(p *prospect) bool
}

// stem is a beginning that chains have in common, with those that go on from it
// as far as they were asked for.
type stem struct {
	prefix *delivery.Prefix
	next   map[int]*stem // by hop
}

// extend is the stem with one relay hop more.
func (t *stem) extend(s *scene, hop int) *stem {
	n, ok := t.next[hop]
	if !ok {
		if t.next == nil {
			t.next = map[int]*stem{}
		}
		n = &stem{prefix: s.eval.Extend(t.prefix, s.hops[hop].leg)}
		t.next[hop] = n
	}
	return n
}

// search goes through the chains from one station to another, most promising
// first, and leaves out only what a bound proves hopeless.
type search struct {
	scene  *scene
	bounds *bounds
	from   int
	to     int
	levels int    // most hops
	barred []bool // stations not to be passed; the stations of the branch itself are among them
	avoid  int    // a hop not to be used, −1 = none
	blind  int    // sendings over a last hop without answer, 0 = not allowed
	goals  []goal
	effort int     // extensions left before the search gives up
	least  float64 // chance below which a chain does not count

	stations, channels, hops []int // the branch
}

// run searches from a prefix at the origin. It reports whether the search was
// complete.
func (s *search) run(ctx context.Context, start *stem) (complete bool, err error) {
	s.barred = append([]bool(nil), s.barred...)
	if len(s.barred) == 0 {
		s.barred = make([]bool, len(s.scene.net.Stations))
	}
	s.barred[s.from] = true
	s.stations = append(s.stations[:0], s.from)
	s.least = leastChance * start.prefix.Chance()
	if err := s.visit(ctx, start); err != nil {
		return false, err
	}
	return s.effort > 0, nil
}

// visit goes on from the end of the branch.
func (s *search) visit(ctx context.Context, at *stem) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	for _, next := range s.moves(at.prefix) {
		if s.effort <= 0 {
			return nil
		}
		if s.hopeless(next) {
			continue
		}
		s.effort--
		if err := s.take(ctx, at, next); err != nil {
			return err
		}
	}
	return nil
}

// take follows one hop and what comes after it.
func (s *search) take(ctx context.Context, at *stem, next *prospect) error {
	h := &s.scene.hops[next.hop]
	s.push(next.hop)
	defer s.pop()
	if h.to == s.to {
		s.finish(at.prefix, next.hop)
		return nil
	}
	return s.visit(ctx, at.extend(s.scene, next.hop))
}

func (s *search) push(hop int) {
	h := &s.scene.hops[hop]
	s.stations, s.channels, s.hops = append(s.stations, h.to), append(s.channels, h.channel), append(s.hops, hop)
	s.barred[h.to] = true
}

func (s *search) pop() {
	n := len(s.hops) - 1
	s.barred[s.stations[n+1]] = false
	s.stations, s.channels, s.hops = s.stations[:n+1], s.channels[:n], s.hops[:n]
}

// finish shows the branch, now a whole chain, to the goals.
func (s *search) finish(p *delivery.Prefix, last int) {
	f := s.scene.finish(p, last, s.blind)
	if f.arrival.Chance() < s.least {
		return
	}
	f.hops = slices.Clone(s.hops)
	f.key.hops, f.stations, f.channels = len(s.hops), slices.Clone(s.stations), slices.Clone(s.channels)
	for _, g := range s.goals {
		g.offer(f)
	}
}

// finish evaluates a last hop.
func (s *scene) finish(p *delivery.Prefix, last, blind int) *found {
	h := &s.hops[last]
	var a *delivery.Result
	if blind > 0 && h.unheard {
		a = s.eval.Blind(p, h.leg, blind)
	} else {
		a = s.eval.Finish(p, h.leg)
	}
	half := a.Quantile(0.5)
	if half < 0 {
		half = never
	}
	return &found{scene: s, arrival: a, key: key{chance: tenths(a.Chance()), time: half, air: perDelivery(a.Airtime(), a.Chance())}}
}

// evaluate works out one chain from a stem at its origin.
func (s *scene) evaluate(at *stem, hops []int, blind int) *found {
	for _, i := range hops[:len(hops)-1] {
		at = at.extend(s, i)
	}
	f := s.finish(at.prefix, hops[len(hops)-1], blind)
	f.hops, f.key.hops = hops, len(hops)
	f.stations = []int{s.hops[hops[0]].from}
	for _, i := range hops {
		f.stations, f.channels = append(f.stations, s.hops[i].to), append(f.channels, s.hops[i].channel)
	}
	return f
}

func (s *search) hopeless(p *prospect) bool {
	if p.promise < s.least*(1-1e-6) || p.promise == 0 {
		return true
	}
	for _, g := range s.goals {
		if !g.hopeless(p) {
			return false
		}
	}
	return true
}

// moves lists the hops that may come next, the most promising first.
func (s *search) moves(p *delivery.Prefix) []*prospect {
	v := s.stations[len(s.stations)-1]
	left := s.levels - len(s.hops)
	shared := &branch{search: s, prefix: p, left: left}
	var moves []*prospect
	for _, i := range s.scene.out[v] {
		h := &s.scene.hops[i]
		if s.barred[h.to] || i == s.avoid || h.to != s.to && s.bounds.away(h.to) >= left {
			continue
		}
		next := &prospect{branch: shared, hop: i}
		next.promise = next.chance()
		moves = append(moves, next)
	}
	slices.SortStableFunc(moves, func(a, b *prospect) int { return cmp.Compare(b.promise, a.promise) })
	return moves
}

// branch is what the prospects of one place in the search have in common.
type branch struct {
	search *search
	prefix *delivery.Prefix
	left   int // hops left
	masses map[*bound][]float64
}

// prospect is a branch with one hop more: what it can become is worked out only
// as far as goals ask. All its figures are optimistic.
type prospect struct {
	*branch
	hop     int
	promise float64
	per     []float64 // chance by node of the net-wide deviate
}

// next is the station that the chain goes to first.
func (p *prospect) next() int {
	if len(p.search.stations) > 1 {
		return p.search.stations[1]
	}
	return p.search.scene.hops[p.hop].to
}

// chances is the chance of delivery by node of the net-wide deviate.
func (p *prospect) chances() []float64 {
	if p.per == nil {
		p.per = p.within(p.search.bounds.whole())
	}
	return p.per
}

// within is what a bound says of the prospect, by node.
func (p *prospect) within(b *bound) []float64 {
	m, ok := p.masses[b]
	if !ok {
		if p.masses == nil {
			p.masses = map[*bound][]float64{}
		}
		m = b.mass(p.prefix)
		p.masses[b] = m
	}
	return b.per(m, b.via[p.left][p.hop])
}

// chance is the chance of delivery by the deadline.
func (p *prospect) chance() float64 {
	return p.search.bounds.whole().total(p.chances())
}

// later reports whether surely less than half of all tries arrive by the end of
// a slot.
func (p *prospect) later(slot int) bool {
	if slot >= p.search.scene.clock.slots-1 {
		return p.chance() < half
	}
	if slot < 0 {
		return true
	}
	b := p.search.bounds.by(slot)
	return b.total(p.within(b)) < half
}

// half is the share that counts as reaching the 50 % time, with slack for
// rounding on either side.
const half = 0.5 - 1e-9

// air is the frames keyed for a delivered message.
func (p *prospect) air() int {
	chance := p.chance()
	if chance <= 0 {
		return never
	}
	hops := 1
	if to := p.search.scene.hops[p.hop].to; to != p.search.to {
		hops += p.search.bounds.away(to)
	}
	return perDelivery(p.prefix.Frames()/chance+float64(hops*p.search.scene.frames)-1e-6, 1)
}

// could is the best key that the prospect may end with, given what is known of
// its figures.
func (p *prospect) could(chance, time, air int) key {
	h := &p.search.scene.hops[p.hop]
	k := key{chance: chance, time: time, air: air, hops: len(p.search.hops) + 1}
	if h.to != p.search.to {
		k.hops += p.search.bounds.away(h.to)
	}
	k.stations = append(slices.Clone(p.search.stations), h.to)
	k.channels = append(slices.Clone(p.search.channels), h.channel)
	return k
}

package routing

import (
	"cmp"
	"context"
	"slices"
)

// pair looks for the two chains without a common relay of which at least one
// delivers most surely: rounded to a tenth of a point, then by the first chain's
// place in the asked order, then by the second's relays, stations and channels. A
// second chain that adds nothing to be seen goes by its place in the asked order.
//
// One after the other, the second is sent when the rounds of the first hop of
// the first are used up. Given the net-wide deviate that excludes delivery by the
// first, so the chances add up. At once, they are independent given the deviate.
type pair struct {
	ctx     context.Context
	order   Order
	both    bool
	start   *stem
	partner func(goal) *search // a search for second chains
	given   map[int]*second    // by first hop of the first chain

	chance int // tenths of a point
	exact  float64
	lead   *found
	follow *found
	err    error
	cut    bool // a search for a partner was cut short
}

// second is what is known of second chains once the first hop of the first is.
type second struct {
	start *stem
	most  float64 // no second chain adds more
	sharp bool    // most is what the best of them adds
}

// after is what is known of second chains when the first begins with a hop.
func (g *pair) after(hop int) *second {
	if g.given[hop] == nil {
		s := g.partner(nil)
		at := g.start
		if !g.both {
			at = s.root(s.scene.eval.GivenUp(g.start.prefix, s.scene.hops[hop].leg))
		}
		g.given[hop] = &second{start: at, most: s.scene.mean(s.most(at))}
	}
	return g.given[hop]
}

// most bounds, by node, the chance of any chain from a stem at the origin.
func (s *search) most(at *stem) []float64 {
	per := slices.Clone(at.share())
	free := s.ahead()[s.levels][s.from]
	if free == nil {
		return make([]float64, len(per))
	}
	for n := range per {
		per[n] *= free[n]
	}
	if begin := max(at.prefix.Earliest(), 0); s.bounds.tabled(s, begin, s.scene.clock.slots-1) {
		b := s.bounds.whole(begin)
		for n, x := range b.per(at.mass(b), &b.value[s.levels][s.from]) {
			per[n] = min(per[n], x)
		}
	}
	return per
}

func (g *pair) hopeless(p *prospect) bool {
	if g.err != nil {
		return true
	}
	if g.lead == nil {
		return false
	}
	could := tenths(g.could(p) + slack)
	if could != g.chance {
		return could < g.chance
	}
	return g.order.beyond(p, g.lead.key)
}

// could is the most that a pair led by what the prospect becomes could reach.
func (g *pair) could(p *prospect) float64 {
	s := p.search
	if !g.both {
		first := p.hop
		if len(s.hops) > 0 {
			first = s.hops[0]
		}
		return min(1, p.chance()+g.after(first).most)
	}
	other := s.most(g.start)
	for n, x := range p.chances() {
		other[n] = 1 - (1-min(x, 1))*(1-min(other[n], 1))
	}
	return s.scene.mean(other)
}

func (g *pair) offer(f *found) {
	if g.err != nil || g.lead != nil && slices.Equal(f.hops, g.lead.hops) {
		return
	}
	after := g.after(f.hops[0])
	floor := 0
	if g.lead != nil {
		floor = g.chance
		if g.order.compare(f.key, g.lead.key) > 0 {
			floor++
		}
	}
	if tenths(f.arrival.Chance()+after.most+slack) < max(floor, f.chance+1) && f.chance < floor {
		return
	}
	if !g.apart(f, nil).linked() {
		return
	}
	g.sharpen(f.hops[0], after)
	could := tenths(f.arrival.Chance() + after.most + slack)
	if could < floor {
		return
	}
	if could > f.chance {
		m := &mate{lead: f, weights: f.scene.eval.Weights(), both: g.both, floor: max(floor, f.chance+1)}
		g.run(g.apart(f, m), after.start)
		if m.found != nil {
			g.lead, g.follow, g.chance, g.exact = f, m.found, m.chance, m.exact
			return
		}
	}
	if f.chance >= floor {
		g.merits(f, after)
	}
}

// sharpen finds the most that any second chain adds, once the first hop of the
// first is used up. All that begin with the hop share its receiver as a relay, or
// are that hop.
func (g *pair) sharpen(hop int, after *second) {
	if after.sharp || g.both {
		return
	}
	after.sharp = true
	top := &peak{}
	s := g.partner(top)
	if to := s.scene.hops[hop].to; to != s.to {
		s.barred[to] = true
	} else {
		s.avoid = hop
	}
	g.run(s, after.start)
	if !g.cut {
		after.most = min(after.most, top.chance)
	}
}

// peak looks for the largest chance alone.
type peak struct{ chance float64 }

func (g *peak) offer(f *found) { g.chance = max(g.chance, f.arrival.Chance()) }

func (g *peak) hopeless(p *prospect) bool {
	return p.promise <= g.chance || p.chance() <= g.chance
}

// merits takes the best chain apart from one to which no second adds anything
// that shows.
func (g *pair) merits(f *found, after *second) {
	b := &best{order: g.order, k: 1}
	g.run(g.apart(f, b), g.start)
	if len(b.list) == 0 {
		return
	}
	g.lead, g.follow, g.chance = f, b.list[0], f.chance
	m := &mate{lead: f, weights: f.scene.eval.Weights(), both: g.both}
	g.exact = m.joint(f.scene.evaluate(after.start, b.list[0].hops, options{}).arrival.ByDeviate)
}

// run searches for second chains.
func (g *pair) run(s *search, start *stem) {
	complete, err := s.run(g.ctx, start)
	g.err, g.cut = cmpErr(g.err, err), g.cut || !complete
}

// apart is a search for chains that share no relay with one.
func (g *pair) apart(f *found, goal goal) *search {
	return apart(g.partner(goal), f)
}

// apart keeps a search off the relays of a chain and off the chain itself.
func apart(s *search, f *found) *search {
	for _, v := range f.stations[1 : len(f.stations)-1] {
		s.barred[v] = true
	}
	if len(f.hops) == 1 {
		s.avoid = f.hops[0]
	}
	return s
}

// mate looks for the best second chain to go with a first.
type mate struct {
	lead    *found
	weights []float64
	both    bool
	floor   int // tenths of a point below which nothing matters

	chance int
	exact  float64
	found  *found
}

// joint is the chance that at least one of the two delivers.
func (g *mate) joint(per []float64) float64 {
	sum := g.lead.arrival.Chance()
	for n, w := range g.weights {
		x := per[n]
		if g.both {
			x = min(x, 1) * (1 - g.lead.arrival.ByDeviate[n])
		}
		sum += w * x
	}
	return sum
}

func (g *mate) offer(f *found) {
	exact := g.joint(f.arrival.ByDeviate)
	chance := tenths(exact)
	if chance < g.floor {
		return
	}
	if g.found == nil || chance > g.chance || chance == g.chance && compareChains(f.key, g.found.key) < 0 {
		g.found, g.chance, g.exact = f, chance, exact
	}
}

func (g *mate) hopeless(p *prospect) bool {
	could := tenths(g.joint(p.chances()) + slack)
	switch {
	case could < g.floor:
		return true
	case g.found == nil:
		return false
	case could != g.chance:
		return could < g.chance
	}
	return compareChains(p.could(0, 0, 0), g.found.key) > 0
}

// compareChains orders by relays, then stations, then channels.
func compareChains(a, b key) int {
	return cmp.Or(cmp.Compare(a.hops, b.hops), slices.Compare(a.stations, b.stations), slices.Compare(a.channels, b.channels))
}

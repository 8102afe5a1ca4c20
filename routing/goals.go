package routing

import "slices"

// best keeps the k first chains in an order.
type best struct {
	order Order
	k     int
	list  []*found // in order
}

func (g *best) offer(f *found) {
	i, same := slices.BinarySearchFunc(g.list, f, func(a, b *found) int { return g.order.compare(a.key, b.key) })
	if i >= g.k || same {
		return
	}
	g.list = slices.Insert(g.list, i, f)
	g.list = g.list[:min(len(g.list), g.k)]
}

func (g *best) hopeless(p *prospect) bool {
	if len(g.list) < g.k {
		return g.k == 0
	}
	return g.order.beyond(p, g.list[g.k-1].key)
}

// beyond reports whether nothing that the prospect can become comes before the
// chain with that key.
func (o Order) beyond(p *prospect, last key) bool {
	switch o {
	case Soonest:
		return o.late(p, 0, last)
	case Lightest:
		return o.compare(p.could(0, 0, p.air()), last) > 0
	default:
		chance := tenths(p.chance() + slack)
		if chance != last.chance {
			return chance < last.chance
		}
		return o.late(p, chance, last)
	}
}

// slack covers the rounding of sums of bounds.
const slack = 1e-9

// late is beyond for equal chances: the 50 % time decides, then the chains.
func (o Order) late(p *prospect, chance int, last key) bool {
	if last.time == never {
		return p.chance() < half && o.compare(p.could(chance, never, 0), last) > 0
	}
	if p.later(last.time) {
		return true
	}
	return o.compare(p.could(chance, last.time, 0), last) > 0 && p.later(last.time-1)
}

// unbeaten keeps the chains that no other beats in chance, time and airtime.
type unbeaten struct{ list []*found }

func (g *unbeaten) offer(f *found) {
	for range 2 {
		for _, o := range g.list {
			if o.beats(f.key) || slices.Equal(o.hops, f.hops) {
				return
			}
		}
		f.settle() // only what is not beaten without it
	}
	g.list = slices.DeleteFunc(g.list, func(o *found) bool { return f.beats(o.key) })
	g.list = append(g.list, f)
}

func (g *unbeaten) hopeless(p *prospect) bool {
	for _, o := range g.list {
		if o.outdoes(p) {
			return true
		}
	}
	return false
}

// outdoes reports whether the chain surely beats whatever the prospect can
// become.
func (f *found) outdoes(p *prospect) bool {
	chance, air := tenths(p.chance()+slack), p.air()
	if f.chance < chance || f.air > air {
		return false
	}
	better := f.chance > chance || f.air < air
	if f.time == never {
		return better && p.chance() < half
	}
	if better {
		return p.later(f.time - 1)
	}
	return p.later(f.time)
}

// half is the share that counts as reaching the 50 % time, with slack for
// rounding on either side.
const half = 0.5 - 1e-9

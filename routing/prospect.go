package routing

import (
	"math"
	"slices"
)

// branch is what the prospects of one place in the search have in common.
type branch struct {
	*stem
	search *search
	left   int // hops left
}

// prospect is a branch with one hop more: what it can become is worked out only
// as far as goals ask. All its figures are optimistic.
type prospect struct {
	*branch
	hop     int
	promise float64   // chance of delivery by the deadline
	rough   float64   // the smaller, the sooner it is looked at
	per     []float64 // the same by node of the net-wide deviate
	onward  []float64 // by node: chance from the hop's start on, if time were no matter
	tabled  bool      // the table has been asked as well
	version int       // of the bounds asked
}

// weigh works out the chance of delivery as though time were no matter from here
// on. It takes what it needs of some room and returns the rest.
func (p *prospect) weigh(room []float64) []float64 {
	b := p.search.bounds
	h := &p.search.scene.hops[p.hop]
	rest, reach := p.search.free[p.left-1][h.to], b.reach(p.hop)
	n := len(reach)
	p.per, p.onward, room = room[:n:n], room[n:2*n:2*n], room[2*n:]
	for n, x := range p.share() {
		p.onward[n] = reach[n] * rest[n]
		p.per[n] = x * p.onward[n]
	}
	if b.via != nil {
		p.time(b.via[p.left][p.hop])
	}
	p.promise = p.search.scene.mean(p.per)
	p.rough = h.slow + b.guess[h.to] - nat*math.Log(p.promise)
	return room
}

// time takes into account when the hop may start.
func (p *prospect) time(via []float64) {
	b := p.search.bounds
	p.version = b.version
	mass := p.spellsOf(b.spells)
	count, nodes := b.spells.count(), len(p.per)
	if via == nil {
		clear(p.per) // no way from there
		return
	}
	for n := range p.per {
		sum := 0.0
		for k := range count {
			sum += mass[n*count+k] * via[k*nodes+n]
		}
		p.per[n] = min(p.per[n], sum)
	}
}

// renew takes bounds into account that have become closer.
func (p *prospect) renew() {
	if b := p.search.bounds; p.version != b.version && b.suits(p.search) {
		p.time(b.via[p.left][p.hop])
		p.promise = p.search.scene.mean(p.per)
	}
}

// nat is how many slots a chance smaller by e weighs when deciding what to look at
// first.
const nat = 2000

// refine takes the table into account, once it is worth it.
func (p *prospect) refine() {
	b := p.search.bounds
	if p.tabled || !b.tabled(p.search, p.search.begin, p.search.scene.clock.slots-1) {
		return
	}
	p.tabled = true
	table := b.whole(p.search.begin)
	for n, x := range table.per(p.mass(table), table.via[p.left][p.hop]) {
		p.per[n] = min(p.per[n], x)
	}
	p.promise = p.search.scene.mean(p.per)
}

// chance is the chance of delivery by the deadline.
func (p *prospect) chance() float64 {
	p.refine()
	return p.promise
}

// chances is the same by node of the net-wide deviate.
func (p *prospect) chances() []float64 {
	p.refine()
	return p.per
}

// next is the station that the chain goes to first.
func (p *prospect) next() int {
	if len(p.search.stations) > 1 {
		return p.search.stations[1]
	}
	return p.search.scene.hops[p.hop].to
}

// hops is the fewest hops from the end of the branch to the destination by way
// of the prospect's.
func (p *prospect) hops() int {
	if to := p.search.scene.hops[p.hop].to; to != p.search.to {
		return 1 + p.search.bounds.away(to)
	}
	return 1
}

// later reports whether surely less than half of all tries arrive by the end of
// a slot.
func (p *prospect) later(slot int) bool {
	s := p.search.scene
	if p.promise < half {
		return true
	}
	if slot >= s.clock.slots-1 {
		return p.chance() < half
	}
	sum, last := 0.0, slot+2-s.least(p.hops())
	if last > 0 {
		begun := p.before(min(last, s.clock.slots))
		for n, w := range s.eval.Weights() {
			sum += w * p.onward[n] * begun[n]
		}
	}
	if sum < half {
		return true
	}
	if !p.search.bounds.tabled(p.search, p.search.begin, slot) {
		return false
	}
	b := p.search.bounds.by(p.search.begin, slot)
	return s.mean(b.per(p.mass(b), b.via[p.left][p.hop])) < half
}

// air is the frames keyed for a delivered message.
func (p *prospect) air() int {
	chance := p.chance()
	if chance <= 0 {
		return never
	}
	return perDelivery(p.frames()/chance+float64(p.hops()*p.search.scene.frames)-1e-6, 1)
}

// could is the best key that the prospect may end with, given what is known of
// its figures.
func (p *prospect) could(chance, time, air int) key {
	h := &p.search.scene.hops[p.hop]
	k := key{chance: chance, time: time, air: air, hops: len(p.search.hops) + p.hops()}
	k.stations = append(slices.Clone(p.search.stations), h.to)
	k.channels = append(slices.Clone(p.search.channels), h.channel)
	return k
}

package routing

import "math"

// spells are the stretches of time that links are bounded in.
type spells struct {
	grade    int
	quarters int   // a spell
	first    []int // slot in which each begins, and the number of slots at the end
}

// Spells come in two grades: so many quarters of an hour each at least, and no more
// spells than that.
const (
	coarse = iota // for every search
	fine          // for those that try many hops
	grades
)

var (
	leastQuarters = [grades]int{4, 1}
	mostSpells    = [grades]int{12, 32}
)

func (s *scene) newSpells(grade int) *spells {
	most := mostSpells[grade]
	p := &spells{grade: grade, quarters: max(leastQuarters[grade], (s.quarters()+most-1)/most)}
	for slot := range s.clock.slots {
		for p.of(s, slot) >= len(p.first) {
			p.first = append(p.first, slot)
		}
	}
	p.first = append(p.first, s.clock.slots)
	return p
}

// count is how many spells there are.
func (p *spells) count() int { return len(p.first) - 1 }

// of is the spell of a slot.
func (p *spells) of(s *scene, slot int) int { return s.eval.Quarter(slot) / p.quarters }

// mostSlots is how many open slots the rounds of a hop take at most. Where others
// may take slots, a Chernoff bound on the slots left free.
func (s *scene) mostSlots() int {
	n := &s.net.Slots
	block := n.Block
	if block == 0 || block > s.frames {
		block = s.frames
	}
	blocks := (s.frames + block - 1) / block
	usable := n.Rounds * (s.frames + blocks*(2*n.Turnaround+n.Ack))
	if n.Busy == 0 {
		return usable
	}
	free := 1 - n.Busy
	for open := usable; ; open += 1 + open/32 {
		x := float64(usable) / float64(open)
		if x < free && float64(open)*(x*math.Log(x/free)+(1-x)*math.Log((1-x)/n.Busy)) > 28 {
			return open
		}
	}
}

// reach is where in time a hop leads that may start from some slot of a spell.
type reach struct {
	from, upto      int // spells in which it can start
	soonest, latest int // spells in which the next hop may start; none where soonest is above latest
	done            bool
}

// reaches is where a hop leads from a spell; false if it can't start any more. A
// hop takes no longer than its rounds and no less than its frames.
func (s *scene) reaches(p *spells, h *hop, spell int) (r reach, ok bool) {
	t := h.tally
	first, last := int(t.before(p.first[spell])), int(t.before(p.first[spell+1]-1))
	n := len(t.slots)
	if first == n {
		return r, false
	}
	spellOf := func(rank int) int { return p.of(s, int(t.slots[rank])) }
	r.from, r.upto = spellOf(first), spellOf(min(last, n-1))
	r.soonest, r.latest = p.count(), p.count()-1
	short := s.least(1)
	r.done = first+short <= n
	if end := first + short + s.gap() - 1; end < n {
		r.soonest = p.of(s, min(int(t.slots[end])+1, s.clock.slots-1))
	}
	if end := last + s.longest - 1; end < n {
		r.latest = p.of(s, min(int(t.slots[end])+1, s.clock.slots-1))
	}
	return r, true
}

// timed bounds, by hops left, first hop, spell and node, the chance to reach the
// destination when the hop may start in the spell: the largest chance of the hop in
// the spells it can start in, times that of what follows in the spells that can
// come after it.
func (b *bounds) timed() [][][]float64 {
	s := b.scene
	s.reachAll(b.spells)
	size := b.spells.count() * len(s.eval.Weights())
	via := make([][][]float64, b.levels+1)
	value := make([][]float64, len(b.dist))
	sure := b.room.floats(size) // not b.sure: by spell
	for i := range sure {
		sure[i] = 1
	}
	value[b.to] = sure
	for j := 1; j <= b.levels; j++ {
		via[j] = make([][]float64, len(s.hops))
		next := make([][]float64, len(b.dist))
		next[b.to] = sure
		for i := range s.hops {
			h := &s.hops[i]
			switch {
			case value[h.to] == nil || h.from == b.to || h.to == b.off:
				continue
			case h.to == b.to && j > 1:
				via[j][i] = via[1][i]
			default:
				via[j][i] = b.room.floats(size)
				b.timedVia(i, value[h.to], via[j][i])
			}
			if next[h.from] == nil {
				next[h.from] = b.room.floats(size)
			}
			for k, x := range via[j][i] {
				next[h.from][k] = max(next[h.from][k], x)
			}
		}
		value = next
	}
	return via
}

// timedVia is timed for one hop, given what follows it.
func (b *bounds) timedVia(hop int, rest, row []float64) {
	s, p := b.scene, b.spells
	h := &s.hops[hop]
	nodes := len(b.sure)
	chances := b.reachIn(hop)
	if h.to == b.to && b.sharp {
		chances = b.arrivesIn(hop, chances)
	}
	for g := range p.count() {
		r, ok := s.reaches(p, h, g)
		if !ok {
			break
		}
		if h.to == b.to {
			r.soonest, r.latest = r.from, r.from
			if !r.done {
				continue
			}
		}
		if r.soonest > r.latest {
			continue
		}
		for n := range nodes {
			done, follow := 0.0, 0.0
			for k := r.from; k <= r.upto; k++ {
				done = max(done, chances[k*nodes+n])
			}
			if done == 0 {
				continue
			}
			for k := r.soonest; k <= r.latest; k++ {
				follow = max(follow, rest[k*nodes+n])
			}
			row[g*nodes+n] = done * follow
		}
	}
}

// closely is how many hops a search tries before spells are taken finer, and lastly
// how many more for each state of a last hop before these are looked at exactly.
const (
	closely = 48
	lastly  = 6
)

// sharpen makes the bounds closer for a search that has tried enough for it to pay:
// in finer spells, without ways back to where it started, and then with last hops
// that must be done by the deadline.
func (b *bounds) sharpen(s *search) {
	if b.via == nil || s.tried < closely+b.scene.work()/800 || b.spells.grade == fine && b.sharp {
		return
	}
	if b.states == 0 {
		for _, i := range b.scene.in[b.to] {
			b.states += len(b.scene.hops[i].starts(b.scene))
		}
	}
	sharp := b.sharp || s.tried >= closely+b.scene.work()/800+lastly*b.states
	if b.spells.grade == coarse || sharp {
		b.spells, b.off, b.sharp = b.scene.spells[fine], s.from, sharp
		b.via = b.timed()
		b.version++
	}
}

// work is about how many figures finer bounds take to work out, hops left aside.
func (s *scene) work() int { return len(s.hops) * s.spells[fine].count() * len(s.eval.Weights()) }

// suits reports whether the bounds hold for a search.
func (b *bounds) suits(s *search) bool { return b.off < 0 || b.off == s.from || s.barred[b.off] }

// suit makes the bounds hold for a search.
func (b *bounds) suit(s *search) {
	if b.via == nil || b.suits(s) {
		return
	}
	b.spells, b.off = b.scene.spells[coarse], -1
	if b.plain == nil {
		b.plain = b.timed()
	}
	b.via = b.plain
	b.version++
}

// arrivesIn bounds the chance that a last hop is done by the deadline if it starts
// in a spell, by spell and node: no more than the one given.
func (b *bounds) arrivesIn(hop int, most []float64) []float64 {
	s := b.scene
	h, nodes := &s.hops[hop], len(b.sure)
	if b.blind > 0 && h.unheard() {
		return most
	}
	row := make([]float64, len(most))
	quarter := -1
	for rank, slot := range h.tally.slots {
		q := s.eval.Quarter(int(slot))
		if q == quarter {
			continue // later in the same state
		}
		quarter = q
		k, room := q/b.spells.quarters, len(h.tally.slots)-rank
		if h.still {
			q = 0
		}
		for n := range nodes {
			first, pmf := s.eval.Times(h.leg, q, n, false)
			sum := 0.0
			for _, x := range pmf[:min(max(room-first+1, 0), len(pmf))] {
				sum += x
			}
			at := &row[k*nodes+n]
			*at = min(max(*at, sum), most[k*nodes+n])
		}
	}
	return row
}

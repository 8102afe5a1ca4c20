package routing

import "math"

// spells are the stretches of time that links are bounded in: at least an hour
// each, and no more than mostSpells of them.
type spells struct {
	quarters int   // a spell
	first    []int // slot in which each begins, and the number of slots at the end
	longest  int   // open slots that a hop takes at most, but for a chance below 1e-12
}

const (
	leastQuarters = 4
	mostSpells    = 12
)

func (s *scene) newSpells() spells {
	p := spells{quarters: max(leastQuarters, (s.quarters()+mostSpells-1)/mostSpells)}
	for slot := range s.clock.slots {
		for p.of(s, slot) >= len(p.first) {
			p.first = append(p.first, slot)
		}
	}
	p.first = append(p.first, s.clock.slots)
	p.longest = s.longest()
	return p
}

// count is how many spells there are.
func (p *spells) count() int { return len(p.first) - 1 }

// of is the spell of a slot.
func (p *spells) of(s *scene, slot int) int { return s.eval.Quarter(slot) / p.quarters }

// longest is how many open slots the rounds of a hop take at most. Where others
// may take slots, a Chernoff bound on the slots left free.
func (s *scene) longest() int {
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

// reaches is the spells in which a hop can start if it may from some slot of a
// spell, and the last in which the next may start after it.
func (s *scene) reaches(h *hop, spell int) (from, upto, after int, ok bool) {
	p, t := &s.spells, h.tally
	first, last := t.before(p.first[spell]), t.before(p.first[spell+1]-1)
	if int(first) == len(t.slots) {
		return 0, 0, 0, false
	}
	from = p.of(s, int(t.slots[first]))
	upto, after = from, p.count()-1
	if int(last) < len(t.slots) {
		upto = p.of(s, int(t.slots[last]))
	} else {
		upto = p.of(s, int(t.slots[len(t.slots)-1]))
	}
	if end := int(last) + p.longest - 1; end < len(t.slots) {
		after = p.of(s, min(int(t.slots[end])+1, s.clock.slots-1))
	}
	return from, upto, after, true
}

// timed bounds, by hops left, first hop, spell and node, the chance to reach the
// destination when the hop may start in the spell: the largest chance of the hop in
// the spells it can start in, times that of what follows in the spells that can
// come after it. A hop takes no longer than its rounds, so a link that will be good
// much later does not count now.
func (b *bounds) timed() [][][]float64 {
	s := b.scene
	size := s.spells.count() * len(s.eval.Weights())
	via := make([][][]float64, b.levels+1)
	value := make([][]float64, len(b.dist))
	value[b.to] = repeated(1, size)
	for j := 1; j <= b.levels; j++ {
		via[j] = make([][]float64, len(s.hops))
		next := make([][]float64, len(b.dist))
		next[b.to] = value[b.to]
		for i := range s.hops {
			h := &s.hops[i]
			if value[h.to] == nil || h.from == b.to {
				continue
			}
			via[j][i] = b.timedVia(i, value[h.to])
			if next[h.from] == nil {
				next[h.from] = make([]float64, size)
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
func (b *bounds) timedVia(hop int, rest []float64) []float64 {
	s := b.scene
	h := &s.hops[hop]
	nodes := len(s.eval.Weights())
	row := make([]float64, len(rest))
	reach := b.reachIn(hop)
	for g := range s.spells.count() {
		from, upto, after, ok := s.reaches(h, g)
		if !ok {
			break
		}
		for n := range nodes {
			done, follow := 0.0, 0.0
			for k := from; k <= upto; k++ {
				done = max(done, reach[k*nodes+n])
			}
			for k := from; k <= after; k++ {
				follow = max(follow, rest[k*nodes+n])
			}
			row[g*nodes+n] = done * follow
		}
	}
	return row
}

func repeated(x float64, n int) []float64 {
	list := make([]float64, n)
	for i := range list {
		list[i] = x
	}
	return list
}

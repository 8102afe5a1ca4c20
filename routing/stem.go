package routing

import (
	"sync"

	"farhop/routing/delivery"
)

// stem is a beginning that chains have in common, with those that go on from it
// as far as they were asked for and what bounds need of it. Searches may share one.
type stem struct {
	prefix *delivery.Prefix

	mu     sync.Mutex
	next   map[int]*stem // by hop
	begun  map[int][]float64
	shared sync.Once
	by     []float64 // see share
	keyed  sync.Once
	sent   float64 // see frames
	spread [grades]sync.Once
	spells [grades][]float64   // see spellsOf
	masses map[int64][]float64 // see mass
}

// mostKept is how many figures the stems of a scene keep for other searches.
const mostKept = 8 << 20

// extend is the stem with one relay hop more.
func (t *stem) extend(s *scene, hop int) *stem {
	t.mu.Lock()
	n, ok := t.next[hop]
	t.mu.Unlock()
	if ok {
		return n
	}
	n = &stem{prefix: s.eval.Extend(t.prefix, s.hops[hop].leg)}
	if s.kept.Add(int64(n.prefix.Size())) > mostKept {
		return n
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	if other, ok := t.next[hop]; ok {
		return other // the same, from another search
	}
	if t.next == nil {
		t.next = map[int]*stem{}
	}
	t.next[hop] = n
	return n
}

// share is the chance that the next hop may start by the deadline, by node of the
// net-wide deviate.
func (t *stem) share() []float64 {
	t.shared.Do(func() { t.by = t.prefix.ByDeviate() })
	return t.by
}

// frames is the frames keyed so far, on average.
func (t *stem) frames() float64 {
	t.keyed.Do(func() { t.sent = t.prefix.Frames() })
	return t.sent
}

// spellsOf is the chance that the next hop may start in each spell, by node.
func (t *stem) spellsOf(p *spells) []float64 {
	t.spread[p.grade].Do(func() { t.spells[p.grade] = t.prefix.Between(p.first) })
	return t.spells[p.grade]
}

// before is the chance that the next hop may start before a slot, by node.
func (t *stem) before(slot int) []float64 {
	t.mu.Lock()
	defer t.mu.Unlock()
	b, ok := t.begun[slot]
	if !ok {
		if t.begun == nil {
			t.begun = map[int][]float64{}
		}
		b = t.prefix.Between([]int{0, slot})
		t.begun[slot] = b
	}
	return b
}

// mostMasses is how many tables a stem keeps its masses for.
const mostMasses = 8

// mass is the chance that the next hop may start in each bucket of a table, by node.
func (t *stem) mass(b *bound) []float64 {
	t.mu.Lock()
	defer t.mu.Unlock()
	m, ok := t.masses[b.id]
	if !ok {
		if len(t.masses) >= mostMasses || t.masses == nil {
			t.masses = map[int64][]float64{}
		}
		m = t.prefix.Between(b.edges)
		t.masses[b.id] = m
	}
	return m
}

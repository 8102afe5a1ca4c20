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
	shared sync.Once
	by     []float64 // see share
	keyed  sync.Once
	sent   float64 // see frames
	summed sync.Once
	sums   [][]float64 // see begun
}

// extend is the stem with one relay hop more.
func (t *stem) extend(s *scene, hop int) *stem {
	t.mu.Lock()
	n, ok := t.next[hop]
	t.mu.Unlock()
	if ok {
		return n
	}
	n = &stem{prefix: s.eval.Extend(t.prefix, s.hops[hop].leg)}
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

// running is, by node and slot, the chance that the next hop may start by then.
func (t *stem) running() [][]float64 {
	t.summed.Do(func() {
		t.sums = make([][]float64, len(t.share()))
		for n := range t.sums {
			row, sum := t.prefix.Row(n), 0.0
			for i, x := range row {
				sum += x
				row[i] = sum
			}
			t.sums[n] = row
		}
	})
	return t.sums
}

// begun is the chance that the next hop may start before a slot.
func (t *stem) begun(node, slot int) float64 {
	row := t.running()[node]
	if slot <= 0 || len(row) == 0 {
		return 0
	}
	return row[min(slot, len(row))-1]
}

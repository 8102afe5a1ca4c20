package routing

import "farhop/routing/delivery"

// stem is a beginning that chains have in common, with those that go on from it
// as far as they were asked for and what bounds need of it. It serves one
// goroutine.
type stem struct {
	prefix *delivery.Prefix
	next   map[int]*stem // by hop
	by     []float64     // see share
	sums   [][]float64   // see begun
	masses map[*bound][]float64
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

// share is the chance that the next hop may start by the deadline, by node of the
// net-wide deviate.
func (t *stem) share() []float64 {
	if t.by == nil {
		t.by = t.prefix.ByDeviate()
	}
	return t.by
}

// begun is the chance that the next hop may start before a slot.
func (t *stem) begun(node, slot int) float64 {
	if t.sums == nil {
		t.sums = make([][]float64, len(t.share()))
		for n := range t.sums {
			row, sum := t.prefix.Row(n), 0.0
			for i, x := range row {
				sum += x
				row[i] = sum
			}
			t.sums[n] = row
		}
	}
	row := t.sums[node]
	if slot <= 0 || len(row) == 0 {
		return 0
	}
	return row[min(slot, len(row))-1]
}

// mass is the chance that the next hop may start in each bucket of a bound, by
// node.
func (t *stem) mass(b *bound) []float64 {
	m, ok := t.masses[b]
	if !ok {
		if t.masses == nil {
			t.masses = map[*bound][]float64{}
		}
		m = make([]float64, b.nodes*b.count)
		t.begun(0, 0)
		for n, sums := range t.sums {
			last := 0.0
			for k := 0; k < b.count && b.start(k) < len(sums); k++ {
				sum := sums[min(b.start(k+1), b.slots, len(sums))-1]
				m[n*b.count+k] = sum - last
				last = sum
			}
		}
		t.masses[b] = m
	}
	return m
}

package delivery

// busyTable turns usable slots into open ones. When a share of the open slots
// is taken by others, each for itself, n usable slots take m open ones with the
// negative binomial chance C(m−1, n−1)(1−b)ⁿ b^(m−n).
type busyTable struct {
	share float64
	rows  []busyRow // by usable slots
}

type busyRow struct {
	first int // open slots of chance[0]
	of    []float64
}

// row returns the distribution of open slots for n usable ones.
func (t *busyTable) row(n int) busyRow {
	if len(t.rows) == 0 {
		t.rows = append(t.rows, busyRow{of: []float64{1}})
	}
	for len(t.rows) <= n {
		t.rows = append(t.rows, t.rows[len(t.rows)-1].further(t.share))
	}
	return t.rows[n]
}

// further adds one usable slot.
func (r busyRow) further(share float64) busyRow {
	next := busyRow{first: r.first + 1}
	v := 0.0
	for i := 0; i < len(r.of) || v > leastShare; i++ {
		v *= share
		if i < len(r.of) {
			v += (1 - share) * r.of[i]
		}
		if v < leastShare && len(next.of) == 0 && i+1 < len(r.of) {
			next.first++
			continue
		}
		next.of = append(next.of, v)
	}
	return next
}

// spread maps pmf, in which entry i is for first + i usable slots, to open slots.
func (t *busyTable) spread(first int, pmf []float64) (int, []float64) {
	if t.share == 0 || len(pmf) == 0 {
		return first, pmf
	}
	lo, last := t.row(first).first, t.row(first+len(pmf)-1)
	out := make([]float64, last.first+len(last.of)-lo)
	for i, v := range pmf {
		if v == 0 {
			continue
		}
		r := t.row(first + i)
		addScaled(out[r.first-lo:][:len(r.of)], v, r.of)
	}
	return lo, out
}

package delivery

import (
	"math"
	"sync"
)

// busyTable turns usable slots into open ones. When a share of the open slots
// is taken by others, each for itself, n usable slots take m open ones with the
// negative binomial chance C(m−1, n−1)(1−b)ⁿ b^(m−n).
type busyTable struct {
	share float64
	mu    sync.Mutex
	rows  []busyRow // by usable slots; grows under mu
}

type busyRow struct {
	first int // open slots of chance[0]
	of    []float64
}

// row returns the distribution of open slots for n usable ones.
func (t *busyTable) row(n int) busyRow { return t.upTo(n)[n] }

// upTo returns the distributions for 0…n usable slots. They don't change.
func (t *busyTable) upTo(n int) []busyRow {
	t.mu.Lock()
	defer t.mu.Unlock()
	if len(t.rows) == 0 {
		t.rows = append(t.rows, busyRow{of: []float64{1}})
	}
	for len(t.rows) <= n {
		t.rows = append(t.rows, t.rows[len(t.rows)-1].further(t.share))
	}
	return t.rows
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

// spread turns usable slots into open ones, which it puts into some room.
func (t *busyTable) spread(room *[]float64, s spans) spans {
	if t.share == 0 || s.n == 0 {
		return s
	}
	rows := t.upTo(s.first + s.n - 1)[s.first : s.first+s.n]
	lo, last := rows[0].first, rows[s.n-1]
	nodes := len(s.of) / s.n
	out := spans{first: lo, n: last.first + len(last.of) - lo}
	*room = sized(*room, nodes*out.n)
	out.of = *room
	for j := range nodes {
		to := out.node(j)
		for i, v := range s.node(j) {
			if v > leastShare {
				addScaled(to[rows[i].first-lo:], v, rows[i].of)
			}
		}
	}
	return out
}

// tail is how many entries spans need to be later by so many usable slots.
func (t *busyTable) tail(more int) int {
	if t.share == 0 {
		return 0
	}
	return more * int(math.Log(leastShare)/math.Log(t.share))
}

// later adds so many usable slots to spans of open ones that end with a tail for
// it, in their room.
func (t *busyTable) later(s spans, more int) spans {
	s.first += more
	if t.share > 0 && s.n > 0 {
		for j := range len(s.of) / s.n {
			delay(s.node(j), t.share, more)
		}
	}
	return s
}

// delay replaces row by its convolution with so many geometric distributions
// that miss with chance b; entry i of the result is for i + more. Three at a time
// hide that each has to wait for the entry before.
func delay(row []float64, b float64, more int) {
	a := 1 - b
	for ; more >= 3; more -= 3 {
		u, v, w := 0.0, 0.0, 0.0
		for i, x := range row {
			u = b*u + a*x
			v = b*v + a*u
			w = b*w + a*v
			row[i] = w
		}
	}
	for ; more > 0; more-- {
		u := 0.0
		for i, x := range row {
			u = b*u + a*x
			row[i] = u
		}
	}
}

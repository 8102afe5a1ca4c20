package reinforce

import "math/bits"

// wired is the open links of a net as sets of stations.
type wired struct {
	n, words int
	out, in  []uint64 // row v: whom v reaches, who reaches v, directly
}

func newWired(n int) *wired {
	w := &wired{n: n, words: (n + 63) / 64}
	w.out, w.in = make([]uint64, n*w.words), make([]uint64, n*w.words)
	return w
}

func (w *wired) join(from, to int) {
	w.out[from*w.words+to/64] |= 1 << (to % 64)
	w.in[to*w.words+from/64] |= 1 << (from % 64)
}

// row is the set of the stations that v reaches directly.
func (w *wired) row(v int) []uint64 { return w.out[v*w.words : (v+1)*w.words] }

// reached puts into seen the stations that source reaches, itself included,
// without the station gone (−1: none). O(n²/64).
func (w *wired) reached(source, gone int, seen, todo []uint64) {
	w.reachedUntil(source, gone, nil, seen, todo)
}

// reachedUntil is reached, but stops once every station wanted is seen, and
// reports whether that is so. Nothing wanted (nil) never stops it.
func (w *wired) reachedUntil(source, gone int, want, seen, todo []uint64) bool {
	clear(seen)
	clear(todo)
	seen[source/64] |= 1 << (source % 64)
	todo[source/64] |= 1 << (source % 64)
	for {
		if want != nil && within(want, seen) {
			return true
		}
		v := first(todo)
		if v < 0 {
			return false
		}
		todo[v/64] &^= 1 << (v % 64)
		for i, row := range w.row(v) {
			more := row &^ seen[i]
			if gone >= 0 && gone/64 == i {
				more &^= 1 << (gone % 64)
			}
			seen[i] |= more
			todo[i] |= more
		}
	}
}

// within reports whether the first set lies in the second.
func within(set, in []uint64) bool {
	for i, w := range set {
		if w&^in[i] != 0 {
			return false
		}
	}
	return true
}

// first is the lowest member of a set, −1 when it is empty.
func first(set []uint64) int {
	for i, w := range set {
		if w != 0 {
			return i*64 + bits.TrailingZeros64(w)
		}
	}
	return -1
}

func has(set []uint64, v int) bool { return set[v/64]>>(v%64)&1 != 0 }

// grid is a set of ordered pairs of the stations 0…n−1.
type grid struct {
	n   int
	set []bool
}

func newGrid(n int) grid                    { return grid{n, make([]bool, n*n)} }
func (g grid) has(from, to int) bool        { return g.set[from*g.n+to] }
func (g grid) put(from, to int, value bool) { g.set[from*g.n+to] = value }

func (g grid) count() int {
	n := 0
	for _, is := range g.set {
		if is {
			n++
		}
	}
	return n
}

// losses tells which ordered pairs of the first members stations have a chain,
// which of these keep one whichever single other station is lost, and whose loss
// takes the chain from any. O(m·n²/64) plus O(n³/64) for each station of the last.
func (w *wired) losses(members int) (joined, firm grid, single []int) {
	joined, firm = newGrid(members), newGrid(members)
	seen, todo := make([]uint64, w.words), make([]uint64, w.words)
	for s := range members {
		w.reached(s, -1, seen, todo)
		for t := range members {
			if t != s && has(seen, t) {
				joined.put(s, t, true)
				firm.put(s, t, true)
			}
		}
	}
	for v := range w.n {
		if !w.matters(v, seen, todo) {
			continue
		}
		lost := false
		for s := range members {
			if s == v {
				continue
			}
			w.reached(s, v, seen, todo)
			for t := range members {
				if t != v && t != s && joined.has(s, t) && !has(seen, t) {
					firm.put(s, t, false)
					lost = true
				}
			}
		}
		if lost {
			single = append(single, v)
		}
	}
	return joined, firm, single
}

// matters reports whether some chain needs v: then, and only then, a station
// that v hears loses with v a station that hears v.
func (w *wired) matters(v int, seen, todo []uint64) bool {
	from, to := w.in[v*w.words:(v+1)*w.words], w.row(v)
	for u := range w.n {
		if u != v && has(from, u) && !w.reachedUntil(u, v, to, seen, todo) {
			return true
		}
	}
	return false
}

package cut

import (
	"cmp"
	"context"
	"math/bits"
	"slices"
	"sync"

	"farhop/mesh/workers"
)

// StationPair is two stations whose loss together leaves some ordered pair of
// other stations without any chain that neither loss alone does.
type StationPair struct {
	A, B      int // A < B
	PairsLost int // all ordered pairs of other stations lost with both
}

// stationPairs lists the pairs that fail together, most pairs lost first, then
// by number. Exact.
//
// Candidates: if {u, v} loses (a, b) and neither does alone, then some chain
// from a to b passes u but not v, coming from x and going on to w, and without
// both x has no chain to w. If x has one without u, then v dominates w from x
// in the net without u, and x → u → w is there without v: (x, w) itself is such
// a pair. If it has none for either of the two stations, both are single points
// of failure. So the dominator trees without u of all x that u hears find every
// pair save those of two single points; these are compared by number, the pairs
// lost with both against those lost with one or the other.
// About m dominator trees, and O(n + m + n²/64) a pair found.
func stationPairs(ctx context.Context, a *arcs, single *losses) ([]StationPair, error) {
	found, err := jointCuts(ctx, a)
	if err != nil {
		return nil, err
	}
	either, err := newEither(ctx, a, single)
	if err != nil {
		return nil, err
	}
	var pairs []StationPair
	for u := range a.n {
		for v := u + 1; v < a.n; v++ {
			if found[u*a.n+v] || single.station[u] > 0 && single.station[v] > 0 {
				pairs = append(pairs, StationPair{A: u, B: v})
			}
		}
	}
	err = workers.Run(ctx, len(pairs), func() (func(int), func()) {
		c := newClosure(a.n)
		return func(i int) {
			p := &pairs[i]
			u, v := int32(p.A), int32(p.B)
			lost := either.before(u, v) - c.connected(a, u, v)
			if found[p.A*a.n+p.B] || lost > either.lost(u, v) {
				p.PairsLost = lost
			}
		}, nil
	})
	pairs = slices.DeleteFunc(pairs, func(p StationPair) bool { return p.PairsLost == 0 })
	slices.SortStableFunc(pairs, func(x, y StationPair) int { return cmp.Compare(y.PairsLost, x.PairsLost) })
	return pairs, err
}

// jointCuts marks at u·n + v, u < v, the pairs for which some x that one of them
// hears loses some w that hears it with both, but not with either alone.
func jointCuts(ctx context.Context, a *arcs) ([]bool, error) {
	found := make([]bool, a.n*a.n)
	var lock sync.Mutex
	err := workers.Run(ctx, a.n, func() (func(int), func()) {
		d, mine := newDominators(a.n), make([]bool, a.n*a.n)
		work := func(u int) {
			for _, x := range a.into(int32(u)) {
				d.build(a, x, int32(u))
				for _, w := range a.out(int32(u)) {
					if d.pre[w] <= 0 { // not reached, or x itself
						continue
					}
					for i := d.idom[d.pre[w]]; i > 0; i = d.idom[i] {
						v := int(d.vertex[i])
						mine[min(u, v)*a.n+max(u, v)] = true
					}
				}
			}
		}
		return work, func() {
			lock.Lock()
			defer lock.Unlock()
			for i, is := range mine {
				found[i] = found[i] || is
			}
		}
	})
	return found, err
}

// either knows how many pairs are lost with one station or another, from the
// dominator trees of all roots.
type either struct {
	a           *arcs
	enter, size []int32 // at root·n + station; size 0: not reached
	reached     []int   // ordered pairs from and to a station
	single      *losses
}

func newEither(ctx context.Context, a *arcs, single *losses) (*either, error) {
	x := &either{
		a: a, single: single, reached: make([]int, a.n),
		enter: make([]int32, a.n*a.n), size: make([]int32, a.n*a.n),
	}
	err := workers.Run(ctx, a.n, func() (func(int), func()) {
		d := newDominators(a.n)
		return func(root int) {
			d.build(a, int32(root), none)
			for i := range d.n {
				at := root*a.n + int(d.vertex[i])
				x.enter[at], x.size[at] = d.enter[i], d.size[i]
			}
		}, nil
	})
	for root := range a.n {
		for v := range a.n {
			if root != v && x.size[root*a.n+v] > 0 {
				x.reached[root]++
				x.reached[v]++
			}
		}
	}
	return x, err
}

// before returns the connected ordered pairs that do not touch u or v.
func (x *either) before(u, v int32) int {
	n := x.single.connected - x.reached[u] - x.reached[v]
	if x.size[int(u)*x.a.n+int(v)] > 0 {
		n++
	}
	if x.size[int(v)*x.a.n+int(u)] > 0 {
		n++
	}
	return n
}

// lost returns the ordered pairs of stations other than u and v that are lost
// with u alone or with v alone. O(n).
func (x *either) lost(u, v int32) int {
	n, total := x.a.n, 0
	for root := range n {
		if root == int(u) || root == int(v) {
			continue
		}
		su, sv := int(x.size[root*n+int(u)]), int(x.size[root*n+int(v)])
		eu, ev := int(x.enter[root*n+int(u)]), int(x.enter[root*n+int(v)])
		switch {
		case su > 0 && sv > 0 && eu < ev && ev < eu+su: // u dominates v
			total += su - 2
		case su > 0 && sv > 0 && ev < eu && eu < ev+sv:
			total += sv - 2
		default:
			total += max(su-1, 0) + max(sv-1, 0)
		}
	}
	return total
}

// closure counts connected pairs with sets of stations held as bits.
type closure struct {
	*walker
	words int
	reach []uint64 // by component, words each
	size  []int
	order []int32 // stations by component
}

func newClosure(n int) *closure {
	return &closure{walker: newWalker(n), words: (n + 63) / 64, size: make([]int, n), order: make([]int32, n)}
}

// connected returns the ordered pairs of stations other than u and v that have
// a chain without u and v. O(n + m + n²/64).
func (c *closure) connected(a *arcs, u, v int32) int {
	count := c.components(a, u, v)
	need := count * c.words
	if cap(c.reach) < need {
		c.reach = make([]uint64, need)
	}
	c.reach = c.reach[:need]
	clear(c.reach)
	clear(c.size)
	members := c.byGroup(count)
	total := 0
	for k, at := 0, 0; k < count; k++ {
		mine := c.reach[k*c.words : (k+1)*c.words]
		end := at + c.size[k]
		for ; at < end; at++ {
			x := members[at]
			mine[x/64] |= 1 << (x % 64)
			for _, y := range a.out(x) {
				if g := c.group[y]; g != none && int(g) != k && mine[y/64]&(1<<(y%64)) == 0 {
					for i, word := range c.reach[int(g)*c.words : (int(g)+1)*c.words] {
						mine[i] |= word
					}
				}
			}
		}
		reached := 0
		for _, word := range mine {
			reached += bits.OnesCount64(word)
		}
		total += c.size[k] * (reached - 1)
	}
	return total
}

// byGroup returns the stations that have a component, by component.
func (c *closure) byGroup(count int) []int32 {
	left := int32(0)
	for _, g := range c.group {
		if g != none {
			c.size[g]++
			left++
		}
	}
	at := int32(0)
	for k := range count {
		c.next[k] = at
		at += int32(c.size[k])
	}
	for x, g := range c.group {
		if g != none {
			c.order[c.next[g]] = int32(x)
			c.next[g]++
		}
	}
	return c.order[:left]
}

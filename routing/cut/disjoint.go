package cut

import (
	"cmp"
	"slices"
)

// disjoint finds relay-disjoint chains as a maximum flow in which every relay passes
// at most one unit, by shortest augmenting chains (Ford and Fulkerson; Edmonds
// and Karp). The flow is kept as the station before and after each relay on its
// chain. One value serves one goroutine.
type disjoint struct {
	a          *arcs
	prev, succ []int32 // none for a relay without flow
	// Every station has an entry side and an exit side; from holds the side a
	// search came from, at 2·station for the entry and 2·station + 1 for the
	// exit, none when it has not come there.
	from  []int32
	queue []int32
}

func newDisjoint(a *arcs) *disjoint {
	return &disjoint{a: a, prev: make([]int32, a.n), succ: make([]int32, a.n), from: make([]int32, 2*a.n)}
}

// separate returns the largest number of chains from s to t that share no relay,
// the shortest first and equal ones by their stations, and a smallest set of
// relays that separates t from s: of all such sets the one nearest to s,
// ascending. By Menger's theorem the two are equally many. A direct link counts
// as a chain of its own; then no set separates them and cut is nil, else it is
// not nil. No chain can be shortened by one of its own links. O(chains·(n + m)).
func (f *disjoint) separate(s, t int32) (chains [][]int, cut []int) {
	for v := range f.prev {
		f.prev[v], f.succ[v] = none, none
	}
	for f.search(s, t) {
		f.augment(s, t)
	}
	direct := f.a.has(s, t)
	if direct {
		chains = append(chains, []int{int(s), int(t)})
	} else {
		cut = []int{}
		for v := range f.prev {
			if f.from[2*v] != none && f.from[2*v+1] == none && int32(v) != t {
				cut = append(cut, v)
			}
		}
	}
	for _, v := range f.a.out(s) {
		if v != t && f.prev[v] == s {
			chains = append(chains, f.chain(s, t, v))
		}
	}
	slices.SortFunc(chains, func(x, y []int) int {
		return cmp.Or(cmp.Compare(len(x), len(y)), slices.Compare(x, y))
	})
	return chains, cut
}

// search looks breadth first for a way from s to t in what the flow leaves over,
// the direct link aside.
func (f *disjoint) search(s, t int32) bool {
	for i := range f.from {
		f.from[i] = none
	}
	out := 2*s + 1
	f.from[2*s], f.from[out] = out, out
	f.queue = append(f.queue[:0], out)
	visit := func(side, from int32) {
		if f.from[side] == none {
			f.from[side] = from
			f.queue = append(f.queue, side)
		}
	}
	for i := 0; i < len(f.queue); i++ {
		side := f.queue[i]
		v := side / 2
		if side%2 == 0 { // entry: on through the relay if it is free, else back along its chain
			if f.prev[v] == none {
				visit(side+1, side)
			} else if f.prev[v] != s {
				visit(2*f.prev[v]+1, side)
			}
			continue
		}
		for _, y := range f.a.out(v) {
			switch {
			case y == t && v != s && f.succ[v] != t:
				f.from[2*t] = side
				return true
			case y == t || y == s:
			default:
				visit(2*y, side)
			}
		}
		if v != s && f.prev[v] != none { // exit of a used relay: its unit may be taken back
			visit(side-1, side)
		}
	}
	return false
}

// augment adds the way that search found to the flow.
func (f *disjoint) augment(s, t int32) {
	type link struct{ u, v int32 }
	var add, drop []link
	for side := 2 * t; side != 2*s+1; side = f.from[side] {
		u, v := f.from[side]/2, side/2
		switch {
		case u == v:
		case side%2 == 0:
			add = append(add, link{u, v})
		default: // back along u's chain: the unit from v to u is taken back
			drop = append(drop, link{v, u})
		}
	}
	for _, l := range drop {
		f.succ[l.u], f.prev[l.v] = none, none
	}
	for _, l := range add {
		if l.u != s {
			f.succ[l.u] = l.v
		}
		if l.v != t {
			f.prev[l.v] = l.u
		}
	}
}

// chain returns the chain of the flow from s through first to t, each time
// going on to the farthest of its stations that the present one has a link to.
func (f *disjoint) chain(s, t, first int32) []int {
	whole := []int32{s}
	for v := first; v != t; v = f.succ[v] {
		whole = append(whole, v)
	}
	whole = append(whole, t)
	chain := []int{int(s)}
	for i := 0; i < len(whole)-1; {
		j := len(whole) - 1
		for j > i+1 && (i == 0 && j == len(whole)-1 || !f.a.has(whole[i], whole[j])) {
			j--
		}
		chain = append(chain, int(whole[j]))
		i = j
	}
	return chain
}

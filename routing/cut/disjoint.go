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

	whole, place []int32 // a chain, and the place of its stations, none for others
}

func newDisjoint(a *arcs) *disjoint {
	f := &disjoint{a: a, prev: make([]int32, a.n), succ: make([]int32, a.n), from: make([]int32, 2*a.n), place: make([]int32, a.n)}
	for v := range f.place {
		f.place[v] = none
	}
	return f
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

// augment adds the way that search found to the flow: first it takes back the
// units that the way runs against, then it puts down its own.
func (f *disjoint) augment(s, t int32) {
	for side := 2 * t; side != 2*s+1; side = f.from[side] {
		if v, before := side/2, f.from[side]/2; side%2 == 1 && v != before {
			f.succ[v], f.prev[before] = none, none
		}
	}
	for side := 2 * t; side != 2*s+1; side = f.from[side] {
		v, before := side/2, f.from[side]/2
		if side%2 == 1 || v == before {
			continue
		}
		if before != s {
			f.succ[before] = v
		}
		if v != t {
			f.prev[v] = before
		}
	}
}

// chain returns the chain of the flow from s through first to t, each time
// going on to the farthest of its stations that the present one has a link to.
func (f *disjoint) chain(s, t, first int32) []int {
	f.whole = append(f.whole[:0], s)
	for v := first; v != t; v = f.succ[v] {
		f.whole = append(f.whole, v)
	}
	f.whole = append(f.whole, t)
	for i, v := range f.whole {
		f.place[v] = int32(i)
	}
	chain := []int{int(s)}
	for i, last := int32(0), int32(len(f.whole)-1); i < last; {
		next := i + 1
		for _, v := range f.a.out(f.whole[i]) {
			if p := f.place[v]; p > next && (i > 0 || p < last) {
				next = p
			}
		}
		i = next
		chain = append(chain, int(f.whole[i]))
	}
	for _, v := range f.whole {
		f.place[v] = none
	}
	return chain
}

package cut

import (
	"cmp"
	"slices"
)

// none marks a station that is not there.
const none = int32(-1)

// walker finds strongly connected components and what a station can reach. It
// keeps its working space between calls; one walker serves one goroutine.
type walker struct {
	number, low []int32 // Tarjan's; number 0 = not yet seen
	group       []int32 // component, in reverse topological order
	next        []int32 // next arc to try
	path, stack []int32
	queue       []int32
	seen        []bool
}

func newWalker(n int) *walker {
	return &walker{
		number: make([]int32, n), low: make([]int32, n), group: make([]int32, n),
		next: make([]int32, n), seen: make([]bool, n),
	}
}

// components numbers the strongly connected components of a without the
// stations u and v (none: nobody is left out) and returns their count; w.group
// holds each station's component, none for those left out. A component comes
// before all those that have an arc into it. O(n + m). Tarjan, Depth-first
// search and linear graph algorithms, SIAM J. Comput. 1 (1972), without
// recursion.
func (w *walker) components(a *arcs, u, v int32) int {
	clear(w.number)
	for i := range w.group {
		w.group[i] = none
	}
	count, clock := int32(0), int32(0)
	for root := range int32(a.n) {
		if root == u || root == v || w.number[root] != 0 {
			continue
		}
		clock, count = w.tarjan(a, root, u, v, clock, count)
	}
	return int(count)
}

func (w *walker) tarjan(a *arcs, root, u, v, clock, count int32) (int32, int32) {
	enter := func(x int32) {
		clock++
		w.number[x], w.low[x], w.next[x] = clock, clock, a.first[x]
		w.path, w.stack = append(w.path, x), append(w.stack, x)
	}
	enter(root)
	for len(w.path) > 0 {
		x := w.path[len(w.path)-1]
		if e := w.next[x]; e < a.first[x+1] {
			w.next[x]++
			switch y := a.head[e]; {
			case y == u || y == v:
			case w.number[y] == 0:
				enter(y)
			case w.group[y] == none:
				w.low[x] = min(w.low[x], w.number[y])
			}
			continue
		}
		w.path = w.path[:len(w.path)-1]
		if k := len(w.path); k > 0 {
			w.low[w.path[k-1]] = min(w.low[w.path[k-1]], w.low[x])
		}
		if w.low[x] == w.number[x] {
			for done := false; !done; {
				y := w.stack[len(w.stack)-1]
				w.stack = w.stack[:len(w.stack)-1]
				w.group[y] = count
				done = y == x
			}
			count++
		}
	}
	return clock, count
}

// reach marks in w.seen what from can reach along the arcs (against them with
// back), without the station skip, from itself included, and returns how many
// that are. It is valid until the next call. O(n + m).
func (w *walker) reach(a *arcs, from, skip int32, back bool) int {
	clear(w.seen)
	w.seen[from] = true
	w.queue = append(w.queue[:0], from)
	for i := 0; i < len(w.queue); i++ {
		near := a.out(w.queue[i])
		if back {
			near = a.into(w.queue[i])
		}
		for _, y := range near {
			if y != skip && !w.seen[y] {
				w.seen[y] = true
				w.queue = append(w.queue, y)
			}
		}
	}
	return len(w.queue)
}

// groups returns the strongly connected components, the largest first, equal
// ones by their lowest station, members ascending.
func groups(a *arcs) [][]int {
	w := newWalker(a.n)
	all := make([][]int, w.components(a, none, none))
	for v := range a.n {
		all[w.group[v]] = append(all[w.group[v]], v)
	}
	slices.SortFunc(all, func(x, y []int) int {
		return cmp.Or(cmp.Compare(len(y), len(x)), cmp.Compare(x[0], y[0]))
	})
	return all
}

// largest returns the number of the largest component that w.components found
// among count (the one with the lowest station when several are as large) and
// that lowest station; none when there is nobody.
func (w *walker) largest(count int) (group, lowest int32) {
	size := make([]int32, count)
	for _, c := range w.group {
		if c != none {
			size[c]++
		}
	}
	group, lowest = none, none
	for v, c := range w.group {
		if c != none && (group == none || size[c] > size[group]) {
			group, lowest = c, int32(v)
		}
	}
	return group, lowest
}

// roles sorts out who hears and is heard over open links, ascending.
func roles(a *arcs) (isolated, deaf, unheard []int) {
	for v := range int32(a.n) {
		hears, heard := len(a.into(v)) > 0, len(a.out(v)) > 0
		switch {
		case !hears && !heard:
			isolated = append(isolated, int(v))
		case !hears:
			deaf = append(deaf, int(v))
		case !heard:
			unheard = append(unheard, int(v))
		}
	}
	return isolated, deaf, unheard
}

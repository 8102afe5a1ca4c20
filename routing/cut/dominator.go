package cut

// dominators finds the dominator tree of a digraph from one root after another:
// v dominates w when every chain from the root to w passes v. It keeps its
// working space between calls; one value serves one goroutine.
//
// Stations are handled by their preorder number in a depth-first search from
// the root (number 0), where a dominator always has the lower number.
// The algorithm is semi-NCA (Georgiadis, Tarjan and Werneck, Finding dominators
// in practice, J. Graph Algorithms Appl. 10 (2006) 69–94): semidominators as
// Lengauer and Tarjan find them, then the nearest common ancestor in the tree
// built so far. O(n²) at worst, close to linear on real nets.
type dominators struct {
	n      int     // stations reached, root included
	pre    []int32 // preorder number of a station, none if not reached
	vertex []int32 // station of a number
	parent []int32 // number of the depth-first parent
	idom   []int32 // number of the immediate dominator
	size   []int32 // stations in the subtree of the dominator tree
	enter  []int32 // number in a preorder of the dominator tree

	semi, label, anc []int32
	next, path       []int32
}

func newDominators(n int) *dominators {
	d := &dominators{pre: make([]int32, n)}
	for _, p := range []*[]int32{
		&d.vertex, &d.parent, &d.idom, &d.size, &d.enter,
		&d.semi, &d.label, &d.anc, &d.next,
	} {
		*p = make([]int32, n)
	}
	return d
}

// build finds the tree from root in a without the station skip (none: with all).
func (d *dominators) build(a *arcs, root, skip int32) {
	d.search(a, root, skip)
	k := int32(d.n)
	for i := range k {
		d.label[i], d.semi[i], d.anc[i], d.size[i] = i, i, d.parent[i], 1
		d.idom[i] = d.parent[i]
	}
	for i := k - 1; i > 0; i-- {
		semi := d.parent[i]
		for _, u := range a.into(d.vertex[i]) {
			if p := d.pre[u]; p >= 0 {
				semi = min(semi, d.eval(p, i))
			}
		}
		d.semi[i] = semi
	}
	for i := int32(1); i < k; i++ {
		c := d.idom[i]
		for c > d.semi[i] {
			c = d.idom[c]
		}
		d.idom[i] = c
	}
	for i := k - 1; i > 0; i-- {
		d.size[d.idom[i]] += d.size[i]
	}
	d.number()
}

// search numbers the stations that root reaches, depth first.
func (d *dominators) search(a *arcs, root, skip int32) {
	for i := range d.pre {
		d.pre[i] = none
	}
	d.pre[root], d.vertex[0], d.parent[0] = 0, root, 0
	d.next[0] = a.first[root]
	d.n = 1
	d.path = append(d.path[:0], 0)
	for len(d.path) > 0 {
		i := d.path[len(d.path)-1]
		end, e := a.first[d.vertex[i]+1], d.next[i]
		for e < end && (d.pre[a.head[e]] >= 0 || a.head[e] == skip) {
			e++
		}
		d.next[i] = e + 1
		if e >= end {
			d.path = d.path[:len(d.path)-1]
			continue
		}
		j := int32(d.n)
		y := a.head[e]
		d.pre[y], d.vertex[j], d.parent[j], d.next[j] = j, y, i, a.first[y]
		d.n++
		d.path = append(d.path, j)
	}
}

// eval returns the lowest semidominator on the search tree's way from p up to,
// but without, the first station numbered at most i, p's own number when it is
// itself that station; it compresses the way.
func (d *dominators) eval(p, i int32) int32 {
	if p <= i {
		return p
	}
	d.path = d.path[:0]
	for q := p; d.anc[q] > i; q = d.anc[q] {
		d.path = append(d.path, q)
	}
	for j := len(d.path) - 1; j >= 0; j-- {
		q := d.path[j]
		up := d.anc[q]
		if d.semi[d.label[up]] < d.semi[d.label[q]] {
			d.label[q] = d.label[up]
		}
		d.anc[q] = d.anc[up]
	}
	return d.semi[d.label[p]]
}

// number gives every station its place in a preorder of the dominator tree, so
// that dominates is a comparison.
func (d *dominators) number() {
	d.enter[0], d.next[0] = 0, 1
	for i := int32(1); i < int32(d.n); i++ {
		c := d.idom[i]
		d.enter[i] = d.next[c]
		d.next[c] += d.size[i]
		d.next[i] = d.enter[i] + 1
	}
}

// dominates reports whether the station numbered i dominates the one numbered j
// (every station dominates itself).
func (d *dominators) dominates(i, j int32) bool {
	return d.enter[i] <= d.enter[j] && d.enter[j] < d.enter[i]+d.size[i]
}

// bridge returns the arc without which the station numbered i > 0 cannot be
// reached, none if there is no such arc: it comes from the immediate dominator,
// and every other arc into the station from a station it dominates.
func (d *dominators) bridge(a *arcs, i int32) int32 {
	if d.parent[i] != d.idom[i] {
		return none
	}
	v, arc := d.vertex[i], none
	for k := a.firstIn[v]; k < a.firstIn[v+1]; k++ {
		switch p := d.pre[a.inTail[k]]; {
		case p < 0:
		case p == d.idom[i]:
			arc = a.in[k]
		case p < i || !d.dominates(i, p):
			return none
		}
	}
	return arc
}

package cut

import (
	"testing"

	"gonum.org/v1/gonum/graph/flow"
	"gonum.org/v1/gonum/graph/simple"
)

func TestDominatorsPublished(t *testing.T) {
	for _, p := range published(t).Dominators {
		t.Run(p.Name, func(t *testing.T) {
			a, number := p.arcs(false)
			d := newDominators(a.n)
			d.build(a, int32(number[p.Root]), none)
			if d.n != len(p.IDom)+1 {
				t.Fatalf("reached %d stations, want %d", d.n, len(p.IDom)+1)
			}
			for v, want := range p.IDom {
				i := d.pre[number[v]]
				if got := d.vertex[d.idom[i]]; int(got) != number[want] {
					t.Errorf("immediate dominator of %s is station %d, want %s", v, got, want)
				}
			}
		})
	}
}

// TestDominatorsGonum compares every tree with gonum's, and the tree without
// one station with gonum's of the net without it.
func TestDominatorsGonum(t *testing.T) {
	d := newDominators(40)
	randomNets(t, 300, 40, func(t *testing.T, a *arcs) {
		for _, skip := range []int32{none, int32(a.n / 2)} {
			g := simple.NewDirectedGraph()
			for v := range a.n {
				if int32(v) != skip {
					g.AddNode(simple.Node(v))
				}
			}
			for e := range a.head {
				if a.tail[e] != skip && a.head[e] != skip {
					g.SetEdge(simple.Edge{F: simple.Node(a.tail[e]), T: simple.Node(a.head[e])})
				}
			}
			for root := range int32(a.n) {
				if root == skip {
					continue
				}
				d.pre = d.pre[:a.n]
				d.build(a, root, skip)
				tree := flow.Dominators(simple.Node(root), g)
				for v := range int32(a.n) {
					want := tree.DominatorOf(int64(v))
					switch i := d.pre[v]; {
					case v == root:
					case (want == nil) != (i < 0):
						t.Fatalf("root %d without %d: station %d reached: %v", root, skip, v, i >= 0)
					case i >= 0 && want.ID() != int64(d.vertex[d.idom[i]]):
						t.Fatalf("root %d without %d: dominator of %d is %d, want %d", root, skip, v, d.vertex[d.idom[i]], want.ID())
					}
				}
			}
		}
	})
}

// TestDominates checks the ancestor test and the subtree sizes against walks up the tree.
func TestDominates(t *testing.T) {
	randomNets(t, 300, 20, func(t *testing.T, a *arcs) {
		d := newDominators(a.n)
		d.build(a, 0, none)
		size := make([]int32, d.n)
		for j := range int32(d.n) {
			above := map[int32]bool{j: true}
			for i := j; i > 0; {
				i = d.idom[i]
				above[i] = true
			}
			for i := range int32(d.n) {
				if d.dominates(i, j) != above[i] {
					t.Fatalf("dominates(%d, %d) = %v", i, j, !above[i])
				}
				if above[i] {
					size[i]++
				}
			}
		}
		for i, want := range size {
			if d.size[i] != want {
				t.Fatalf("size[%d] = %d, want %d", i, d.size[i], want)
			}
		}
	})
}

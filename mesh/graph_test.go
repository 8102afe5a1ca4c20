package mesh_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/graph"
	"gonum.org/v1/gonum/graph/path"
	"gonum.org/v1/gonum/graph/topo"

	"farhop/mesh"
	"farhop/mesh/meshtest"
)

var (
	_ graph.WeightedDirectedMultigraph = (*mesh.Graph)(nil)
	_ graph.WeightedDirected           = (*mesh.Simple)(nil)
	_ graph.WeightedLine               = mesh.Line{}
	_ graph.WeightedEdge               = mesh.Arc{}
)

func graphOf(t testing.TB, text string) *mesh.Graph {
	t.Helper()
	l, err := mesh.Learn(context.Background(), meshtest.Net(t, text), nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	return l.Graph(0)
}

func ids(nodes graph.Nodes) []int64 {
	var list []int64
	for nodes.Next() {
		list = append(list, nodes.Node().ID())
	}
	return list
}

func TestGraphIsAMultigraph(t *testing.T) {
	g := graphOf(t, "A-B:0.9/0.8 A-B:0.5/-@night B-C:0.7/- D") // A 0, B 1, C 2, D 3
	if got := ids(g.Nodes()); !slices.Equal(got, []int64{0, 1, 2, 3}) {
		t.Errorf("nodes %v", got)
	}
	tests := []struct {
		id       int64
		from, to []int64
	}{
		{0, []int64{1}, []int64{1}},
		{1, []int64{0, 2}, []int64{0}},
		{2, nil, []int64{1}},
		{3, nil, nil},
		{4, nil, nil},
		{-1, nil, nil},
	}
	for _, tt := range tests {
		if from, to := ids(g.From(tt.id)), ids(g.To(tt.id)); !slices.Equal(from, tt.from) || !slices.Equal(to, tt.to) {
			t.Errorf("node %d: from %v, to %v, want %v, %v", tt.id, from, to, tt.from, tt.to)
		}
		if exists := g.Node(tt.id) != nil; exists != (tt.id >= 0 && tt.id < 4) {
			t.Errorf("node %d: exists %v", tt.id, exists)
		}
	}
	lines := g.WeightedLines(0, 1)
	var weights []float64
	for lines.Next() {
		l := lines.WeightedLine()
		if l.From().ID() != 0 || l.To().ID() != 1 || l.ID() != int64(len(weights)) || l.ReversedLine() != l {
			t.Errorf("line %+v", l)
		}
		weights = append(weights, l.Weight())
	}
	if want := []float64{-math.Log(0.9), -math.Log(0.5)}; !slices.Equal(weights, want) {
		t.Errorf("weights %v, want %v", weights, want)
	}
	if g.Lines(0, 1).Len() != 2 || g.Lines(2, 1).Len() != 0 || g.WeightedLines(9, 1).Len() != 0 {
		t.Error("lines are miscounted")
	}
	if !g.HasEdgeFromTo(1, 2) || g.HasEdgeFromTo(2, 1) || !g.HasEdgeBetween(2, 1) || g.HasEdgeBetween(0, 3) || g.HasEdgeFromTo(-1, 7) {
		t.Error("edges are mistaken")
	}
	if call := g.Node(3).(mesh.Node).Call; call != "D" {
		t.Errorf("node 3 is %q", call)
	}
	if got := g.Between(0, 1); len(got) != 2 || got[1].Channel != 1 || len(g.Between(0, 3)) != 0 || g.Between(0, 99) != nil {
		t.Errorf("between A and B: %+v", got)
	}
}

func TestSimpleTakesTheLightest(t *testing.T) {
	g := graphOf(t, "A-B:0.3/0.8 A-B:0.5/0.8@night B-C:0.7/0.1")
	s := g.Simple(func(e mesh.Edge) (float64, bool) { return 1 / e.Decode, e.Decode >= 0.2 })
	e := s.WeightedEdge(0, 1).(mesh.Arc)
	if e.Weight() != 2 || e.Channel != 1 || e.From().ID() != 0 || e.To().ID() != 1 || e.ReversedEdge() != graph.Edge(e) {
		t.Errorf("A → B: %+v", e)
	}
	if e := s.Edge(1, 0).(mesh.Arc); e.Channel != 0 {
		t.Errorf("of equal edges the first channel counts: %+v", e)
	}
	if s.Edge(2, 1) != nil || s.WeightedEdge(2, 1) != nil || s.HasEdgeFromTo(2, 1) || !s.HasEdgeBetween(2, 1) {
		t.Error("an edge that doesn't count is there")
	}
	if w, ok := s.Weight(2, 2); w != 0 || !ok {
		t.Errorf("weight to itself %v, %v", w, ok)
	}
	if w, ok := s.Weight(2, 0); !math.IsInf(w, 1) || ok {
		t.Errorf("weight of no edge %v, %v", w, ok)
	}
	if got := ids(s.From(1)); !slices.Equal(got, []int64{0, 2}) {
		t.Errorf("from B %v", got)
	}
	if got := ids(s.To(1)); !slices.Equal(got, []int64{0}) {
		t.Errorf("to B %v", got)
	}
	if s.From(7).Len() != 0 || s.To(7).Len() != 0 || s.Node(7) != nil || s.Nodes().Len() != 3 {
		t.Error("a station that isn't there")
	}
	odd := g.Simple(func(e mesh.Edge) (float64, bool) { return []float64{math.NaN(), -1}[e.From%2], true })
	if odd.From(0).Len()+odd.From(1).Len() != 0 {
		t.Error("weights that gonum would panic on are kept")
	}
}

// TestGonumRunsOnIt goes the way gonum's own algorithms go.
func TestGonumRunsOnIt(t *testing.T) {
	g := graphOf(t, "A-B:0.9 B-D:0.9 A-C:0.99/0.5 C-D:0.85 D-E:0.5/- F")
	s := g.Simple(func(e mesh.Edge) (float64, bool) { return -math.Log(e.Decode), true })
	chain, w := path.DijkstraFrom(s.Node(0), s).To(4)
	var calls string
	for _, n := range chain {
		calls += n.(mesh.Node).Call
	}
	if want := -math.Log(0.99 * 0.85 * 0.5); calls != "ACDE" || math.Abs(w-want) > 1e-12 {
		t.Errorf("most likely chain %s with %v, want ACDE with %v", calls, w, want)
	}
	if groups := topo.TarjanSCC(s); len(groups) != 3 {
		t.Errorf("%d groups, want ABCD, E, F", len(groups))
	}
	if paths := path.DijkstraAllPaths(s); paths.Weight(0, 5) != math.Inf(1) {
		t.Error("F can be reached")
	}
}

// TestGraphTiesNeverChange: two chains of the same weight, 100 times.
func TestGraphTiesNeverChange(t *testing.T) {
	g := meshtest.Graph(t, "karate").Net(t, 0.5)
	l, err := mesh.Learn(context.Background(), g, nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	var first []int64
	for range 100 {
		s := l.Graph(0).Simple(func(mesh.Edge) (float64, bool) { return 1, true })
		chain, _ := path.DijkstraFrom(s.Node(16), s).To(26) // four or more steps apart, many ways
		var got []int64
		for _, n := range chain {
			got = append(got, n.ID())
		}
		if first == nil {
			first = got
		} else if !slices.Equal(got, first) {
			t.Fatalf("chains %v and %v", first, got)
		}
	}
}

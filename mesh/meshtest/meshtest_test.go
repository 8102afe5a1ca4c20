package meshtest

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/graph/flow"
	"gonum.org/v1/gonum/graph/simple"
	"gonum.org/v1/gonum/graph/topo"

	"farhop/mesh"
)

func TestParse(t *testing.T) {
	n := Net(t, "C-A:-12dB±4/-9dB@night A-B:0.9/0.8 B-C:0.7/- E B-D:0.83")
	var calls, channels []string
	for _, s := range n.Stations {
		calls = append(calls, s.Call)
	}
	for _, c := range n.Channels {
		channels = append(channels, c.Name)
	}
	if want := []string{"A", "B", "C", "D", "E"}; !slices.Equal(calls, want) {
		t.Errorf("stations %v, want %v", calls, want)
	}
	if want := []string{"day", "night"}; !slices.Equal(channels, want) {
		t.Errorf("channels %v, want %v", channels, want)
	}
	want := []mesh.FixedLink{
		{From: 2, To: 0, Channel: 1, SNRDB: -12, SNRSDDB: 4},
		{From: 0, To: 2, Channel: 1, SNRDB: -9},
		{From: 0, To: 1, Decode: 0.9, HasDecode: true},
		{From: 1, To: 0, Decode: 0.8, HasDecode: true},
		{From: 1, To: 2, Decode: 0.7, HasDecode: true},
		{From: 1, To: 3, Decode: 0.83, HasDecode: true},
		{From: 3, To: 1, Decode: 0.83, HasDecode: true},
	}
	if !reflect.DeepEqual(n.Fixed, want) {
		t.Errorf("links %+v\nwant %+v", n.Fixed, want)
	}
	for _, f := range n.Fixed {
		if !n.OpenSlot(f.From, f.To, f.Channel, 12345*40) {
			t.Errorf("link %+v can't be used", f)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for _, text := range []string{
		"A-B:x", "A:0.5", "A-:0.5", "-B:0.5", "A-B:", "A-B:0.5@", "a-b:0.5", "A-B:1.5", "A-B:-3dB4", "A-B:-3dB±x",
		"A-B:0.5/0.4/0.3", "A-B:0.5 A-B:0.6", "A-A:0.5", "", "A/B", "A-B-C:0.5", "A-B:NaN",
	} {
		if n, err := Parse(text); err == nil {
			t.Errorf("Parse(%q) gave %+v", text, n.Fixed)
		}
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"A-B:0.9/0.8 B-D:0.83", "A-C:0.7/- E", "A-B:-12dB±4/-9dB@night", "A-B:1e309", "→-A:0"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		n, err := Parse(text)
		if err != nil {
			return
		}
		again, err := Parse(text)
		if err != nil || !reflect.DeepEqual(n, again) {
			t.Fatalf("%q reads differently a second time", text)
		}
		if len(n.Stations) > len(strings.Fields(text))*2 {
			t.Fatalf("%q gives %d stations", text, len(n.Stations))
		}
	})
}

func TestPublishedSizes(t *testing.T) {
	// Nodes and edges as the sources in testdata/README.md have them.
	tests := []struct {
		name         string
		nodes, edges int
	}{
		{"karate", 34, 78},
		{"florentine", 15, 20},
		{"miserables", 77, 254},
		{"kite", 10, 18},
		{"petersen", 10, 15},
		{"barbell", 10, 15},
		{"lengauer-tarjan", 13, 21},
		{"dominators-small", 6, 7},
	}
	for _, tt := range tests {
		g := Graph(t, tt.name)
		arcs := tt.edges
		if !g.Directed {
			arcs *= 2
		}
		if len(g.Names()) != tt.nodes || len(g.Edges) != tt.edges || len(g.Arcs()) != arcs || g.Source == "" {
			t.Errorf("%s: %d nodes, %d edges, %d arcs", tt.name, len(g.Names()), len(g.Edges), len(g.Arcs()))
		}
		n := g.Net(t, 0.5)
		if len(n.Stations) != tt.nodes || len(n.Fixed) != arcs {
			t.Errorf("%s: net of %d stations and %d links", tt.name, len(n.Stations), len(n.Fixed))
		}
		for i, name := range g.Names() {
			if at, ok := n.Find(g.Call(name)); !ok || (name[0] <= '9' && at != i) {
				t.Errorf("%s: node %d, %s, is station %d, %v", tt.name, i, name, at, ok)
			}
		}
	}
}

// TestPublishedCuts takes every node and edge out in turn and counts the parts
// that are left.
func TestPublishedCuts(t *testing.T) {
	for _, name := range []string{"karate", "florentine", "miserables", "kite", "petersen", "barbell"} {
		g := Graph(t, name)
		names := g.Names()
		parts := func(lost int, edge [2]string) int {
			u := simple.NewUndirectedGraph()
			for i := range names {
				if i != lost {
					u.AddNode(simple.Node(i))
				}
			}
			for _, e := range g.Edges {
				a, b := slices.Index(names, e[0]), slices.Index(names, e[1])
				if e != edge && a != lost && b != lost {
					u.SetEdge(simple.Edge{F: simple.Node(a), T: simple.Node(b)})
				}
			}
			return len(topo.ConnectedComponents(u))
		}
		var cuts []string
		for i, node := range names {
			if parts(i, [2]string{}) > 1 {
				cuts = append(cuts, node)
			}
		}
		if !slices.Equal(cuts, g.CutVertices) {
			t.Errorf("%s: cut vertices %v, file says %v", name, cuts, g.CutVertices)
		}
		bridges := 0
		for _, e := range g.Edges {
			if parts(-1, e) > 1 {
				bridges++
				if !slices.Contains(g.Bridges, e) && !slices.Contains(g.Bridges, [2]string{e[1], e[0]}) {
					t.Errorf("%s: bridge %v is not in the file", name, e)
				}
			}
		}
		if bridges != len(g.Bridges) {
			t.Errorf("%s: %d bridges, file says %d", name, bridges, len(g.Bridges))
		}
	}
}

func TestPublishedDominators(t *testing.T) {
	for _, name := range []string{"lengauer-tarjan", "dominators-small"} {
		g := Graph(t, name)
		names := g.Names()
		d := simple.NewDirectedGraph()
		for _, arc := range g.Arcs() {
			d.SetEdge(simple.Edge{F: simple.Node(arc[0]), T: simple.Node(arc[1])})
		}
		tree := flow.Dominators(simple.Node(slices.Index(names, g.Root)), d)
		if len(g.Idom) != len(names)-1 {
			t.Errorf("%s: %d dominators for %d nodes", name, len(g.Idom), len(names))
		}
		for node, want := range g.Idom {
			if got := names[tree.DominatorOf(int64(slices.Index(names, node))).ID()]; got != want {
				t.Errorf("%s: %s is dominated by %s, want %s", name, node, got, want)
			}
		}
	}
}

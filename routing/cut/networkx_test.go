package cut

import (
	"bytes"
	"encoding/json"
	"math/rand/v2"
	"os/exec"
	"slices"
	"testing"
)

// networkxAnswers asks networkx about digraphs given as station counts and arcs.
const networkxAnswers = `
import json, sys
import networkx as nx
from networkx.algorithms.connectivity import minimum_st_node_cut
answers = []
for net in json.load(sys.stdin):
    g = nx.DiGraph()
    g.add_nodes_from(range(net["n"]))
    g.add_edges_from(net["arcs"] or [])
    idom = nx.immediate_dominators(g, 0)
    groups = sorted((sorted(c) for c in nx.strongly_connected_components(g)), key=lambda c: (-len(c), c[0]))
    pairs = []
    for s, t in net["pairs"]:
        direct = g.has_edge(s, t)
        joined = nx.has_path(g, s, t)
        chains = len(list(nx.node_disjoint_paths(g, s, t))) if joined else 0
        h = g.copy()
        if h.has_edge(t, s):
            h.remove_edge(t, s)  # on no chain from s to t, but networkx answers "none" when it is there
        cut = -1 if direct else len(minimum_st_node_cut(h, s, t)) if joined else 0
        pairs.append([chains, cut])
    answers.append({"idom": [idom.get(v, -1) for v in range(net["n"])], "groups": groups, "pairs": pairs})
json.dump(answers, sys.stdout)
`

type networkxNet struct {
	N     int      `json:"n"`
	Arcs  [][2]int `json:"arcs"`
	Pairs [][2]int `json:"pairs"`
}

// networkxPython finds a Python that has networkx; it skips the test where none
// does. Debian's own comes second, since another one may stand first in the path.
func networkxPython(t *testing.T) string {
	t.Helper()
	for _, python := range []string{"python3", "/usr/bin/python3"} {
		if exec.Command(python, "-c", "import networkx").Run() == nil {
			return python
		}
	}
	t.Skip("no python3 with networkx is installed (Debian: python3-networkx)")
	return ""
}

// TestNetworkX compares dominators, groups, disjoint chains and smallest cuts
// on sparse random digraphs with python3-networkx.
func TestNetworkX(t *testing.T) {
	python := networkxPython(t)
	var nets []networkxNet
	var graphs []*arcs
	for seed := range uint64(25) {
		rng := rand.New(rand.NewPCG(seed, 12))
		n := 3 + rng.IntN(30)
		a := random(rng, n, (0.5+2.5*rng.Float64())/float64(n), rng.Float64())
		net := networkxNet{N: n}
		for e := range a.head {
			net.Arcs = append(net.Arcs, [2]int{int(a.tail[e]), int(a.head[e])})
		}
		for len(net.Pairs) < 12 {
			if s, u := rng.IntN(n), rng.IntN(n); s != u {
				net.Pairs = append(net.Pairs, [2]int{s, u})
			}
		}
		nets, graphs = append(nets, net), append(graphs, a)
	}
	input, err := json.Marshal(nets)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), python, "-W", "ignore", "-c", networkxAnswers)
	cmd.Stdin = bytes.NewReader(input)
	output, err := cmd.Output()
	if err != nil {
		t.Fatalf("networkx: %v", err)
	}
	var answers []struct {
		IDom   []int
		Groups [][]int
		Pairs  [][2]int
	}
	if err := json.Unmarshal(output, &answers); err != nil || len(answers) != len(nets) {
		t.Fatalf("networkx answered %d of %d nets: %v", len(answers), len(nets), err)
	}
	for i, want := range answers {
		a := graphs[i]
		d, f := newDominators(a.n), newDisjoint(a)
		d.build(a, 0, none)
		for v := 1; v < a.n; v++ {
			got := -1
			if d.pre[v] > 0 {
				got = int(d.vertex[d.idom[d.pre[v]]])
			}
			if got != want.IDom[v] {
				t.Errorf("net %d: dominator of %d is %d, want %d", i, v, got, want.IDom[v])
			}
		}
		if got := groups(a); !slices.EqualFunc(got, want.Groups, slices.Equal) {
			t.Errorf("net %d: groups %v, want %v", i, got, want.Groups)
		}
		for k, p := range nets[i].Pairs {
			chains, cut := f.separate(int32(p[0]), int32(p[1]))
			size := len(cut)
			if cut == nil {
				size = -1
			}
			if want.Pairs[k] != [2]int{len(chains), size} {
				t.Errorf("net %d: %v has %d chains and a cut of %d, want %v", i, p, len(chains), size, want.Pairs[k])
			}
		}
	}
}

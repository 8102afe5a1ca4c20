package routing

import (
	"bytes"
	"encoding/json"
	"math/rand/v2"
	"os/exec"
	"testing"
)

// pythonWith finds a Python that has a module; it skips the test where none does.
// Debian's own comes second, since another one may stand first in the path.
func pythonWith(t *testing.T, module string) string {
	t.Helper()
	for _, python := range []string{"python3", "/usr/bin/python3"} {
		if exec.Command(python, "-c", "import "+module).Run() == nil {
			return python
		}
	}
	t.Skipf("no python3 with %s is installed (Debian: python3-%s)", module, module)
	return ""
}

// networkxChains asks networkx for the weights of the k shortest simple paths from
// station 0 to 1, for how many node-disjoint paths there are, and for the least
// weight of two of them: a flow of least cost through stations split in two.
const networkxChains = `
import itertools, json, sys
import networkx as nx
answers = []
for net in json.load(sys.stdin):
    g = nx.DiGraph()
    g.add_nodes_from(range(net["n"]))
    for a, b, w in net["arcs"] or []:
        g.add_edge(a, b, weight=w)
    if not nx.has_path(g, 0, 1):
        answers.append({"weights": [], "disjoint": 0, "pair": -1})
        continue
    paths = itertools.islice(nx.shortest_simple_paths(g, 0, 1, weight="weight"), net["k"])
    weights = [sum(g[a][b]["weight"] for a, b in zip(p, p[1:])) for p in paths]
    disjoint = len(list(nx.node_disjoint_paths(g, 0, 1)))
    pair = -1
    if disjoint > 1:
        h = nx.DiGraph()
        for v in g:
            h.add_edge((v, 0), (v, 1), capacity=2 if v < 2 else 1, weight=0)
        for a, b, d in g.edges(data=True):
            h.add_edge((a, 1), (b, 0), capacity=1, weight=d["weight"])
        h.nodes[(0, 1)]["demand"], h.nodes[(1, 0)]["demand"] = -2, 2
        pair = nx.min_cost_flow_cost(h)
    answers.append({"weights": weights, "disjoint": disjoint, "pair": pair})
json.dump(answers, sys.stdout)
`

type networkxNet struct {
	N    int        `json:"n"`
	K    int        `json:"k"`
	Arcs [][3]int64 `json:"arcs"`
}

// TestChainsAgainstNetworkX compares k shortest trails and disjoint pairs on random
// digraphs, larger than enumeration allows, with python3-networkx.
func TestChainsAgainstNetworkX(t *testing.T) {
	python := pythonWith(t, "networkx")
	var nets []networkxNet
	var graphs []*roads
	for seed := range uint64(60) {
		dice := rand.New(rand.NewPCG(seed, 31))
		n := 4 + dice.IntN(30)
		density := (1 + 3*dice.Float64()) / float64(n)
		net, out := networkxNet{N: n, K: 1 + dice.IntN(15)}, make([][]arc, n)
		for v := range n {
			for u := range n {
				if u == v || dice.Float64() > density {
					continue
				}
				w := 1 + dice.Int64N(9)
				out[v] = append(out[v], arc{to: u, weight: w})
				net.Arcs = append(net.Arcs, [3]int64{int64(v), int64(u), w})
			}
		}
		nets, graphs = append(nets, net), append(graphs, newRoads(out))
	}
	input, err := json.Marshal(nets)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), python, "-W", "ignore", "-c", networkxChains)
	cmd.Stdin = bytes.NewReader(input)
	output, err := cmd.Output()
	if err != nil {
		t.Fatalf("networkx: %v", err)
	}
	var answers []struct {
		Weights        []int64
		Disjoint, Pair int64
	}
	if err := json.Unmarshal(output, &answers); err != nil || len(answers) != len(nets) {
		t.Fatalf("networkx answered %d of %d nets: %v", len(answers), len(nets), err)
	}
	reached, pairs := 0, 0
	for i, want := range answers {
		g, net := graphs[i], nets[i]
		found := kShortest(g, 0, 1, net.K, net.N)
		if len(found) != len(want.Weights) {
			t.Errorf("net %d: %d trails, networkx has %d", i, len(found), len(want.Weights))
			continue
		}
		for k, f := range found {
			if f.weight != want.Weights[k] {
				t.Errorf("net %d: trail %d weighs %d, networkx says %d", i, k+1, f.weight, want.Weights[k])
			}
		}
		pair, ok := disjointPair(g, 0, 1)
		if ok != (want.Disjoint > 1) {
			t.Errorf("net %d: a pair: %v, networkx has %d disjoint paths", i, ok, want.Disjoint)
		}
		if ok && pair[0].weight+pair[1].weight != want.Pair {
			t.Errorf("net %d: the pair weighs %d, networkx says %d", i, pair[0].weight+pair[1].weight, want.Pair)
		}
		if len(found) > 0 {
			reached++
		}
		if ok {
			pairs++
		}
	}
	if reached < 30 || pairs < 15 {
		t.Errorf("only %d nets had a trail and %d a pair", reached, pairs)
	}
}

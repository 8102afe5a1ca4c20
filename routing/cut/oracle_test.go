package cut

import (
	"math/rand/v2"
	"slices"
	"testing"

	"farhop/mesh/link"
)

// fixed is a link that is an edge and open with the chance p.
func fixed(u, v int, p float64) Link {
	return Link{From: u, To: v, Decode: p, Known: true, Use: true, Way: link.FixedDecode(p)}
}

// certain is the graph of these ordered pairs with links that are always open.
func certain(t testing.TB, n int, pairs ...[2]int) *Graph {
	t.Helper()
	var links []Link
	for _, p := range pairs {
		links = append(links, fixed(p[0], p[1], 1))
	}
	g, err := New(n, links)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// both makes every pair go both ways.
func both(pairs ...[2]int) [][2]int {
	var all [][2]int
	for _, p := range pairs {
		all = append(all, p, [2]int{p[1], p[0]})
	}
	return all
}

// random returns a digraph in which each ordered pair is an arc with the chance p,
// and each arc comes with its opposite with the chance q.
func random(rng *rand.Rand, n int, p, q float64) *arcs {
	has := make([]bool, n*n)
	for u := range n {
		for v := range n {
			if u != v && rng.Float64() < p {
				has[u*n+v] = true
				if rng.Float64() < q {
					has[v*n+u] = true
				}
			}
		}
	}
	var pairs [][2]int32
	for i, is := range has {
		if is {
			pairs = append(pairs, [2]int32{int32(i / n), int32(i % n)})
		}
	}
	return newArcs(n, pairs)
}

// randomNets calls check for many random digraphs of up to most stations,
// sparse to dense, one-way to two-way.
func randomNets(t *testing.T, count, most int, check func(t *testing.T, a *arcs)) {
	t.Helper()
	for seed := range uint64(count) {
		rng := rand.New(rand.NewPCG(seed, 1))
		n := 1 + rng.IntN(most)
		a := random(rng, n, min(1, (0.4+3*rng.Float64())/float64(n)), rng.Float64())
		check(t, a)
		if t.Failed() {
			t.Fatalf("seed %d: %d stations, arcs %v → %v", seed, n, a.tail, a.head)
		}
	}
}

// connected is the plain truth about who has a chain to whom: Warshall's closure of the
// arcs but the one numbered without, among the stations not lost. The diagonal is false.
func connected(a *arcs, without int, lost ...int) [][]bool {
	c := make([][]bool, a.n)
	for v := range c {
		c[v] = make([]bool, a.n)
	}
	for e := range a.head {
		if u, v := int(a.tail[e]), int(a.head[e]); e != without && !slices.Contains(lost, u) && !slices.Contains(lost, v) {
			c[u][v] = true
		}
	}
	for k := range c {
		for i := range c {
			for j := range c {
				c[i][j] = c[i][j] || c[i][k] && c[k][j]
			}
		}
	}
	for v := range c {
		c[v][v] = false
	}
	return c
}

// lostPairs returns the ordered pairs of stations not lost that are in before and not in after.
func lostPairs(before, after [][]bool, lost ...int) (pairs [][2]int) {
	for i := range before {
		for j := range before {
			if before[i][j] && !after[i][j] && !slices.Contains(lost, i) && !slices.Contains(lost, j) {
				pairs = append(pairs, [2]int{i, j})
			}
		}
	}
	return pairs
}

package cut

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize/convex/lp"
)

// TestBoundsSharp finds the least and the greatest chance over all joint
// distributions of the links' states by linear programming: one unknown a state,
// one condition a link.
func TestBoundsSharp(t *testing.T) {
	checked := 0
	for seed := range uint64(150) {
		rng := rand.New(rand.NewPCG(seed, 13))
		n, links := 2+rng.IntN(4), []Link(nil)
		for _, i := range rng.Perm(n * n) {
			if u, v := i/n, i%n; u != v && len(links) < 6 {
				links = append(links, fixed(u, v, 0.02+0.96*rng.Float64()))
			}
		}
		g, err := New(n, links)
		if err != nil {
			t.Fatal(err)
		}
		c := g.chances(false)
		low, high := c.bounds(0, 1)
		for sign, got := range map[float64]float64{1: low, -1: high} {
			want, err := extreme(c, 0, 1, sign)
			if err != nil {
				t.Fatalf("seed %d: %v", seed, err)
			}
			if math.Abs(got-want) > 1e-9 {
				t.Errorf("seed %d: sign %v: bound %v, linear programming %v", seed, sign, got, want)
			}
		}
		if low > 0 && high < 1 && low < high {
			checked++
		}
	}
	if checked < 10 {
		t.Errorf("both bounds inside 0…1 on %d nets only", checked)
	}
}

// extreme returns the least (sign 1) or greatest (sign −1) chance of a chain from s to t.
func extreme(c *chances, s, t int, sign float64) (float64, error) {
	m := len(c.head)
	states := 1 << m
	cost := make([]float64, states)
	a, b := mat.NewDense(m+1, states, nil), make([]float64, m+1)
	for e := range m {
		b[e] = marginal(c.ways[e][0])
	}
	b[m] = 1
	sure := make([]float64, m)
	for state := range states {
		a.Set(m, state, 1)
		for e := range m {
			sure[e] = float64(state >> e & 1)
			a.Set(e, state, sure[e])
		}
		cost[state] = sign * enumerate(c.arcs, sure, s, t)
	}
	least, _, err := lp.Simplex(cost, a, b, 1e-11, nil)
	return sign * least, err
}

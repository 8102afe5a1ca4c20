package cut

import (
	"math"
	"math/rand/v2"
	"testing"

	"farhop/mesh/link"
)

// enumerate is the chance that s reaches t by going through all states of the
// links; open holds the links' chances.
func enumerate(c *arcs, open []float64, s, t int) float64 {
	total, m := 0.0, len(c.head)
	near := make([]uint, c.n)
	for state := range 1 << m {
		p := 1.0
		clear(near)
		for e := range m {
			if state>>e&1 != 0 {
				p *= open[e]
				near[c.tail[e]] |= 1 << c.head[e]
			} else {
				p *= 1 - open[e]
			}
		}
		if p == 0 {
			continue
		}
		seen, before := uint(1)<<s, uint(0)
		for seen != before {
			before = seen
			for v := range c.n {
				if seen>>v&1 != 0 {
					seen |= near[v]
				}
			}
		}
		if seen>>t&1 != 0 {
			total += p
		}
	}
	return total
}

// randomLinks returns a net of up to 9 stations with at most most links of a
// mixture of chances, some certain, some shared with the net.
func randomLinks(t *testing.T, rng *rand.Rand, most int, gaussian bool) *Graph {
	t.Helper()
	n := 2 + rng.IntN(8)
	var links []Link
	for _, i := range rng.Perm(n * n) {
		if u, v := i/n, i%n; u != v && len(links) < most {
			l := fixed(u, v, []float64{0, 1, rng.Float64(), rng.Float64(), rng.Float64()}[rng.IntN(5)])
			if gaussian && rng.IntN(4) > 0 {
				sd := 0.2 + 9*rng.Float64()
				l.Way = link.Direction{Kind: link.Gaussian, Margin: 16*rng.Float64() - 7, SD: sd, Common: min(3, sd), Noise: 2}
			}
			links = append(links, l)
		}
	}
	g, err := New(n, links)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// TestReachEnumerated compares both exact methods with all states of up to 16 links.
func TestReachEnumerated(t *testing.T) {
	for seed := range uint64(400) {
		rng := rand.New(rand.NewPCG(seed, 2))
		most := 1 + rng.IntN(12)
		if seed%40 == 0 {
			most = 16
		}
		c := randomLinks(t, rng, most, false).chances(false)
		f := newFactorer(c)
		for range 4 {
			s, u := rng.IntN(c.n), rng.IntN(c.n)
			if s == u {
				continue
			}
			want := enumerate(c.arcs, c.open, s, u)
			got, ok := f.pair(int32(s), int32(u), math.MaxInt64)
			if !ok || math.Abs(got-want) > 1e-13 {
				t.Fatalf("seed %d: factoring %d → %d gives %v (%v), want %v", seed, s, u, got, ok, want)
			}
			if all := f.allFrom(f.reachedFrom(int32(s))); math.Abs(all[u]-want) > 1e-12 {
				t.Fatalf("seed %d: sum over sets %d → %d gives %v, want %v", seed, s, u, all[u], want)
			}
			checkBounds(t, c, s, u, want, 1e-12)
		}
	}
}

func checkBounds(t *testing.T, c *chances, s, u int, reach, slack float64) {
	t.Helper()
	low, high := c.bounds(int32(s), int32(u))
	if low > reach+slack || high < reach-slack || low < 0 || high > 1 {
		t.Fatalf("reach %v of %d → %d outside %v…%v", reach, s, u, low, high)
	}
}

// TestFactoringBranches: nets too large for one sum over sets, so that factoring
// itself is at work, against the sum over sets from the source.
func TestFactoringBranches(t *testing.T) {
	for seed := range uint64(12) {
		rng := rand.New(rand.NewPCG(seed, 3))
		n, links := 12, []Link(nil)
		for u := range n {
			for v := range n {
				if u != v && rng.Float64() < 0.35 {
					links = append(links, fixed(u, v, rng.Float64()))
				}
			}
		}
		g, err := New(n, links)
		if err != nil {
			t.Fatal(err)
		}
		f := newFactorer(g.chances(false))
		all := f.allFrom(f.reachedFrom(0))
		for u := 1; u < n; u++ {
			if got, ok := f.pair(0, int32(u), math.MaxInt64); !ok || math.Abs(got-all[u]) > 1e-12 {
				t.Fatalf("seed %d: 0 → %d factoring %v (%v), sum over sets %v", seed, u, got, ok, all[u])
			}
		}
	}
}

// TestReachDeviation compares the integral over the net-wide deviation with
// enumeration at each of very many points.
func TestReachDeviation(t *testing.T) {
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 4))
		c := randomLinks(t, rng, 7, true).chances(false)
		s, u := 0, 1+rng.IntN(c.n-1)
		got, ok := newFactorer(c).pair(int32(s), int32(u), math.MaxInt64)
		if !ok {
			t.Fatal("no result")
		}
		want, weights := 0.0, 0.0
		open := make([]float64, len(c.ways))
		const points = 3000
		for i := range points {
			eta := (float64(i)+0.5)/points*14 - 7
			w := math.Exp(-eta * eta / 2)
			for e, ways := range c.ways {
				open[e] = openAny(ways, eta)
			}
			want += w * enumerate(c.arcs, open, s, u)
			weights += w
		}
		// The fine rule itself is off by up to half a cell's weight at each step.
		steps := 0
		for _, ways := range c.ways {
			if r, ok := rampOf(ways[0]); ok && math.IsInf(r.steep, 1) {
				steps++
			}
		}
		tolerance := 1e-5 + float64(steps)*0.5*14/points*0.4
		if want /= weights; math.Abs(got-want) > tolerance {
			t.Errorf("seed %d: %d → %d gives %v, want %v ± %v", seed, s, u, got, want, tolerance)
		}
		checkBounds(t, c, s, u, got, 1e-5)
	}
}

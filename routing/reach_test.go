package routing

import (
	"math/rand/v2"
	"testing"
	"time"

	"farhop/mesh/link"
	"farhop/routing/delivery"
)

// randomDirection is a direction of any kind.
func randomDirection(r *rand.Rand) link.Direction {
	switch r.IntN(5) {
	case 0:
		return link.Direction{}
	case 1:
		return link.Direction{Kind: link.Certain, Decode: []float64{0, 1, r.Float64()}[r.IntN(3)]}
	}
	sd := 6 * r.Float64()
	return link.Direction{Kind: link.Gaussian, Margin: 16*r.Float64() - 6, SD: sd, Common: min(sd, 3*r.Float64()), Noise: 1 + 4*r.Float64()}
}

// The ceiling is never below the exact chance that a hop succeeds, alone or over
// several states at once, and it grows with either chance.
func TestCeilingHolds(t *testing.T) {
	for seed := range uint64(300) {
		r := rand.New(rand.NewPCG(seed, 7))
		pr := delivery.Protocol{Frames: 1 + r.IntN(12), Ack: r.IntN(3), Turnaround: r.IntN(3), Rounds: 1 + r.IntN(7), Block: []int{0, 3, 5}[r.IntN(3)]}
		e, err := delivery.NewEvaluator(delivery.Plan{Protocol: pr, Slot: 40 * time.Second, Deadline: time.Hour, Common: 0.3})
		if err != nil {
			t.Fatal(err)
		}
		var forward, backward []link.Direction
		for range 1 + r.IntN(3) {
			forward, backward = append(forward, randomDirection(r)), append(backward, randomDirection(r))
		}
		c := newCeiling(pr.Frames, pr.Ack, pr.Rounds, pr.Block)
		for i := range forward {
			leg := e.NewLeg(delivery.Leg{Open: func(int) bool { return true }, Directions: func(int) (link.Direction, link.Direction) {
				return forward[i], backward[i]
			}})
			alone := c.bounds(e.Nodes(), forward[i:i+1], backward[i:i+1])
			all := c.bounds(e.Nodes(), forward, backward)
			for n, exact := range e.Reach(leg, 0) {
				if alone[n] < exact-1e-4 || all[n] < alone[n]-1e-12 {
					t.Fatalf("seed %d, node %d: exact %.6f, bound %.6f, with others %.6f\n%+v\n%+v\n%+v", seed, n, exact, alone[n], all[n], pr, forward[i], backward[i])
				}
			}
		}
		p, q := r.Float64(), r.Float64()
		if c.of(p, q) > c.of(min(1, p+0.01), q)+1e-12 || c.of(p, q) > c.of(p, min(1, q+0.01))+1e-12 {
			t.Fatalf("seed %d: the ceiling falls at %v, %v", seed, p, q)
		}
	}
}

// bounds is the bound by node of the net-wide deviate.
func (c *ceiling) bounds(nodes []float64, forward, backward []link.Direction) []float64 {
	f, r := spanOf(forward), spanOf(backward)
	out := make([]float64, len(nodes))
	for n, eta := range nodes {
		out[n] = c.reach(f, r, eta)
	}
	return out
}

// The ceiling is tight: on ordinary hops it is within a few points of the exact
// chance, or searches would learn little from it.
func TestCeilingIsTight(t *testing.T) {
	n, all := scattered(1, 12, 0.6, estimatedLink)
	r := reference(n).filled()
	s, err := New(n, all).scene(r.terms())
	if err != nil {
		t.Fatal(err)
	}
	sum, count := 0.0, 0
	for i := range s.hops {
		exact := make([]float64, len(s.eval.Weights()))
		for _, q := range s.hops[i].starts(s) {
			for n, x := range s.eval.Reach(s.hops[i].leg, q) {
				exact[n] = max(exact[n], x)
			}
		}
		sum += s.mean(s.reach(i)) - s.mean(exact)
		count++
	}
	if mean := sum / float64(count); mean > 0.04 || count < 50 {
		t.Errorf("on %d hops the ceiling is %.4f above on average", count, mean)
	}
}

func BenchmarkReach20Estimated(b *testing.B) {
	n, l := scattered(1, 20, 0.5, estimatedLink)
	r := reference(n).filled()
	b.ReportAllocs()
	for b.Loop() {
		s, err := New(n, l).scene(r.terms())
		if err != nil {
			b.Fatal(err)
		}
		for i := range s.hops {
			s.reach(i)
		}
		b.ReportMetric(float64(len(s.hops)), "hops")
	}
}

package cut

import (
	"math"
	"math/rand/v2"
	"testing"

	"farhop/mesh/link"
)

// randomWays returns directions that share the net-wide deviation, steps among
// them when asked for.
func randomWays(rng *rand.Rand, steps bool) (ways []link.Direction) {
	for range 1 + rng.IntN(40) {
		sd := 0.05 + 10*math.Pow(rng.Float64(), 2)
		common := min(3, sd)
		if !steps && common == sd {
			common *= 0.99
		}
		ways = append(ways, link.Direction{Kind: link.Gaussian, Margin: 24*rng.Float64() - 12, SD: sd, Common: common, Noise: 2})
	}
	return ways
}

// TestRuleAgainstFine integrates the chance that one of several chains of the
// directions is open, and compares it with 3,000 equally spaced points, which
// are exact for chances without a step.
func TestRuleAgainstFine(t *testing.T) {
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 9))
		ways := randomWays(rng, false)
		hops := 1 + rng.IntN(4)
		reach := func(eta float64) float64 {
			miss := 1.0
			for i := 0; i < len(ways); i += hops {
				chain := 1.0
				for _, d := range ways[i:min(i+hops, len(ways))] {
					chain *= d.Open(eta)
				}
				miss *= 1 - chain
			}
			return 1 - miss
		}
		got, want, total := 0.0, 0.0, 0.0
		r := newRule(ways)
		for i, eta := range r.eta {
			got += r.weight[i] * reach(eta)
		}
		for i := range 3000 {
			eta := -7 + 14*(float64(i)+0.5)/3000
			w := math.Exp(-eta * eta / 2)
			want, total = want+w*reach(eta), total+w
		}
		if math.Abs(got-want/total) > 1e-5 {
			t.Errorf("seed %d: %v, want %v", seed, got, want/total)
		}
	}
}

// TestRuleMarginal: the average over the rule of one direction is its own chance
// P(x ≥ θ) = Φ(Margin/SD), which the step directions show to be exact at steps.
func TestRuleMarginal(t *testing.T) {
	for seed := range uint64(200) {
		ways := randomWays(rand.New(rand.NewPCG(seed, 10)), true)
		r := newRule(ways)
		sum := 0.0
		for _, w := range r.weight {
			if w < 0 {
				t.Fatalf("seed %d: negative weight", seed)
			}
			sum += w
		}
		if math.Abs(sum-1) > 1e-12 {
			t.Fatalf("seed %d: weights add up to %v", seed, sum)
		}
		for _, d := range ways {
			at := make([]float64, len(r.eta))
			for i, eta := range r.eta {
				at[i] = d.Open(eta)
			}
			if got, want := r.mean(at), marginal(d); math.Abs(got-want) > 1e-5 {
				t.Errorf("seed %d: %+v averages %v, want %v", seed, d, got, want)
			}
		}
	}
}

// TestRuleOnePoint: nothing shared, nothing to integrate.
func TestRuleOnePoint(t *testing.T) {
	r := newRule([]link.Direction{link.FixedDecode(0.3), link.FixedSNR(-10, 4, -16, 1), {}})
	if len(r.eta) != 1 || r.eta[0] != 0 || r.weight[0] != 1 {
		t.Errorf("rule %+v", r)
	}
}

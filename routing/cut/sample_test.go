package cut

import (
	"math"
	"math/rand/v2"
	"testing"
)

// sampleOnly makes every pair too dear for an exact figure.
func sampleOnly(pairs [][2]int, samples int, seed uint64) Options {
	opt := Defaults()
	opt.Pairs, opt.Work, opt.Samples, opt.Seed = pairs, 1, samples, seed
	return opt
}

// TestSampledAgrees: sampled and exact reach agree within five standard errors,
// with chances that share the net-wide deviation.
func TestSampledAgrees(t *testing.T) {
	for seed := range uint64(6) {
		g := randomLinks(t, rand.New(rand.NewPCG(seed, 11)), 20, true)
		opt := Defaults()
		opt.Pairs = AllPairs(g.Stations())
		exact, err := Analyse(t.Context(), g, opt)
		if err != nil {
			t.Fatal(err)
		}
		const samples = 20_000
		sampled, err := Analyse(t.Context(), g, sampleOnly(opt.Pairs, samples, seed))
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range sampled.Pairs {
			want := exact.Pairs[i]
			if !want.Exact {
				t.Fatalf("seed %d: pair %d, %d not exact", seed, p.From, p.To)
			}
			if slack := 5*math.Sqrt(want.Reach*(1-want.Reach)/samples) + 1e-5; math.Abs(p.Reach-want.Reach) > slack {
				t.Errorf("seed %d: %d → %d sampled %v, exact %v", seed, p.From, p.To, p.Reach, want.Reach)
			}
			if p.Exact && p.Reach != want.Reach || !p.Exact && !(p.Low <= p.Reach && p.Reach <= p.High) {
				t.Errorf("seed %d: pair %+v, exact %v", seed, p, want.Reach)
			}
		}
	}
}

// TestIntervalCovers: the 95 % interval holds the exact value about as often as
// it claims, for likely and for unlikely chains.
func TestIntervalCovers(t *testing.T) {
	g := fromText(t, "A-B:0.6/- B-D:-14dB±5/- A-C:0.3/- C-D:0.2/- B-C:0.5 D-E:0.97/- D-F:0.05/-")
	pairs := [][2]int{{0, 3}, {0, 4}, {0, 5}, {0, 2}}
	opt := Defaults()
	opt.Pairs = pairs
	exact, err := Analyse(t.Context(), g, opt)
	if err != nil {
		t.Fatal(err)
	}
	const runs = 1000
	covered := make([]int, len(pairs))
	for seed := range uint64(runs) {
		r, err := Analyse(t.Context(), g, sampleOnly(pairs, 400, seed))
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range r.Pairs {
			if p.Exact {
				t.Fatal("not sampled")
			}
			if want := exact.Pairs[i].Reach; p.Low <= want && want <= p.High {
				covered[i]++
			}
		}
	}
	// Wilson's interval covers 93.5…97 % at these chances; 1,000 runs have a standard error of 0.7 points.
	for i, k := range covered {
		if share := float64(k) / runs; share < 0.925 || share > 0.985 {
			t.Errorf("pair %v: covered in %.1f %% of the runs", pairs[i], 100*share)
		}
	}
}

// TestWilson against figures worked out apart from the program, with z = 1.959964. For the
// last, R. G. Newcombe, Statistics in Medicine 17 (1998) 857–872, has 0.2553 and 0.3662 (from memory).
func TestWilson(t *testing.T) {
	tests := []struct {
		hits, samples int
		low, high     float64
	}{
		{0, 10, 0, 0.277533},
		{10, 10, 0.722467, 1},
		{5, 10, 0.236593, 0.763407},
		{81, 263, 0.255289, 0.366210},
	}
	for _, tt := range tests {
		low, high := wilson(tt.hits, tt.samples)
		if math.Abs(low-tt.low) > 2e-6 || math.Abs(high-tt.high) > 2e-6 {
			t.Errorf("%d of %d: %.6f…%.6f, want %v…%v", tt.hits, tt.samples, low, high, tt.low, tt.high)
		}
	}
}

// TestSampleLarge: nets of more than 64 stations are flooded another way; a line
// of links with chance p reaches over k of them with p^k.
func TestSampleLarge(t *testing.T) {
	const n, p = 70, 0.99
	var links []Link
	for v := range n - 1 {
		links = append(links, fixed(v, v+1, p))
	}
	g, err := New(n, links)
	if err != nil {
		t.Fatal(err)
	}
	r, err := Analyse(t.Context(), g, sampleOnly([][2]int{{0, n - 1}, {3, 10}, {10, 3}}, 10_000, 1))
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{math.Pow(p, n-1), math.Pow(p, 7), 0} {
		if got := r.Pairs[i].Reach; math.Abs(got-want) > 5*math.Sqrt(want*(1-want)/10_000) {
			t.Errorf("pair %d: %v, want %v", i, got, want)
		}
	}
}

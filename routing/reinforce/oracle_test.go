package reinforce

import (
	"context"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"farhop/mesh/link"
	"farhop/routing/cut"
)

// drawLinks draws a small net of links, some stated, some Gaussian, some on a second
// band.
func drawLinks(t *rapid.T, n int) []cut.Link {
	var list []cut.Link
	for from := range n {
		for to := range n {
			for ch := range 2 {
				if from == to || rapid.IntRange(0, 99).Draw(t, "there") >= 25 {
					continue
				}
				way := link.FixedDecode(rapid.Float64Range(0, 1).Draw(t, "decode"))
				if rapid.Bool().Draw(t, "gaussian") {
					sd := rapid.Float64Range(3, 10).Draw(t, "sd")
					way = link.Direction{
						Kind: link.Gaussian, Margin: rapid.Float64Range(-12, 12).Draw(t, "margin"), SD: sd,
						Common: rapid.Float64Range(0, 3).Draw(t, "common"), Noise: 3,
					}
				}
				use := rapid.IntRange(0, 9).Draw(t, "use") > 0
				list = append(list, cut.Link{From: from, To: to, Channel: ch, Band: ch, Decode: way.Mean(), Known: use, Use: use, Way: way})
			}
		}
	}
	return list
}

// Chains, single points of failure and reach are those of the exact analysis.
func TestFiguresAgreeWithCut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 7).Draw(t, "stations")
		links := drawLinks(t, n)
		twoWay := rapid.Bool().Draw(t, "two-way")
		threshold := rapid.SampledFrom([]float64{0.2, 0.5, 0.8}).Draw(t, "threshold")
		const samples = 1 << 14
		f := Measure(n, [][]cut.Link{links}, Options{Threshold: threshold, TwoWay: twoWay, Seed: rapid.Uint64().Draw(t, "seed"), Samples: samples})
		g, err := cut.New(n, links)
		if err != nil {
			t.Fatal(err)
		}
		r, err := cut.Analyse(context.Background(), g, cut.Options{Threshold: threshold, TwoWay: twoWay, Pairs: cut.AllPairs(n), Reach: true})
		if err != nil {
			t.Fatal(err)
		}
		pairs := float64(n * (n - 1))
		if got := f.Joined * pairs; math.Abs(got-float64(r.ConnectedPairs)) > 1e-9 {
			t.Fatalf("%v pairs joined, want %d", got, r.ConnectedPairs)
		}
		var single []int
		for _, s := range r.SingleStations {
			single = append(single, s.Station)
		}
		slices.Sort(single)
		if !slices.Equal(f.Single, single) || f.Singles != len(single) {
			t.Fatalf("single points %v, want %v", f.Single, single)
		}
		mean, worst := 0.0, math.Inf(1)
		for _, p := range r.Pairs {
			if !p.Exact {
				return
			}
			mean += p.Reach / pairs
			if len(p.Chains) > 0 {
				worst = min(worst, p.Reach)
			}
		}
		const most = 6 * 0.5 / 128 // six standard errors at the most
		if math.Abs(f.Mean-mean) > most {
			t.Fatalf("mean reach %v, want %v", f.Mean, mean)
		}
		if r.ConnectedPairs > 0 && math.Abs(f.Worst-worst) > most {
			t.Fatalf("worst reach %v, want %v", f.Worst, worst)
		}
		if r.ConnectedPairs == 0 != math.IsNaN(f.Worst) {
			t.Fatalf("worst reach %v with %d pairs joined", f.Worst, r.ConnectedPairs)
		}
	})
}

// A pair is firm when it keeps a chain whichever other station is taken out.
func TestFirmPairsAgreeWithRemoval(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 9).Draw(t, "stations")
		members := rapid.IntRange(1, n).Draw(t, "members")
		w := newWired(n)
		var arcs [][2]int
		for range rapid.IntRange(0, 3*n).Draw(t, "arcs") {
			a, b := rapid.IntRange(0, n-1).Draw(t, "from"), rapid.IntRange(0, n-1).Draw(t, "to")
			if a != b {
				w.join(a, b)
				arcs = append(arcs, [2]int{a, b})
			}
		}
		joined, firm, single := w.losses(members)
		breaks := make([]bool, n)
		for s := range members {
			for v := -1; v < n; v++ {
				if v == s {
					continue
				}
				reach := closure(n, arcs, s, v)
				for to := range members {
					switch {
					case to == s || to == v:
					case v < 0 && joined.has(s, to) != reach[to]:
						t.Fatalf("%d to %d joined: %v", s, to, joined.has(s, to))
					case v >= 0 && firm.has(s, to) && !reach[to]:
						t.Fatalf("%d to %d is called firm, but not without %d", s, to, v)
					case v >= 0 && joined.has(s, to) && !reach[to]:
						breaks[v] = true
					}
				}
			}
		}
		for s := range members {
			for to := range members {
				kept := s != to && joined.has(s, to)
				for v := range n {
					kept = kept && (v == s || v == to || closure(n, arcs, s, v)[to])
				}
				if kept != firm.has(s, to) {
					t.Fatalf("%d to %d firm: %v, want %v", s, to, firm.has(s, to), kept)
				}
			}
		}
		for v, is := range breaks {
			if is != slices.Contains(single, v) {
				t.Fatalf("single points %v, station %d: %v", single, v, is)
			}
		}
	})
}

// closure is whom s reaches over the arcs without the station v.
func closure(n int, arcs [][2]int, s, v int) []bool {
	seen := make([]bool, n)
	seen[s] = true
	for changed := true; changed; {
		changed = false
		for _, a := range arcs {
			if a[0] != v && a[1] != v && seen[a[0]] && !seen[a[1]] {
				seen[a[1]], changed = true, true
			}
		}
	}
	return seen
}

// A link's draws are open as often as its chance says, the same for the same seed,
// and differ between links and seeds.
func TestDraws(t *testing.T) {
	s := newSampler(3, 64*400)
	w := []way{{0, link.Direction{Kind: link.Gaussian, Margin: 2, SD: 6, Common: 3, Noise: 2}}}
	open := s.draw(1, 2, w)
	got, want := float64(countBits(open))/float64(s.samples), link.Phi(2.0/6)
	if math.Abs(got-want) > 0.01 {
		t.Errorf("open in %v of the draws, want %v", got, want)
	}
	if !slices.Equal(open, newSampler(3, 64*400).draw(1, 2, w)) {
		t.Error("the same seed gave other draws")
	}
	for name, other := range map[string][]uint64{"pair": s.draw(2, 1, w), "seed": newSampler(4, 64*400).draw(1, 2, w)} {
		if slices.Equal(open, other) {
			t.Errorf("another %s gave the same draws", name)
		}
	}
	if s.draw(1, 2, []way{{0, link.FixedDecode(0)}}) != nil {
		t.Error("a closed link is open in some draw")
	}
	if n := countBits(s.draw(1, 2, []way{{0, link.FixedDecode(1)}})); n != s.samples {
		t.Errorf("a certain link is open in %d of %d draws", n, s.samples)
	}
}

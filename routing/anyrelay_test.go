package routing

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// anypathVectors are worked examples of our own for the formulas of R. Laufer,
// H. Dubois-Ferrière, L. Kleinrock, Multirate anypath routing in wireless mesh
// networks, IEEE INFOCOM 2009, 37–45, in exact fractions.
type anypathVectors struct {
	Sets []struct {
		Name       string
		P, D       []float64
		Total      float64 `json:"total_float"`
		BestSingle float64 `json:"best_single"`
	}
	Stations []string
	Edges    [][3]any
	To       string
	Cost     map[string]float64
	By       map[string][]string
	Single   map[string]float64
}

func TestSettledCost(t *testing.T) {
	for _, v := range readShared[anypathVectors](t, "anypath.json").Sets {
		s := settled{miss: 1}
		single := math.Inf(1)
		for i, p := range v.P {
			s = s.with(ear{i, p}, v.D[i])
			single = min(single, 1/p+v.D[i])
		}
		if math.Abs(s.cost()-v.Total) > 1e-12 || math.Abs(single-v.BestSingle) > 1e-12 {
			t.Errorf("%s: cost %.15f, single %.15f; want %.15f and %.15f", v.Name, s.cost(), single, v.Total, v.BestSingle)
		}
	}
}

func TestAnypathVectors(t *testing.T) {
	v := readShared[anypathVectors](t, "anypath.json")
	index := func(s string) int { return slices.Index(v.Stations, s) }
	heard := make(hearers, len(v.Stations))
	for i := range heard {
		heard[i] = make([][]ear, 1)
	}
	for _, e := range v.Edges {
		i := index(e[0].(string))
		heard[i][0] = append(heard[i][0], ear{index(e[1].(string)), e[2].(float64)})
	}
	sortEars(heard)
	got := anypath(heard, index(v.To))
	for name, want := range v.Cost {
		if c := got[index(name)].Cost; math.Abs(c-want) > 1e-12 {
			t.Errorf("%s: cost %.15f, want %.15f", name, c, want)
		}
	}
	for name, want := range v.By {
		var by []string
		for _, u := range got[index(name)].By {
			by = append(by, v.Stations[u])
		}
		if !slices.Equal(by, want) {
			t.Errorf("%s: taken on by %v, want %v", name, by, want)
		}
	}
	for name, want := range v.Single {
		if c := singlePath(heard, index(name), index(v.To)); math.Abs(c-want) > 1e-12 {
			t.Errorf("%s: single chain %.15f, want %.15f", name, c, want)
		}
	}
}

func sortEars(heard hearers) {
	for _, channels := range heard {
		for _, ears := range channels {
			slices.SortFunc(ears, func(a, b ear) int { return cmp.Compare(a.station, b.station) })
		}
	}
}

func randomHearers(r *rand.Rand, n, channels int) hearers {
	heard := make(hearers, n)
	for v := range heard {
		heard[v] = make([][]ear, channels)
		for c := range heard[v] {
			for u := range n {
				if u != v && r.IntN(2) == 0 {
					heard[v][c] = append(heard[v][c], ear{u, float64(1+r.IntN(10)) / 10})
				}
			}
		}
	}
	return heard
}

// allSets iterates values over every set of receivers of every channel, in the
// order of the values they had, until nothing changes.
func allSets(heard hearers, to int) []float64 {
	cost := make([]float64, len(heard))
	for v := range cost {
		cost[v] = math.Inf(1)
	}
	cost[to] = 0
	for range 400 {
		next := slices.Clone(cost)
		for v := range heard {
			if v != to {
				next[v] = bestSet(heard[v], cost)
			}
		}
		cost = next
	}
	return cost
}

func bestSet(channels [][]ear, cost []float64) float64 {
	best := math.Inf(1)
	for _, ears := range channels {
		for set := 1; set < 1<<len(ears); set++ {
			var members []ear
			for i, e := range ears {
				if set>>i&1 == 1 && !math.IsInf(cost[e.station], 1) {
					members = append(members, e)
				}
			}
			slices.SortStableFunc(members, func(a, b ear) int { return cmp.Compare(cost[a.station], cost[b.station]) })
			s := settled{miss: 1}
			for _, e := range members {
				s = s.with(e, cost[e.station])
			}
			best = min(best, s.cost())
		}
	}
	return best
}

func TestAnypathEqualsAllSets(t *testing.T) {
	for seed := range uint64(60) {
		r := rand.New(rand.NewPCG(seed, 3))
		heard := randomHearers(r, 3+r.IntN(4), 1+r.IntN(2))
		want := allSets(heard, 0)
		for v, got := range anypath(heard, 0) {
			if math.IsInf(want[v], 1) != math.IsInf(got.Cost, 1) || math.Abs(got.Cost-want[v]) > 1e-9*want[v] {
				t.Fatalf("seed %d, station %d: cost %v, over all sets %v", seed, v, got.Cost, want[v])
			}
		}
	}
}

func TestAnyRelay(t *testing.T) {
	heard := randomHearers(rand.New(rand.NewPCG(7, 3)), 7, 2)
	a := anyRelay(heard, 3, 0)
	if a == nil || a.TakeOn[0].Station != 3 || a.Transmissions > a.SingleChain {
		t.Fatalf("any-relay figure %+v", a)
	}
	for _, on := range a.TakeOn[1:] {
		if on.Cost >= a.Transmissions {
			t.Errorf("station %d may take on though no nearer: %v", on.Station, on.Cost)
		}
	}
	if anyRelay(make(hearers, 3), 1, 2) != nil {
		t.Error("a figure without links")
	}
}

func BenchmarkAnypath30x2(b *testing.B) {
	heard := randomHearers(rand.New(rand.NewPCG(1, 3)), 30, 2)
	b.ReportAllocs()
	for b.Loop() {
		anypath(heard, 0)
	}
}

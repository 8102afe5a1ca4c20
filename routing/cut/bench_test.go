package cut

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"farhop/mesh/link"
)

// scattered returns a net of stations strewn over a square, each linked both
// ways with stations near it, with chances that fall with distance.
func scattered(stations, links int) *Graph {
	rng := rand.New(rand.NewPCG(uint64(stations), 7))
	x, y := make([]float64, stations), make([]float64, stations)
	for i := range x {
		x[i], y[i] = rng.Float64(), rng.Float64()
	}
	type near struct {
		u, v int
		d    float64
	}
	var all []near
	for u := range stations {
		for v := range u {
			dx, dy := x[u]-x[v], y[u]-y[v]
			all = append(all, near{u, v, dx*dx + dy*dy + 0.002*rng.Float64()})
		}
	}
	slices.SortFunc(all, func(a, b near) int { return cmp.Compare(a.d, b.d) })
	var list []Link
	for i, p := range all[:links/2] {
		margin := 12 * (1 - 1.2*float64(i)/float64(links/2))
		for _, ends := range [][2]int{{p.u, p.v}, {p.v, p.u}} {
			way := link.Direction{Kind: link.Gaussian, Margin: margin + 3*rng.NormFloat64(), SD: 4 + 4*rng.Float64(), Common: 3, Noise: 3}
			list = append(list, Link{From: ends[0], To: ends[1], Decode: way.Mean(), Known: true, Use: true, Way: way})
		}
	}
	g, err := New(stations, list)
	if err != nil {
		panic(err)
	}
	return g
}

// wild returns a net of that many links drawn at random, all open at 0.5.
func wild(stations, links int) *Graph {
	rng := rand.New(rand.NewPCG(uint64(stations), 8))
	seen := map[[2]int]bool{}
	var list []Link
	for len(list) < links {
		p := [2]int{rng.IntN(stations), rng.IntN(stations)}
		if p[0] != p[1] && !seen[p] {
			seen[p] = true
			list = append(list, fixed(p[0], p[1], 0.5+0.5*rng.Float64()))
		}
	}
	g, err := New(stations, list)
	if err != nil {
		panic(err)
	}
	return g
}

var shapes = []struct {
	name string
	make func(stations, links int) *Graph
}{{"scattered", scattered}, {"wild", wild}}

func benchmarkAnalyse(b *testing.B, stations, links int, opt Options) {
	for _, s := range shapes {
		g := s.make(stations, links)
		b.Run(fmt.Sprintf("%s/stations=%d/links=%d", s.name, stations, links), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Analyse(b.Context(), g, opt); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkAnalyse: all but reach, with chains and cuts for 870 pairs.
func BenchmarkAnalyse(b *testing.B) {
	opt := Defaults()
	opt.Reach = false
	opt.Pairs = AllPairs(30)
	benchmarkAnalyse(b, 200, 2400, opt)
	benchmarkAnalyse(b, 200, 600, opt)
}

// BenchmarkAnalyseLarge: without station pairs and reach.
func BenchmarkAnalyseLarge(b *testing.B) {
	opt := Defaults()
	opt.Reach, opt.StationPairs = false, false
	benchmarkAnalyse(b, 2000, 24000, opt)
	benchmarkAnalyse(b, 2000, 6000, opt)
}

// BenchmarkReach: everything for all pairs of nets as they occur.
func BenchmarkReach(b *testing.B) {
	opt := Defaults()
	for _, n := range []int{12, 18, 30} {
		opt.Pairs = AllPairs(n)
		benchmarkAnalyse(b, n, 4*n, opt)
		benchmarkAnalyse(b, n, n*(n-1)/2, opt)
	}
}

// BenchmarkDominators: one tree.
func BenchmarkDominators(b *testing.B) {
	for _, n := range []int{200, 2000, 10000} {
		a := wild(n, 12*n).open(0, false)
		d := newDominators(n)
		b.Run(fmt.Sprintf("stations=%d/links=%d", n, 12*n), func(b *testing.B) {
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				d.build(a, int32(i%n), none)
			}
		})
	}
}

package routing

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"farhop/mesh"
)

// reference is the message that figures are given for: 130 characters.
func reference(n *mesh.Net) Request {
	return Request{Frames: n.Slots.Frames(130), Start: noon, Deadline: 4 * time.Hour, Chains: 5, To: len(n.Stations) - 1}
}

// scattered places stations at random and links those within reach, worse with
// distance: a net as a country gives it. The farthest pair goes first and last.
func scattered(seed uint64, stations int, reach float64, link func(r *rand.Rand, margin float64) func(int64) mesh.Edge) (*mesh.Net, links) {
	r := rand.New(rand.NewPCG(seed, 5))
	n := openNet(stations, "day", "night")
	x := make([][2]float64, stations)
	for i := range x {
		x[i] = [2]float64{r.Float64(), r.Float64()}
	}
	x[0], x[stations-1] = [2]float64{0.02, 0.02}, [2]float64{0.98, 0.98}
	l := links{}
	for a := range stations {
		for b := range stations {
			dx, dy := x[a][0]-x[b][0], x[a][1]-x[b][1]
			d := (dx*dx + dy*dy) / (reach * reach)
			for c := range n.Channels {
				if margin := 14 - 16*d + 3*r.NormFloat64() - 3*float64(c); a != b && margin > -8 {
					l[[3]int{a, b, c}] = link(r, margin)
				}
			}
		}
	}
	return n, l
}

func certainLink(_ *rand.Rand, margin float64) func(int64) mesh.Edge {
	return certain(gaussian(margin, 4)(0).Decode)
}
func gaussianLink(_ *rand.Rand, margin float64) func(int64) mesh.Edge { return gaussian(margin, 4) }
func estimatedLink(r *rand.Rand, margin float64) func(int64) mesh.Edge {
	return estimated(margin, 4*r.Float64(), r.Float64(), 4+2*r.Float64())
}

// sparse gives every station the same number of neighbours.
func sparse(seed uint64, stations, neighbours int) (*mesh.Net, links) {
	r := rand.New(rand.NewPCG(seed, 6))
	n, l := openNet(stations), links{}
	for a := range stations {
		for _, b := range r.Perm(stations)[:neighbours+1] {
			if a != b {
				l[[3]int{a, b, 0}] = gaussian(12*r.Float64()-3, 4*r.Float64())
				l[[3]int{b, a, 0}] = gaussian(12*r.Float64()-3, 4*r.Float64())
			}
		}
	}
	return n, l
}

var shapes = []struct {
	name string
	link func(*rand.Rand, float64) func(int64) mesh.Edge
}{{"decode", certainLink}, {"gaussian", gaussianLink}, {"estimated", estimatedLink}}

func benchRoute(b *testing.B, n *mesh.Net, l links, r Request) {
	b.ReportAllocs()
	var a *Answer
	for b.Loop() {
		var err error
		if a, err = New(n, l).Route(context.Background(), r); err != nil {
			b.Fatal(err)
		}
	}
	if !a.Proven || len(a.Chains) == 0 {
		b.Fatalf("proven %v, %d chains", a.Proven, len(a.Chains))
	}
	b.ReportMetric(float64(len(l)), "links")
}

func BenchmarkRoute(b *testing.B) {
	for _, shape := range shapes {
		for _, reach := range []float64{0.4, 0.8} {
			b.Run(fmt.Sprintf("30/%s/reach%.1f", shape.name, reach), func(b *testing.B) {
				n, l := scattered(1, 30, reach, shape.link)
				benchRoute(b, n, l, reference(n))
			})
		}
	}
	b.Run("200x12", func(b *testing.B) {
		n, l := sparse(1, 200, 12)
		benchRoute(b, n, l, reference(n))
	})
}

func BenchmarkTable(b *testing.B) {
	for _, shape := range shapes {
		for _, stations := range []int{20, 30} {
			b.Run(fmt.Sprintf("%d/%s", stations, shape.name), func(b *testing.B) {
				n, l := scattered(1, stations, 0.5, shape.link)
				r := reference(n)
				b.ReportAllocs()
				for b.Loop() {
					if _, err := New(n, l).Table(context.Background(), TableRequest{Request: r, Station: AllStations}); err != nil {
						b.Fatal(err)
					}
				}
				b.ReportMetric(float64(len(l)), "links")
			})
		}
	}
}

package delivery

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"farhop/mesh/link"
)

// dense averages over ζ with a rule many times finer than the package's, on
// nodes of its own and without tables.
func dense(b *blocks, d pair, eta float64, k kind) (by []float64, figures [figureCount]float64) {
	const reach = 6.0
	sharp := 1.0
	for _, x := range []link.Direction{d.forward, d.reverse} {
		if x.Kind == link.Gaussian {
			sharp = max(sharp, x.SD/x.Noise)
		}
	}
	n := int(reach * sharp * 8 * math.Sqrt(1+float64(b.pr.Frames)/8))
	var w bench
	whole := 0.0
	for i := -n; i <= n; i++ {
		zeta := float64(i) / float64(n) * reach
		weight := math.Exp(-zeta * zeta / 2)
		whole += weight
		p := d.forward.Frame(zeta, eta)
		b.set(&w, p, 1-p, k)
		first, of := b.answer(&w, math.Pow(d.reverse.Frame(zeta, eta), float64(b.pr.Ack)), k)
		by = addAt(by, first, weight, of)
		for f, v := range w.now.figures() {
			figures[f] += weight * v
		}
	}
	for i := range by {
		by[i] /= whole
	}
	for f := range figures {
		figures[f] /= whole
	}
	return by, figures
}

// apart is the largest difference of two cumulative distributions.
func apart(s spans, by []float64) (most float64) {
	sum := 0.0
	for i := range max(len(by), s.first+s.n) {
		if i < len(by) {
			sum -= by[i]
		}
		if k := i - s.first; k >= 0 && k < s.n {
			sum += s.of[k]
		}
		most = max(most, math.Abs(sum))
	}
	return most
}

// randomPair is a pair of directions of any kind, some of them very sharp.
func randomPair(rng *rand.Rand) pair {
	direction := func() link.Direction {
		noise := math.Exp(rng.NormFloat64()*0.6 + 0.7)
		return gaussian(rng.NormFloat64()*5+1.5, rng.ExpFloat64()*4, 0, noise)
	}
	d := pair{direction(), direction()}
	switch rng.IntN(7) {
	case 0:
		d.forward = certain(rng.Float64())
	case 1:
		d.reverse = certain(rng.Float64())
	case 2:
		d.reverse = link.Direction{}
	case 3:
		d.forward.SD /= 10
	case 4:
		d.reverse.Noise = 0.3
	}
	return d
}

// The integration over the hop's deviate errs by less than 1e-4 in the chance of
// arrival by any slot; in fact by less than 1e-5.
func TestAverageAgainstDenseRule(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, pr := range []Protocol{
		{Frames: 1, Ack: 1, Turnaround: 1, Rounds: 6},
		{Frames: 3, Ack: 2, Rounds: 3},
		{Frames: 9, Ack: 1, Turnaround: 1, Rounds: 6},
		{Frames: 9, Turnaround: 1, Rounds: 11},
		{Frames: 40, Ack: 1, Turnaround: 1, Rounds: 8},
		{Frames: 20, Ack: 1, Turnaround: 1, Rounds: 6, Block: 10},
		{Frames: 30, Ack: 1, Turnaround: 1, Rounds: 6, Block: 3},
	} {
		e, _ := evaluator(t, Plan{Protocol: pr, Slot: slot, Deadline: time.Hour})
		for range 4 {
			d := randomPair(rng)
			for _, k := range []kind{kindDone, kindRead} {
				var figures [figureCount][]float64
				s := e.average(d, k, &figures)
				by, want := dense(&e.blocks, d, 0, k)
				if err := apart(s, by); err > 1e-5 {
					t.Errorf("%+v kind %d: off by %g for %+v", pr, k, err, d)
				}
				for f, of := range figures {
					if of != nil {
						near(t, fmt.Sprintf("%+v figure %d for %+v", pr, f, d), of[0], want[f], 1e-4*max(1, want[f]))
					}
				}
			}
		}
	}
}

// The rule for the net-wide deviate errs by less than 1e-4 as well, over chains
// of up to five hops.
func TestDeviatesAgainstDenseRule(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for _, c := range []struct{ sd, noise float64 }{{3, 4}, {3, 1}, {3.3, 3}, {4.2, 4}, {6, 1.5}, {7, 4}, {12, 3}} {
		for _, frames := range []int{2, 9, 40} {
			var legs []Leg
			share := 0.0
			for range 1 + rng.IntN(5) {
				f := gaussian(c.sd*(1.2+rng.NormFloat64()), c.sd, 3, c.noise)
				r := gaussian(c.sd*(1.2+rng.NormFloat64()), c.sd, 3, c.noise)
				legs = append(legs, steady(f, r))
				share = max(share, Share(f), Share(r))
			}
			plan := Plan{Protocol: Protocol{Frames: frames, Ack: 1, Turnaround: 1, Rounds: 6}, Slot: slot, Deadline: 4 * time.Hour, Common: share}
			e, ids := evaluator(t, plan, legs...)
			fine, _ := evaluator(t, plan, legs...)
			fine.rule = equallySpaced(min(0.08, (e.rule.nodes[len(e.rule.nodes)-1]-e.rule.nodes[len(e.rule.nodes)-2])/2), 5.5)
			a, b := e.Chain(ids...), fine.Chain(ids...)
			most := 0.0
			for i, v := range a.Delivered {
				most = max(most, math.Abs(v-b.Delivered[i]))
			}
			if most > 6e-5 {
				t.Errorf("%+v, %d frames, %d hops, %d nodes: off by %g", c, frames, len(legs), len(e.Weights()), most)
			}
			near(t, "frames", a.Airtime(), b.Airtime(), 1e-3)
		}
	}
}

// A chance that moves with ζ on its own path gives what the same chance gives on
// the shared nodes.
func TestPathsOfAveragingAgree(t *testing.T) {
	e, _ := evaluator(t, Plan{Protocol: Protocol{Frames: 9, Ack: 1, Turnaround: 1, Rounds: 6}, Slot: slot, Deadline: time.Hour})
	still := pair{certain(0.7), gaussian(1, 3, 0, 2)}
	barely := pair{gaussian(0.5244005127080407, 1e-9, 0, 1), gaussian(1, 3, 0, 2)}
	none := pair{certain(0.7), certain(0.4)}
	flat := pair{certain(0.7), gaussian(-0.2533471031357998, 0, 0, 1)}
	for _, c := range [][2]pair{{still, barely}, {none, flat}} {
		for _, k := range []kind{kindDone, kindRead, kindLost} {
			var figures [figureCount][]float64
			a, b := e.average(c[0], k, &figures), e.average(c[1], k, &figures)
			by := make([]float64, b.first+b.n)
			copy(by[b.first:], b.of)
			if err := apart(a, by); err > 1e-6 {
				t.Errorf("kind %d: %v and %v differ by %g", k, c[0], c[1], err)
			}
		}
	}
}

// Figures that make no sense, or steps instead of curves, neither panic nor hang.
func TestOddDirections(t *testing.T) {
	e, _ := evaluator(t, Plan{Protocol: Protocol{Frames: 9, Ack: 1, Turnaround: 1, Rounds: 6}, Slot: slot, Deadline: time.Hour})
	nan, inf := math.NaN(), math.Inf(1)
	reach := func(f, r link.Direction) float64 { return e.Reach(e.NewLeg(steady(f, r)), 0)[0] }
	good := certain(1)
	for _, c := range []struct {
		name    string
		forward link.Direction
		want    float64
	}{
		{"no number", gaussian(nan, 3, 0, 2), 0},
		{"no deviation", gaussian(3, nan, 0, 2), 0},
		{"no noise", gaussian(3, 0, 0, 0), 1},
		{"endless margin", gaussian(inf, 3, 0, 2), 1},
		{"endless deviation", gaussian(3, inf, 0, 2), 0},
		{"negative noise", gaussian(3, 0, 0, -1), 1},
		{"more than certain", certain(7), 1},
		{"less than none", certain(-7), 0},
		{"uncertain", certain(nan), 0},
		{"unknown kind", link.Direction{Kind: 99, Margin: 5}, 0},
		{"step", gaussian(2, 4, 0, 1e-6), link.Phi(0.5)},
		{"steep", gaussian(2, 4, 0, 0.02), link.Phi(0.5)},
	} {
		t.Run(c.name, func(t *testing.T) {
			near(t, "reach", reach(c.forward, good), c.want, 3e-3)
			if v := reach(good, c.forward); v != 1 {
				t.Errorf("a frame that always decodes arrives with %g", v)
			}
		})
	}
}

// For messages of many blocks figures are read off near the chance wanted; all
// coefficients together say the same.
func TestNearAgainstAllCoefficients(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for _, pr := range []Protocol{
		{Frames: 50, Ack: 1, Turnaround: 1, Rounds: 6, Block: 10},
		{Frames: 100, Ack: 2, Rounds: 4, Block: 8},
		{Frames: 40, Ack: 1, Rounds: 2, Block: 1},
		{Frames: 24, Ack: 1, Turnaround: 1, Rounds: 12, Block: 6},
	} {
		few, _ := evaluator(t, Plan{Protocol: pr, Slot: slot, Deadline: time.Hour})
		all, _ := evaluator(t, Plan{Protocol: pr, Slot: slot, Deadline: time.Hour})
		all.grid.begin.Do(func() { all.grid.cheb = newChebyshev(all.blocks.degree(), false) })
		if !few.grid.points().near || few.direct {
			t.Fatalf("%+v: nothing to compare", pr)
		}
		for range 3 {
			d := randomPair(rng)
			for _, k := range []kind{kindDone, kindRead} {
				var figures, want [figureCount][]float64
				got, exact := few.average(d, k, &figures), all.average(d, k, &want)
				by := addAt(make([]float64, exact.first), exact.first, 1, exact.of)
				if err := apart(got, by); err > 1e-9 {
					t.Errorf("%+v kind %d: off by %g for %+v", pr, k, err, d)
				}
				for f, of := range figures {
					if of != nil {
						near(t, fmt.Sprintf("%+v figure %d for %+v", pr, f, d), of[0], want[f][0], 1e-9*max(1, want[f][0]))
					}
				}
			}
		}
	}
}

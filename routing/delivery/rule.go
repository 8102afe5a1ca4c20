package delivery

import (
	"math"

	"farhop/mesh/link"
)

// deviates is the rule that averages over the net-wide deviate η: equally spaced
// nodes with weights in proportion to the normal density.
type deviates struct{ nodes, weights []float64 }

// Share returns the share of a direction's deviation that the whole net has in
// common, 0…1. The more, the finer the net-wide deviate must be resolved.
func Share(d link.Direction) float64 {
	if d.Kind != link.Gaussian || d.Common <= 0 || d.SD <= 0 {
		return 0
	}
	blur := square(0.2 * d.Noise)
	return square(d.Common) / (square(d.SD) + blur)
}

func square(x float64) float64 { return x * x }

func newDeviates(share float64) deviates {
	if share <= 0 {
		return deviates{[]float64{0}, []float64{1}}
	}
	step := min(1, math.Sqrt(1.64*(1-share)))
	return equallySpaced(step, 5.5)
}

// equallySpaced returns nodes 0, ±step, … within ±reach.
func equallySpaced(step, reach float64) deviates {
	n := int(reach / step)
	d := deviates{make([]float64, 0, 2*n+1), make([]float64, 0, 2*n+1)}
	sum := 0.0
	for i := -n; i <= n; i++ {
		x := float64(i) * step
		w := math.Exp(-x * x / 2)
		d.nodes, d.weights = append(d.nodes, x), append(d.weights, w)
		sum += w
	}
	for i := range d.weights {
		d.weights[i] /= sum
	}
	return d
}

// line is the decode chance of a direction as Φ(at + slope·ζ), or a fixed one.
type line struct {
	fixed     bool
	chance    float64 // fixed
	at, slope float64
}

// lineOf returns the line of a direction, given the net-wide deviate.
func lineOf(d link.Direction, eta float64) line {
	switch d.Kind {
	case link.Certain:
		return line{fixed: true, chance: min(max(d.Decode, 0), 1)}
	case link.Gaussian:
		own := math.Sqrt(max((d.SD-d.Common)*(d.SD+d.Common), 0))
		return line{at: (d.Margin + d.Common*eta) / d.Noise, slope: own / d.Noise}
	}
	return line{fixed: true}
}

// hit returns the decode chance and its complement at ζ.
func (l line) hit(zeta float64) (p, miss float64) {
	if l.fixed {
		return l.chance, 1 - l.chance
	}
	u := l.at + l.slope*zeta
	return link.Phi(u), link.Phi(-u)
}

// read returns the chance that all of a frames decode at ζ.
func (l line) read(zeta float64, a int) float64 {
	p, _ := l.hit(zeta)
	q := 1.0
	for range a {
		q *= p
	}
	return q
}

// varies reports whether the chance depends on ζ.
func (l line) varies() bool { return !l.fixed && l.slope > 0 }

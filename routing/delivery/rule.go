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
	if d.Kind != link.Gaussian || !(d.Common > 0 && d.SD > 0 && d.Noise >= 0) {
		return 0
	}
	return min(1, square(d.Common)/(square(d.SD)+square(deviateBlur*d.Noise)))
}

// The rule for the net-wide deviate. Averaged over ζ, what becomes of a hop turns
// with η over a deviation of √((1 − share)/share), or at least as far as the
// decode curve of some forty frames blurs it. The trapezoidal rule with the step
// below errs by less than 5e-5 for chains of up to five hops and 40 frames; where
// a deviation is all net-wide that needs a noise of 1 dB at least.
const (
	deviateBlur  = 0.15 // of the noise
	deviateReach = 4.5
	deviateLeast = 0.06
)

func newDeviates(share float64) deviates {
	if share <= 0 {
		return deviates{[]float64{0}, []float64{1}}
	}
	step := (1.2 - share/4) * math.Sqrt(1-share)
	return equallySpaced(max(step, deviateLeast), deviateReach)
}

func square(x float64) float64 { return x * x }

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

// steepest bounds the slope of a line. A step that sharp moves no chance by more
// than 1e-5.
const steepest = 300

// lineOf returns the line of a direction, given the net-wide deviate. What is
// not a number never decodes.
func lineOf(d link.Direction, eta float64) line {
	switch d.Kind {
	case link.Certain:
		if d.Decode > 0 {
			return line{fixed: true, chance: min(d.Decode, 1)}
		}
	case link.Gaussian:
		own := math.Sqrt(max((d.SD-d.Common)*(d.SD+d.Common), 0))
		noise := max(d.Noise, own/steepest, 1e-9)
		at := (d.Margin + d.Common*eta) / noise
		if l := (line{at: min(max(at, -1e4), 1e4), slope: own / noise}); !math.IsNaN(l.at + l.slope) {
			return l
		}
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
	p := l.chance
	if !l.fixed {
		switch u := l.at + l.slope*zeta; {
		case u > surely:
			return 1
		case u < -surely && a > 0:
			return 0
		default:
			p = link.Phi(u)
		}
	}
	q := 1.0
	for range a {
		q *= p
	}
	return q
}

// surely is the u from which on Φ(u) is taken for 1, and Φ(−u) for 0.
const surely = 5

// varies reports whether the chance depends on ζ.
func (l line) varies() bool { return !l.fixed && l.slope > 0 }

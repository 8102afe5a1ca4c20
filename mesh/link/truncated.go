package link

import "math"

// truncated returns mean and variance of x after an unwitnessed report: the
// density
//
//	N(x; m, v) · N(y; x, r) / Φ((x − θ)/s),  s² > r
//
// normalised. Dividing by Φ alone grows like exp((x − θ)²/2s²) far below θ, but
// since s² > r the report's own Gaussian falls faster: the quotient is log-concave
// and the result proper, with a variance between v·r/(v + r) and v.
//
// In units of s about θ the density is exp(−(u − a)²/2b)/Φ(u) with b < 1. It is summed
// outwards from its mode by the trapezoid rule, whose error for such a smooth
// density falls exponentially with the step; see the tests for what is reached.
func truncated(m, v, y, r, theta, s float64) (mean, variance float64) {
	whole := v * r / (v + r)
	a := (m + v/(v+r)*(y-m) - theta) / s
	b := whole / (s * s)
	if a*a > certainDecode*certainDecode*(1+b) && a > 0 {
		return theta + s*a, whole
	}
	mode := truncatedMode(a, b)
	peak := logPhi(mode) + (mode-a)*(mode-a)/(2*b)
	step := 0.6 * math.Sqrt(b)
	var w0, w1, w2 float64
	sum := func(i, by int) {
		for ; i < maxNodes && i > -maxNodes; i += by {
			d := float64(i) * step
			u := mode + d
			f := math.Exp(peak - logPhi(u) - (u-a)*(u-a)/(2*b))
			w0, w1, w2 = w0+f, w1+f*d, w2+f*d*d
			if f < negligible {
				return
			}
		}
	}
	sum(0, 1)
	sum(-1, -1)
	w1 /= w0
	variance = (w2/w0 - w1*w1) * s * s
	return theta + s*(mode+w1), min(max(variance, whole), v)
}

const (
	certainDecode = 8.3    // Φ is 1 to the last bit from here on
	negligible    = 1e-15  // of the peak
	maxNodes      = 10_000 // never reached with settings that pass Check
)

// truncatedMode returns where −(u − a)²/2b − ln Φ(u) is greatest. Its slope is
// concave and falling, and negative at a, so Newton's steps from a approach the
// root from above without overshooting.
func truncatedMode(a, b float64) float64 {
	u := a
	for range 100 {
		rho, shrink := hazard(u)
		slope := (a-u)/b - rho
		step := slope / (1/b - shrink)
		u += step
		if step > -1e-9*(1+math.Abs(u)) {
			break
		}
	}
	return u
}

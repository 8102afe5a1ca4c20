package link

import "math"

// truncated returns mean and variance of x after an unwitnessed report, whose
// density is, normalised and with s² > r,
//
//	N(x; m, v) · N(y; x, r) / Φ((x − θ)/s).
//
// The prior and the report make one Gaussian of mean m₁ and variance v₁. In units
// of s about θ these are a and b, b < 1, and since 1/Φ(u) = ρ(u)/φ(u) with ρ = φ/Φ
// the density becomes
//
//	ρ(u) · exp(−(u − c)²/2B),  c = a/(1 − b),  B = b/(1 − b):
//
// proper however far below θ, although 1/Φ alone grows without bound there. It is
// log-concave, and so is the likelihood, which keeps the variance between v₁ and v.
// Its moments are summed outwards from the mode by the trapezoid rule, whose error
// falls exponentially with the step for a density as smooth as this.
func truncated(m, v, y, r, theta, s float64) (mean, variance float64) {
	v1 := v * r / (v + r)
	m1 := m + v/(v+r)*(y-m)
	a, b := (m1-theta)/s, v1/(s*s)
	if a > certainDecode*math.Sqrt(1+b) {
		return m1, v1
	}
	t := tilted{centre: a / (1 - b), rate: 0.5 * (1 - b) / b}
	mode := t.mode(a, b)
	step := nodeStep * math.Sqrt(b)
	w0, w1, w2 := 1.0, 0.0, 0.0 // the mode itself
	peak, _ := hazard(mode)
	for _, by := range [2]float64{step, -step} {
		for n := 1; n <= maxNodes; n++ {
			d := float64(n) * by
			rho, _ := hazard(mode + d)
			f := rho / peak * math.Exp(-t.rate*d*(d+2*(mode-t.centre)))
			w0, w1, w2 = w0+f, w1+f*d, w2+f*d*d
			if f < negligible {
				break
			}
		}
	}
	w1 /= w0
	variance = (w2/w0 - w1*w1) * s * s
	return theta + s*(mode+w1), min(max(variance, v1), v)
}

const (
	certainDecode = 8.3   // standard deviations beyond which Φ is 1 to the last bit
	nodeStep      = 0.7   // step of the sum in units of √b, the density's narrowest scale
	negligible    = 1e-14 // share of the peak at which the sum ends
	maxNodes      = 20000 // each way; √b ≥ 0.003·√(1 − b) by the bounds on settings
)

// tilted is the density ρ(u)·exp(−rate·(u − centre)²).
type tilted struct{ centre, rate float64 }

// mode returns about where the density exp(−(u − a)²/2b)/Φ(u) is greatest. The
// slope of its logarithm is concave and falling, and negative at a: Newton's
// steps from there never overshoot.
func (t tilted) mode(a, b float64) float64 {
	u := a
	for range 50 {
		rho, shrink := hazard(u)
		step := ((a-u)/b - rho) / (1/b - shrink)
		u += step
		if step > -0.01 {
			break
		}
	}
	return u
}

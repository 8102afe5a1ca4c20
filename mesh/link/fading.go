package link

import "math"

// Fading says how much of a forecast's deviation is fluctuation, and how fast that
// passes. The zero value is none, as of links stated by a plan.
type Fading struct {
	FastVar, SlowVar   float64 // variance of the fast and the slow fluctuation in dB²
	FastRate, SlowRate float64 // reciprocals of their time constants in 1/s
}

// Over is the direction for a span of so many seconds about the moment of its forecast,
// in the terms of one that holds still. Two slots of the span have on the average
// less of their deviation in common than two at the same moment have: a fluctuation of
// time constant τ, an Ornstein–Uhlenbeck process, keeps the share 2(u − 1 + e⁻ᵘ)/u² of its
// variance, u = span/τ, the mean of e^(−|s−t|/τ) over all pairs. What is in common stays in
// SD; the rest counts as noise of single slots, so that the mean decode chance stays as
// it is. Which slots of the span lie close together is lost: that is the approximation.
func (d Direction) Over(f Fading, span float64) Direction {
	if d.Kind != Gaussian || !(span > 0) {
		return d
	}
	passes := f.FastVar*(1-kept(span*f.FastRate)) + f.SlowVar*(1-kept(span*f.SlowRate))
	passes = min(max(passes, 0), d.SD*d.SD)
	d.SD = math.Sqrt(d.SD*d.SD - passes)
	d.Common = min(d.Common, d.SD)
	d.Noise = math.Sqrt(d.Noise*d.Noise + passes)
	return d
}

// kept is 2(u − 1 + e⁻ᵘ)/u², 1 at 0.
func kept(u float64) float64 {
	if u < 1e-4 {
		return 1 - u/3
	}
	return 2 * (u + math.Expm1(-u)) / (u * u)
}

package link

import (
	"math"
	"sync"
)

const (
	invSqrt2   = 0.707106781186547524400844362104849039 // 1/√2
	invSqrt2Pi = 0.398942280401432677939946059934381868 // 1/√(2π)
	logSqrt2Pi = 0.918938533204672741780329736405617640 // ln √(2π)
)

// Phi returns the standard normal cumulative Φ(z), to about 1e-15 relative to
// its value down to z = −37. Φ(+Inf) is 1, Φ(−Inf) is 0, Φ(NaN) is NaN.
func Phi(z float64) float64 {
	if z > -phiReach && z < phiReach {
		return phiSeries.at(z + phiReach)
	}
	return phiErfc(z)
}

// phiErfc is Φ by the standard library's complementary error function.
func phiErfc(z float64) float64 { return 0.5 * math.Erfc(-z*invSqrt2) }

// logPhi returns ln Φ(z), also where Φ itself is too small for a float64.
func logPhi(z float64) float64 {
	if z < fractionBelow {
		return -0.5*z*z - logSqrt2Pi - math.Log(fraction(-z)-z)
	}
	if z > 0 {
		return math.Log1p(-phiErfc(-z))
	}
	return math.Log(phiErfc(z))
}

// hazard returns ρ = φ(z)/Φ(z), and ρ·(z + ρ), which is within 0…1: how far a
// miss moves the mean and by how much it shrinks the variance.
func hazard(z float64) (rho, shrink float64) {
	switch {
	case z >= 0 && z < hazardReach:
		rho = hazardSeries().at(z)
		return rho, rho * (z + rho)
	case z < 0 && z > fractionBelow:
		excess := excessSeries().at(-z)
		rho = excess - z
		return rho, rho * excess
	case z < 0:
		excess := fraction(-z)
		rho = excess - z
		return rho, rho * excess
	}
	rho = invSqrt2Pi * math.Exp(-0.5*z*z) / phiErfc(z)
	return rho, rho * (z + rho)
}

// fraction returns 1/(a + 2/(a + 3/(a + …))), which is φ/Φ − a at z = −a, to a few
// units of the last place for a ≥ 1 (Laplace's continued fraction of the normal tail).
func fraction(a float64) float64 {
	f := a
	for k := 12 + int(1500/(a*a)); k >= 2; k-- {
		f = a + float64(k)/f
	}
	return 1 / f
}

// Where functions are taken from which form.
const (
	phiReach      = 5   // |z| up to which Φ comes from its series
	hazardReach   = 8   // z up to which ρ comes from its series
	fractionBelow = -25 // z up to which ρ comes from the continued fraction
)

// series holds a smooth function as Taylor series about 0, 1/perUnit, 2/perUnit …,
// each used up to half way to its neighbours.
type series [][terms]float64

const (
	terms   = 12
	perUnit = 8
)

// at sums the series nearest to u, which must be within 0…length. The
// sum is arranged for short chains of dependent operations.
func (s series) at(u float64) float64 {
	i := int(u*perUnit + 0.5)
	c := &s[i]
	d := u - float64(i)/perUnit
	d2 := d * d
	d4 := d2 * d2
	low := c[0] + c[1]*d + (c[2]+c[3]*d)*d2
	middle := c[4] + c[5]*d + (c[6]+c[7]*d)*d2
	high := c[8] + c[9]*d + (c[10]+c[11]*d)*d2
	return low + (middle+high*d4)*d4
}

// newSeries makes the series for 0…length from the function that gives the
// Taylor coefficients at a point.
func newSeries(length int, taylor func(u float64) [terms]float64) series {
	s := make(series, length*perUnit+1)
	for i := range s {
		s[i] = taylor(float64(i) / perUnit)
	}
	return s
}

// Constant tables; what only misses need is made when they do.
var (
	phiSeries    = newSeries(2*phiReach, func(u float64) [terms]float64 { return phiTaylor(u - phiReach) })
	hazardSeries = sync.OnceValue(func() series { return newSeries(hazardReach, hazardTaylor) })
	excessSeries = sync.OnceValue(func() series { return newSeries(-fractionBelow, excessTaylor) })
)

// phiTaylor returns the Taylor coefficients of Φ at z: φ's derivatives are
// Hermite polynomials, φ⁽ⁿ⁺¹⁾ = −z·φ⁽ⁿ⁾ − n·φ⁽ⁿ⁻¹⁾.
func phiTaylor(z float64) (c [terms]float64) {
	c[0] = phiErfc(z)
	before, now, factorial := 0.0, invSqrt2Pi*math.Exp(-0.5*z*z), 1.0
	for n := 1; n < terms; n++ {
		factorial *= float64(n)
		c[n] = now / factorial
		before, now = now, -z*now-float64(n-1)*before
	}
	return c
}

// hazardTaylor returns the Taylor coefficients of ρ at z ≥ 0, from ρ' = −ρ·(z + ρ).
func hazardTaylor(z float64) (c [terms]float64) {
	c[0] = invSqrt2Pi * math.Exp(-0.5*z*z) / phiErfc(z)
	for n := range terms - 1 {
		sum := z * c[n]
		if n > 0 {
			sum += c[n-1]
		}
		for i := range n + 1 {
			sum += c[i] * c[n-i]
		}
		c[n+1] = -sum / float64(n+1)
	}
	return c
}

// excessTaylor returns the Taylor coefficients at a of t(a) = ρ(−a) − a, from
// t' = (a + t)·t − 1, for a ≥ 0.
func excessTaylor(a float64) (c [terms]float64) {
	if a < 1 {
		c[0] = invSqrt2Pi*math.Exp(-0.5*a*a)/phiErfc(-a) - a
	} else {
		c[0] = fraction(a)
	}
	for n := range terms - 1 {
		sum := a * c[n]
		if n > 0 {
			sum += c[n-1]
		} else {
			sum--
		}
		for i := range n + 1 {
			sum += c[i] * c[n-i]
		}
		c[n+1] = sum / float64(n+1)
	}
	return c
}

package link

import "math"

const (
	invSqrt2   = 0.707106781186547524400844362104849039 // 1/√2
	invSqrt2Pi = 0.398942280401432677939946059934381868 // 1/√(2π)
	logSqrt2Pi = 0.918938533204672741780329736405617640 // ln √(2π)
)

// Phi returns the standard normal cumulative Φ(z), to full precision relative
// to its value down to z = −37. Φ(±Inf) is 1 and 0, Φ(NaN) is NaN.
func Phi(z float64) float64 { return 0.5 * math.Erfc(-z*invSqrt2) }

// tail is the z below which ratios of the normal density and cumulative come
// from a continued fraction.
const tail = -5

// hazard returns ρ = φ(z)/Φ(z) and ρ(z + ρ), which is in 0…1: how far a miss
// moves the mean and shrinks the variance.
func hazard(z float64) (rho, shrink float64) {
	if z < tail {
		a := -z
		rest := fraction(a)
		rho = a + rest
		return rho, rho * rest
	}
	rho = invSqrt2Pi * math.Exp(-0.5*z*z) / Phi(z)
	return rho, rho * (z + rho)
}

// fraction returns 1/(a + 2/(a + 3/(a + …))) for a ≥ 5, which is φ/Φ − a at z = −a.
// (Laplace's continued fraction of the normal tail.)
func fraction(a float64) float64 {
	terms := 4 + int(1500/(a*a))
	f := a
	for k := terms; k >= 2; k-- {
		f = a + float64(k)/f
	}
	return 1 / f
}

// logPhi returns ln Φ(z), also where Φ itself is too small for a float64.
func logPhi(z float64) float64 {
	if z < tail {
		return -0.5*z*z - logSqrt2Pi - math.Log(fraction(-z)-z)
	}
	return math.Log(Phi(z))
}

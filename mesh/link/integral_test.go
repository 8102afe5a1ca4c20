package link

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
)

// logTail is ln Φ(z) by another way than the package's: the standard library
// above −10, else ln φ(z) plus the logarithm of ∫₀^∞ exp(zt − t²/2) dt by
// Gauss–Legendre in units of 1/−z, where the integrand falls like e^(−t).
func logTail(z float64) float64 {
	if z > -10 {
		return math.Log(0.5 * math.Erfc(-z/math.Sqrt2))
	}
	sum := 0.0
	for i, u := range legendreNodes {
		u /= -z
		sum += legendreWeights[i] * math.Exp(z*u-0.5*u*u)
	}
	return -0.5*z*z - 0.5*math.Log(2*math.Pi) + math.Log(sum/-z)
}

var legendreNodes, legendreWeights = func() (x, w []float64) {
	x, w = make([]float64, 60), make([]float64, 60)
	quad.Legendre{}.FixedLocations(x, w, 0, 42)
	return x, w
}()

// moments integrates a log-concave density, given by its logarithm, by a dense
// trapezoid rule over all that matters. It looks for that itself.
func moments(log func(x float64) float64, near, scale float64) (mean, variance float64) {
	mode, width := near, scale
	for width > scale*1e-9 { // uphill by halving steps
		switch here := log(mode); {
		case log(mode+width) > here:
			mode += width
		case log(mode-width) > here:
			mode -= width
		default:
			width /= 2
		}
	}
	peak := log(mode)
	edge := func(by float64) float64 {
		for log(mode+by) > peak-45 {
			by *= 1.25
		}
		return mode + by
	}
	left, right := edge(-scale*1e-3), edge(scale*1e-3)
	const nodes = 3000
	var w0, w1, w2 float64
	for i := range nodes + 1 {
		x := left + (right-left)*float64(i)/nodes
		f := math.Exp(log(x) - peak)
		w0, w1, w2 = w0+f, w1+f*(x-mode), w2+f*(x-mode)*(x-mode)
	}
	w1 /= w0
	return mode + w1, w2/w0 - w1*w1
}

func afterMiss(m *Model, mean, variance, raise float64) (newMean, newVariance float64) {
	return moments(func(x float64) float64 {
		return -0.5*(x-mean)*(x-mean)/variance + logTail((m.set.HalfDecodeDB+raise-x)/m.noise)
	}, mean, math.Sqrt(variance))
}

func afterUnwitnessed(m *Model, mean, variance, y, raise float64) (newMean, newVariance float64) {
	return moments(func(x float64) float64 {
		return -0.5*(x-mean)*(x-mean)/variance - 0.5*(y-x)*(y-x)/m.slotVar -
			logTail((x-m.set.HalfDecodeDB-raise)/m.noise)
	}, mean, math.Sqrt(variance))
}

// stateOf returns a state whose x has nearly any wanted spread: reports of one
// SNR, in one slot, and the forecast there.
func stateOf(m *Model, reports int, snr float64) (*State, Forecast) {
	s := m.NewState()
	for range reports {
		m.Report(s, 1_700_000_000, snr, true)
	}
	return s, m.Forecast(s, 1_700_000_000)
}

func TestMissEqualsIntegration(t *testing.T) {
	m := model(t, func(s *Settings) { s.LevelSD, s.HarmonicSD = 6, 3 })
	for _, reports := range []int{0, 1, 3, 40} {
		for _, z := range []float64{-60, -45, -38, -30, -25.01, -25, -24.99, -15, -8, -5, -4.9, -2, -0.5, 0, 0.3, 1, 3, 6, 9, 20} {
			t.Run(fmt.Sprintf("reports=%d z=%v", reports, z), func(t *testing.T) {
				s, f := stateOf(m, reports, -20)
				raise := f.SNR - m.set.HalfDecodeDB + z*math.Sqrt(f.SD*f.SD+m.noiseVar)
				mean, variance := afterMiss(m, f.SNR, f.SD*f.SD, raise)
				m.Miss(s, 1_700_000_000, raise)
				got := m.Forecast(s, 1_700_000_000)
				if math.Abs(got.SNR-mean) > 1e-9*(1+math.Abs(mean)) || off(got.SD*got.SD, variance) > 1e-8 {
					t.Errorf("mean %v, variance %v; integration gives %v, %v", got.SNR, got.SD*got.SD, mean, variance)
				}
			})
		}
	}
}

func TestUnwitnessedEqualsIntegration(t *testing.T) {
	tight := model(t, func(s *Settings) { s.SpreadDB, s.LevelSD = 0.01, 40 })
	wide := model(t, func(s *Settings) { s.SpreadDB, s.SlotSD = 6, 1.5 })
	for i, m := range []*Model{model(t, nil), tight, wide} {
		for _, reports := range []int{0, 1, 3, 40} {
			for _, above := range []float64{-300, -60, -25, -10, -3, -1, 0, 1, 3, 6, 10, 20, 40, 70} {
				t.Run(fmt.Sprintf("model=%d reports=%d above=%v", i, reports, above), func(t *testing.T) {
					s, f := stateOf(m, reports, m.set.HalfDecodeDB+5)
					y := m.set.HalfDecodeDB + above
					mean, variance := afterUnwitnessed(m, f.SNR, f.SD*f.SD, y, 0)
					m.Report(s, 1_700_000_000, y, false)
					got := m.Forecast(s, 1_700_000_000)
					if math.Abs(got.SNR-mean) > 1e-8*(1+math.Abs(mean)) || off(got.SD*got.SD, variance) > 1e-8 {
						t.Errorf("mean %v, variance %v; integration gives %v, %v", got.SNR, got.SD*got.SD, mean, variance)
					}
				})
			}
		}
	}
}

// Far above θ a decode is certain, and a witness adds nothing.
func TestUnwitnessedFarAboveEqualsWitnessed(t *testing.T) {
	m := model(t, nil)
	a, _ := stateOf(m, 2, 20)
	b := a.Clone()
	m.Report(a, 1_700_000_120, 25, true)
	m.Report(b, 1_700_000_120, 25, false)
	if fa, fb := m.Forecast(a, 1_700_000_600), m.Forecast(b, 1_700_000_600); math.Abs(fa.SNR-fb.SNR) > 1e-12 || math.Abs(fa.SD-fb.SD) > 1e-12 {
		t.Errorf("witnessed %v, unwitnessed %v", fa, fb)
	}
}

// Near θ an unwitnessed report is a survivor: it must raise the link less than a
// witnessed one, and leave more doubt, but never more than there was.
func TestUnwitnessedSaysLess(t *testing.T) {
	m := model(t, nil)
	for _, snr := range []float64{-29, -27, -24, -20} {
		a, before := stateOf(m, 0, 0)
		b := a.Clone()
		m.Report(a, 1_700_000_000, snr, true)
		m.Report(b, 1_700_000_000, snr, false)
		witnessed, alone := m.Forecast(a, 1_700_000_000), m.Forecast(b, 1_700_000_000)
		if !(alone.SNR < witnessed.SNR && alone.SD > witnessed.SD && alone.SD < before.SD) {
			t.Errorf("SNR %v: before %v, witnessed %v, unwitnessed %v", snr, before, witnessed, alone)
		}
	}
}

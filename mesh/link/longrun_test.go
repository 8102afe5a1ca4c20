package link

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// covariance unpacks the state's covariance.
func covariance(m *Model, s *State) *mat.SymDense {
	p := mat.NewSymDense(m.parts, nil)
	at := m.parts
	for i := range m.parts {
		for j := range i + 1 {
			p.SetSym(i, j, s.v[at])
			at++
		}
	}
	return p
}

// sound fails the test if the state can't be a state: its covariance must be
// positive definite and within the prior, the forecast finite and in its ranges.
func sound(t testing.TB, m *Model, s *State, when string) {
	t.Helper()
	p := covariance(m, s)
	var chol mat.Cholesky
	if !chol.Factorize(p) {
		t.Fatalf("%s: covariance isn't positive definite:\n%v", when, mat.Formatted(p))
	}
	for i := range m.parts {
		if p.At(i, i) > m.variance[i]*(1+1e-9) {
			t.Fatalf("%s: part %d has variance %v, more than its prior %v", when, i, p.At(i, i), m.variance[i])
		}
	}
	unix, _ := s.At()
	for _, ahead := range []int64{0, 40, 3600, 43200, 86400 * 30, 86400 * 3650} {
		f := m.Forecast(s, unix+ahead)
		for _, v := range []float64{f.SNR, f.SD, f.ClimateSD, f.Freshness, f.Decode} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("%s: forecast %+v", when, f)
			}
		}
		if f.Freshness < 0 || f.Freshness > 1 || f.Decode < 0 || f.Decode > 1 || f.SD <= 0 || f.ClimateSD <= 0 {
			t.Fatalf("%s: forecast %+v", when, f)
		}
		// The clamp must not be what keeps freshness in range.
		if raw := 1 - f.SD*f.SD/m.prior; raw < -1e-9 || raw > 1 {
			t.Fatalf("%s: unclamped freshness %v", when, raw)
		}
	}
}

// Ten years with a report in every slot of 120 s, then ten days of 15 s slots.
func TestEverySlotForTenYears(t *testing.T) {
	m := model(t, nil)
	s := m.NewState()
	unix := int64(1_700_000_000)
	for _, span := range []struct{ slot, slots, look int64 }{
		{120, 3652 * 86400 / 120, 100_000},
		{15, 10 * 86400 / 15, 5_000},
	} {
		for i := range span.slots {
			unix += span.slot
			m.Report(s, unix, -15+float64(i%11), true)
			if i%span.look == 0 {
				sound(t, m, s, "reports every slot")
			}
		}
		sound(t, m, s, "at the end")
	}
}

func TestTenYearsOfMixedEvidence(t *testing.T) {
	for _, seed := range []uint64{1, 2, 3} {
		r := rand.New(rand.NewPCG(seed, 4))
		m := model(t, func(s *Settings) { s.Harmonics = 2 * int(seed) })
		s := m.NewState()
		unix := int64(1_700_000_000)
		end := unix + 3653*86400
		for n := 0; unix < end; n++ {
			unix += 120 * r.Int64N(200)
			switch k := r.IntN(1000); {
			case k == 0:
				unix += r.Int64N(86400 * 365) // silent for months
			case k == 1:
				m.Move(s, unix, r.Float64())
			case k < 200:
				m.Report(s, unix, -28+15*r.Float64(), k < 150)
			default:
				m.Miss(s, unix, 3*r.NormFloat64())
			}
			if n%2000 == 0 {
				sound(t, m, s, "mixed evidence")
			}
		}
		sound(t, m, s, "after ten years")
	}
}

func TestGapsOfYears(t *testing.T) {
	m := model(t, nil)
	s := m.NewState()
	unix := int64(0)
	for _, years := range []int64{0, 1, 3, 10, 100, 1000} {
		unix += years * 365 * 86400
		m.Report(s, unix, 10, true)
		m.Miss(s, unix+120, 0)
		sound(t, m, s, "after a gap of years")
	}
	f := m.Forecast(s, unix+1000*365*86400)
	if f.Freshness != 0 || math.Abs(f.SNR-m.mean) > 1e-9 {
		t.Errorf("after a thousand years: %+v, want the prior", f)
	}
}

func TestThousandsOfMisses(t *testing.T) {
	for _, step := range []int64{0, 15, 120, 7200} {
		m := model(t, nil)
		s := m.NewState()
		unix := int64(1_700_000_000)
		last := math.Inf(1)
		for i := range 20_000 {
			unix += step
			m.Miss(s, unix, 0)
			if i%1000 == 0 {
				sound(t, m, s, "misses in a row")
				chance := m.Forecast(s, unix).Decode
				if chance > last+0.002 {
					t.Fatalf("step %d s: chance rose from %v to %v after %d misses", step, last, chance, i)
				}
				last = chance
			}
		}
		f := m.Forecast(s, unix)
		if f.Decode > 0.01 || f.SNR < m.mean-6*math.Sqrt(m.prior) {
			t.Errorf("step %d s: after 20,000 misses %+v", step, f)
		}
		// And a station that then comes up is believed.
		for range 3 {
			unix += 120
			m.Report(s, unix, -10, true)
		}
		if f := m.Forecast(s, unix+120); f.Decode < 0.5 {
			t.Errorf("step %d s: three reports after 20,000 misses leave %+v", step, f)
		}
	}
}

// Evidence that contradicts itself and wild figures must not unhinge a state.
func TestWildFigures(t *testing.T) {
	m := model(t, nil)
	s := m.NewState()
	unix := int64(1_700_000_000)
	for range 200 {
		for _, y := range []float64{maxSNR, -maxSNR, 60, -60, math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64} {
			m.Report(s, unix, y, true)
			m.Report(s, unix, y, false)
			m.Miss(s, unix, y)
			m.Unwitnessed(s, unix, -y, y)
			m.Move(s, unix, y)
			unix += 40
		}
		m.Move(s, unix, math.NaN())
		sound(t, m, s, "wild figures")
	}
	m.Report(s, math.MaxInt64, -10, true)
	m.Report(s, math.MinInt64, -10, true)
	sound(t, m, s, "the end of time")
}

package link

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// A dense process is the model again without any recursion: the covariance of x
// over all moments written out, and solved.
type dense struct {
	set   Settings
	at    []int64
	y, r  []float64 // measurements of x and their variances
	moves []moved
}

type moved struct {
	unix int64
	a    float64
}

// cov returns the covariance of x at two moments, and of its climate part.
func (d *dense) cov(s, t int64) (whole, climate float64) {
	gap := math.Abs(float64(t - s))
	part := func(sd, tau float64) float64 { return sd * sd * math.Exp(-gap/tau) }
	climate = part(d.set.LevelSD, d.set.LevelTau.Seconds())
	for _, m := range d.moves {
		if min(s, t) < m.unix && m.unix <= max(s, t) {
			climate *= m.a
		}
	}
	angle := 2 * math.Pi * float64(t-s) / 86400
	for k := 1; k <= d.set.Harmonics; k++ {
		sd := d.set.HarmonicSD * math.Pow(d.set.HarmonicRatio, float64(k-1))
		climate += part(sd, d.set.HarmonicTau.Seconds()) * math.Cos(float64(k)*angle)
	}
	return climate + part(d.set.FastSD, d.set.FastTau.Seconds()) + part(d.set.SlowSD, d.set.SlowTau.Seconds()), climate
}

// forecast returns mean and variance of x and the variance of its climate.
func (d *dense) forecast(t *testing.T, unix int64) (mean, variance, climate float64) {
	t.Helper()
	mean = d.set.HalfDecodeDB + d.set.MeanDB
	variance, climate = d.cov(unix, unix)
	n := len(d.at)
	if n == 0 {
		return mean, variance, climate
	}
	k := mat.NewSymDense(n, nil)
	rhs := mat.NewDense(n, 3, nil)
	for i := range n {
		for j := i; j < n; j++ {
			c, _ := d.cov(d.at[i], d.at[j])
			if i == j {
				c += d.r[i]
			}
			k.SetSym(i, j, c)
		}
		whole, clim := d.cov(d.at[i], unix)
		rhs.SetRow(i, []float64{d.y[i] - mean, whole, clim})
	}
	var chol mat.Cholesky
	if !chol.Factorize(k) {
		t.Fatal("the dense covariance isn't positive definite")
	}
	var solved mat.Dense
	if err := chol.SolveTo(&solved, rhs); err != nil {
		t.Fatal(err)
	}
	for i := range n {
		mean += rhs.At(i, 1) * solved.At(i, 0)
		variance -= rhs.At(i, 1) * solved.At(i, 1)
		climate -= rhs.At(i, 2) * solved.At(i, 2)
	}
	return mean, variance, climate
}

// take adds a measurement that takes x from one mean and variance to another.
func (d *dense) take(unix int64, mean, variance, newMean, newVariance float64) {
	r := 1 / (1/newVariance - 1/variance)
	d.at = append(d.at, unix)
	d.r = append(d.r, r)
	d.y = append(d.y, mean+(newMean-mean)*(variance+r)/variance)
}

// agree compares a forecast of the filter with the dense process.
func agree(t *testing.T, d *dense, f Forecast, unix int64, within float64) {
	t.Helper()
	mean, variance, climate := d.forecast(t, unix)
	if math.Abs(f.SNR-mean) > within || math.Abs(f.SD-math.Sqrt(variance)) > within ||
		math.Abs(f.ClimateSD-math.Sqrt(climate)) > within {
		t.Fatalf("at %d after %d pieces of evidence: SNR %v, SD %v, climate %v; the dense process says %v, %v, %v",
			unix, len(d.at), f.SNR, f.SD, f.ClimateSD, mean, math.Sqrt(variance), math.Sqrt(climate))
	}
	prior, _ := d.cov(0, 0)
	if math.Abs(f.Freshness-(1-variance/prior)) > within {
		t.Fatalf("freshness %v, want %v", f.Freshness, 1-variance/prior)
	}
	z := (mean - d.set.HalfDecodeDB) / math.Sqrt(variance+d.set.SlotSD*d.set.SlotSD+d.set.SpreadDB*d.set.SpreadDB)
	if math.Abs(f.Decode-0.5*math.Erfc(-z/math.Sqrt2)) > within {
		t.Fatalf("decode chance %v at z = %v", f.Decode, z)
	}
	if f.Known != (f.ClimateSD <= d.set.KnownSD) {
		t.Fatalf("known is %v at a climate of %v dB", f.Known, f.ClimateSD)
	}
}

// gap draws the time between two slots: the same slot, a minute, hours, weeks.
func gap(r *rand.Rand) int64 {
	longest := [...]int64{1, 120, 7200, 90000, 5_000_000}
	return r.Int64N(longest[r.IntN(len(longest))])
}

func model(t testing.TB, change func(*Settings)) *Model {
	t.Helper()
	s := Defaults()
	if change != nil {
		change(&s)
	}
	m, err := NewModel(s)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func TestReportsEqualDenseProcess(t *testing.T) {
	for seed := range uint64(60) {
		r := rand.New(rand.NewPCG(seed, 2))
		m := model(t, func(s *Settings) {
			s.Harmonics = 1 + int(seed)%MaxHarmonics
			s.LevelSD = 1 + 20*r.Float64()
			s.SlotSD = 1 + 4*r.Float64()
		})
		s, d := m.NewState(), &dense{set: m.Settings()}
		unix := int64(1_700_000_000) - int64(seed)*50_000_000
		for i := range 25 {
			unix += gap(r)
			if i%8 == 7 {
				a := r.Float64()
				unix++ // so that it is clear on which side of the move a slot lies
				m.Move(s, unix, a)
				d.moves = append(d.moves, moved{unix, a})
			}
			y := -45 + 40*r.Float64()
			m.Report(s, unix, y, true)
			d.at, d.y, d.r = append(d.at, unix), append(d.y, y), append(d.r, m.slotVar)
			if i%6 == 0 {
				ahead := unix + gap(r)
				agree(t, d, m.Forecast(s, unix), unix, 1e-8)
				agree(t, d, m.Forecast(s, ahead), ahead, 1e-8)
			}
		}
	}
}

// Misses and unwitnessed reports act on the state through x alone, as a
// measurement would that has the same effect on x: taken from integration of
// the dense process's own x, the whole history must agree.
func TestAllEvidenceEqualsDenseProcess(t *testing.T) {
	for seed := range uint64(12) {
		r := rand.New(rand.NewPCG(seed, 3))
		m := model(t, func(s *Settings) { s.Harmonics = 1 + int(seed)%4 })
		s, d := m.NewState(), &dense{set: m.Settings()}
		unix := int64(1_700_000_000)
		for range 16 {
			unix += gap(r)
			mean, variance, _ := d.forecast(t, unix)
			switch r.IntN(3) {
			case 0:
				y := mean + 12*r.NormFloat64()
				m.Report(s, unix, y, true)
				d.at, d.y, d.r = append(d.at, unix), append(d.y, y), append(d.r, m.slotVar)
			case 1:
				raise := 5 * r.NormFloat64()
				m.Miss(s, unix, raise)
				newMean, newVariance := afterMiss(m, mean, variance, raise)
				d.take(unix, mean, variance, newMean, newVariance)
			case 2:
				y, raise := m.set.HalfDecodeDB+10*r.Float64(), 3*r.NormFloat64()
				m.Unwitnessed(s, unix, y, raise)
				newMean, newVariance := afterUnwitnessed(m, mean, variance, y, raise)
				d.take(unix, mean, variance, newMean, newVariance)
			}
			ahead := unix + gap(r)
			agree(t, d, m.Forecast(s, unix), unix, 1e-7)
			agree(t, d, m.Forecast(s, ahead), ahead, 1e-7)
		}
	}
}

package link

import (
	"math"
	"time"
)

// maxParts is the length of the largest state vector.
const maxParts = 1 + 2*MaxHarmonics + 2

// vector holds one number for each part of a state: level, a₁, b₁ … a_K, b_K,
// fast, slow. Only the first Model.parts are used.
type vector [maxParts]float64

// Model is a set of settings made ready for use. It does not change after
// NewModel: any number of goroutines may use one model on different states.
type Model struct {
	set      Settings
	parts    int     // length of the state vector, 2K + 3
	mean     float64 // prior mean of x in dB
	prior    float64 // prior variance of x in dB²
	perPrior float64 // its reciprocal, 0 for 0
	slotVar  float64 // s_e²
	noiseVar float64 // s_e² + δ²
	noise    float64 // √(s_e² + δ²)
	variance vector  // prior variance of each part
	decay    decayTable
	day      dayTable
}

// NewModel makes settings ready for use. The error is that of Settings.Check.
func NewModel(s Settings) (*Model, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	m := &Model{
		set:      s,
		parts:    2*s.Harmonics + 3,
		mean:     s.HalfDecodeDB + s.MeanDB,
		slotVar:  s.SlotSD * s.SlotSD,
		noiseVar: s.SlotSD*s.SlotSD + s.SpreadDB*s.SpreadDB,
	}
	m.noise = math.Sqrt(m.noiseVar)
	m.variance[0] = s.LevelSD * s.LevelSD
	m.prior = m.variance[0] + s.FastSD*s.FastSD + s.SlowSD*s.SlowSD
	sd := s.HarmonicSD
	for k := range s.Harmonics {
		m.variance[1+2*k], m.variance[2+2*k] = sd*sd, sd*sd
		m.prior += sd * sd // cos² + sin² = 1
		sd *= s.HarmonicRatio
	}
	m.variance[m.parts-2] = s.FastSD * s.FastSD
	m.variance[m.parts-1] = s.SlowSD * s.SlowSD
	if m.prior > 0 {
		m.perPrior = 1 / m.prior
	}
	m.decay = newDecayTable([decays]time.Duration{s.LevelTau, s.HarmonicTau, s.FastTau, s.SlowTau})
	m.day = newDayTable()
	return m, nil
}

// Settings returns what the model was made from.
func (m *Model) Settings() Settings { return m.set }

// decays counts the different time constants: level, harmonics, fast, slow.
const decays = 4

// A decayTable holds exp(−t/τ) for whole seconds t in base 64, so that a gap
// of up to 64³ seconds (3 days) costs three look-ups instead of four exponentials.
type decayTable struct {
	digit [3][64][decays]float64
	rate  [decays]float64 // 1/τ in 1/s
}

func newDecayTable(tau [decays]time.Duration) decayTable {
	var t decayTable
	for i := range tau {
		t.rate[i] = 1 / tau[i].Seconds()
		for level := range t.digit {
			for n := range t.digit[level] {
				seconds := float64(n << (6 * level))
				t.digit[level][n][i] = math.Exp(-seconds * t.rate[i])
			}
		}
	}
	return t
}

// after returns exp(−t/τ) for each time constant, t ≥ 0 in seconds.
func (t *decayTable) after(seconds int64) (f [decays]float64) {
	if seconds < 1<<18 {
		a, b, c := &t.digit[0][seconds&63], &t.digit[1][seconds>>6&63], &t.digit[2][seconds>>12&63]
		for i := range f {
			f[i] = a[i] * b[i] * c[i]
		}
		return f
	}
	for i := range f {
		f[i] = math.Exp(-float64(seconds) * t.rate[i])
	}
	return f
}

const (
	daySeconds  = 86400
	coarseAngle = 300 // seconds a step of the coarse table
)

// A dayTable holds cosine and sine of the angle of the UTC time of day, in
// steps of five minutes and of one second, to be joined by the angle sum.
type dayTable struct {
	coarse [daySeconds / coarseAngle][2]float64
	fine   [coarseAngle][2]float64
}

func newDayTable() dayTable {
	var t dayTable
	for i := range t.coarse {
		s, c := math.Sincos(2 * math.Pi * float64(i) * coarseAngle / daySeconds)
		t.coarse[i] = [2]float64{c, s}
	}
	for i := range t.fine {
		s, c := math.Sincos(2 * math.Pi * float64(i) / daySeconds)
		t.fine[i] = [2]float64{c, s}
	}
	return t
}

// angle returns cosine and sine of 2πh/24 at the moment.
func (t *dayTable) angle(unix int64) (c, s float64) {
	second := unix % daySeconds
	if second < 0 {
		second += daySeconds
	}
	a, b := &t.coarse[second/coarseAngle], &t.fine[second%coarseAngle]
	return a[0]*b[0] - a[1]*b[1], a[1]*b[0] + a[0]*b[1]
}

// fill writes into h how much each part adds to x at the moment, and into a
// how much of each part's deviation is left after the given seconds.
func (m *Model) fill(h, a *vector, unix, seconds int64) {
	c, s := m.day.angle(unix)
	f := m.decay.after(seconds)
	h[0], a[0] = 1, f[0]
	ck, sk := c, s
	last := m.parts - 3
	for k := 1; k < last; k += 2 {
		h[k], h[k+1] = ck, sk
		a[k], a[k+1] = f[1], f[1]
		ck, sk = ck*c-sk*s, sk*c+ck*s
	}
	h[last+1], a[last+1] = 1, f[2]
	h[last+2], a[last+2] = 1, f[3]
}

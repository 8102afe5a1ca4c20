package link

import "math"

// Forecast returns what the state says about the moment; a moment before the
// state's own counts as the state's own. The state does not change. O(K²), no
// allocation.
func (m *Model) Forecast(s *State, unix int64) (f Forecast) {
	mean, usual, climate, variance := m.look(s, unix, &f.Fading)
	f.SNR, f.Climate = mean, usual
	f.SD = math.Sqrt(variance)
	f.ClimateSD = math.Sqrt(climate)
	f.Known = f.ClimateSD <= m.set.KnownSD
	f.Decode = Phi((mean - m.set.HalfDecodeDB) / math.Sqrt(variance+m.noiseVar))
	if f.Freshness = clamp01((m.prior - variance) * m.perPrior); f.Freshness < rounding {
		f.Freshness = 0
	}
	return f
}

// SD returns the standard deviation of x at the moment, that of Forecast, where
// nothing else is asked.
func (m *Model) SD(s *State, unix int64) float64 {
	var fading Fading
	_, _, _, variance := m.look(s, unix, &fading)
	return math.Sqrt(variance)
}

// rounding is a freshness that is none.
const rounding = 1e-12

// look returns the means of x and of its climate at the moment, the variance of
// the climate and the whole variance: the sum of predict, without the vectors an
// update needs. It fills in how fast the fluctuations pass.
func (m *Model) look(s *State, unix int64, fading *Fading) (x, usual, climate, variance float64) {
	var h, g vector
	unix, seconds := s.gap(unix)
	m.fill(&h, &g, unix, seconds)
	n := m.parts
	mean, p := s.v[:n], s.v[n:]
	x = m.mean + g[0]*mean[0]
	variance = g[0]*g[0]*p[0] + m.variance[0]*(1-g[0]*g[0])
	p = p[1:]
	var fast, slow float64 // variances of the pair at hand, the fluctuations in the end
	for i := 1; i < n-1 && i < maxParts-1; i += 2 {
		usual, climate = x, variance // so far; the last pair is the fluctuations
		a0, a1, h0, h1 := g[i], g[i+1], h[i], h[i+1]
		g0, g1 := a0*h0, a1*h1
		g[i], g[i+1] = g0, g1
		x += g0*mean[i] + g1*mean[i+1]
		row0, row1, own := rows(p, i)
		p = p[2*i+3:]
		var sum0, sum1 float64
		for j, c := range row0 {
			sum0 += c * g[j]
			sum1 += row1[j] * g[j]
		}
		fast = g0*g0**own.first + h0*h0*m.variance[i]*(1-a0*a0)
		slow = g1*g1*own.both[1] + h1*h1*m.variance[i+1]*(1-a1*a1)
		variance += 2*g0*sum0 + 2*g1*(sum1+g0*own.both[0]) + fast + slow
	}
	*fading = Fading{FastVar: fast, SlowVar: slow, FastRate: m.decay.rate[2], SlowRate: m.decay.rate[3]}
	return x, usual, positive(climate), positive(variance)
}

// positive is max(v, 0) without the care for signed zeros, which costs time here.
func positive(v float64) float64 {
	if v < 0 {
		return 0
	}
	return v
}

func clamp01(v float64) float64 {
	if v > 1 {
		return 1
	}
	return positive(v)
}

// Direction returns one direction of a link as a forecast sees it. Of its
// standard deviation the whole net shares min(commonDB, f.SD).
func (m *Model) Direction(f Forecast, commonDB float64) Direction {
	return Direction{
		Kind:   Gaussian,
		Margin: f.SNR - m.set.HalfDecodeDB,
		SD:     f.SD,
		Common: min(max(commonDB, 0), f.SD),
		Noise:  m.noise,
	}
}

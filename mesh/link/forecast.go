package link

import "math"

// Forecast returns what the state says about the moment; a moment before the
// state's own counts as the state's own. The state does not change. O(K²), no
// allocation.
func (m *Model) Forecast(s *State, unix int64) Forecast {
	var h, a vector
	unix, seconds := s.gap(unix)
	m.fill(&h, &a, unix, seconds)
	n := m.parts
	mean, p := s.v[:n], s.v[n:]
	x := m.mean
	var variance, climate float64
	for i := range n {
		g := h[i] * a[i]
		x += g * mean[i]
		row := p[:i+1]
		p = p[i+1:]
		sum := 0.0
		for j := range i {
			sum += row[j] * h[j] * a[j]
		}
		variance += g*(2*sum+g*row[i]) + h[i]*h[i]*m.variance[i]*(1-a[i]*a[i])
		if i == n-3 {
			climate = variance
		}
	}
	variance, climate = max(variance, 0), max(climate, 0)
	f := Forecast{
		SNR:       x,
		SD:        math.Sqrt(variance),
		ClimateSD: math.Sqrt(climate),
		Decode:    Phi((x - m.set.HalfDecodeDB) / math.Sqrt(variance+m.noiseVar)),
	}
	f.Known = f.ClimateSD <= m.set.KnownSD
	if m.prior > 0 {
		f.Freshness = min(max(1-variance/m.prior, 0), 1)
	}
	return f
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

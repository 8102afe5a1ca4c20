package link

import "math"

// maxSNR bounds what is taken for a measurement, in dB either way.
const maxSNR = 1000

// Report takes in that the frame of the slot at the moment was decoded with
// the given SNR in dB, scaled to the sender's planned power. A report that
// needs no witness to be known of counts as a plain measurement of x with
// variance SlotSD²; for the handling of unwitnessed ones see Unwitnessed.
//
// Evidence must come in order of time: a moment before the state's own counts as
// the state's own. An SNR that isn't a number or is beyond ±1000 dB is passed
// over. O(K²), no allocation.
func (m *Model) Report(s *State, unix int64, snr float64, witnessed bool) {
	if !witnessed {
		m.Unwitnessed(s, unix, snr, 0)
		return
	}
	if !(math.Abs(snr) <= maxSNR) {
		return
	}
	var ph vector
	x, v := m.advance(s, unix, &ph)
	w := 1 / (v + m.slotVar)
	m.absorb(s, &ph, (snr-x)*w, w)
}

// Unwitnessed takes in a report of a transmission that nobody else is known to
// have heard. It would be unknown had it not decoded, so its likelihood is
// divided by the chance of a decode, Φ((x − θ − raise)/√(s_e² + δ²)), and the first
// two moments of the exact result are kept. The raise is as for Miss.
func (m *Model) Unwitnessed(s *State, unix int64, snr, raise float64) {
	if !(math.Abs(snr) <= maxSNR && math.Abs(raise) <= maxSNR) {
		return
	}
	var ph vector
	x, v := m.advance(s, unix, &ph)
	if v <= 0 {
		return
	}
	mean, variance := truncated(x, v, snr, m.slotVar, m.set.HalfDecodeDB+raise, m.noise)
	m.absorb(s, &ph, (mean-x)/v, (v-variance)/(v*v))
}

// Miss takes in that the frame of the slot at the moment was sent and listened
// for but not decoded. The raise, 10·log10(planned/actual power), is added to θ
// where the transmission was known to be at another than the planned power. Its
// likelihood is Φ((θ + raise − x)/√(s_e² + δ²)), first two moments kept. Order of
// time and cost as for Report.
func (m *Model) Miss(s *State, unix int64, raise float64) {
	if !(math.Abs(raise) <= maxSNR) {
		return
	}
	var ph vector
	x, v := m.advance(s, unix, &ph)
	sd := math.Sqrt(v + m.noiseVar)
	rho, shrink := hazard((m.set.HalfDecodeDB + raise - x) / sd)
	m.absorb(s, &ph, -rho/sd, shrink/(sd*sd))
}

// Move takes in that an end of the link has moved far enough to leave only the
// share a (0…1) of what is known about the level: its deviation from the mean
// and its covariances are multiplied by a, its variance becomes a²·v + (1 − a²)·s_m².
// An a outside 0…1 is brought to the nearer bound; a NaN is passed over.
func (m *Model) Move(s *State, unix int64, a float64) {
	if math.IsNaN(a) {
		return
	}
	a = min(max(a, 0), 1)
	var ph vector
	m.advance(s, unix, &ph)
	n := m.parts
	s.v[0] *= a
	s.v[n] = a*a*s.v[n] + (1-a*a)*m.variance[0]
	at := n + 1
	for i := 1; i < n; i++ {
		s.v[at] *= a
		at += i + 1
	}
}

// advance brings the state to the moment and returns mean and variance of x
// there, with the covariance of every part with x in ph.
func (m *Model) advance(s *State, unix int64, ph *vector) (x, v float64) {
	var h, a vector
	unix, seconds := s.gap(unix)
	s.unix = unix
	m.fill(&h, &a, unix, seconds)
	n := m.parts
	mean, p := s.v[:n], s.v[n:]
	x = m.mean
	for i := range n {
		mean[i] *= a[i]
		x += h[i] * mean[i]
		row := p[:i+1]
		p = p[i+1:]
		sum := 0.0
		for j := range i {
			c := row[j] * (a[i] * a[j])
			row[j] = c
			sum += c * h[j]
			ph[j] += c * h[i]
		}
		row[i] = row[i]*(a[i]*a[i]) + m.variance[i]*(1-a[i]*a[i])
		ph[i] = sum + row[i]*h[i]
	}
	for i := range n {
		v += h[i] * ph[i]
	}
	return x, max(v, 0)
}

// absorb moves the mean by gain times ph and takes weight times ph·phᵀ off the covariance.
func (m *Model) absorb(s *State, ph *vector, gain, weight float64) {
	n := m.parts
	mean, p := s.v[:n], s.v[n:]
	for i := range n {
		mean[i] += ph[i] * gain
		row := p[:i+1]
		p = p[i+1:]
		c := ph[i] * weight
		for j := range row {
			row[j] -= c * ph[j]
		}
	}
}

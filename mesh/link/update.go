package link

import "math"

// maxSNR bounds what is taken for a measurement, in dB either way.
const maxSNR = 1000

// Report takes in that the frame of the slot at the moment was decoded with
// the given SNR in dB, scaled to the sender's planned power. Where others too
// are known to have heard the transmission it is witnessed and counts as a plain
// measurement of x with variance SlotSD²; else it counts as by Unwitnessed with no raise.
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
	var p prediction
	m.predict(s, unix, &p)
	weight := 1 / (p.variance + m.slotVar)
	m.absorb(s, &p, (snr-p.mean)*weight, weight)
}

// Unwitnessed takes in a report of a transmission that nobody else is known to
// have heard. It would be unknown had it not decoded, so its likelihood is
// divided by the chance of a decode, Φ((x − θ − raise)/√(s_e² + δ²)), and the first
// two moments of the exact result are kept. The raise is as for Miss.
func (m *Model) Unwitnessed(s *State, unix int64, snr, raise float64) {
	if !(math.Abs(snr) <= maxSNR && math.Abs(raise) <= maxSNR) {
		return
	}
	var p prediction
	m.predict(s, unix, &p)
	gain, weight, v := 0.0, 0.0, p.variance
	if v > 0 {
		mean, variance := truncated(p.mean, v, snr, m.slotVar, m.set.HalfDecodeDB+raise, m.noise)
		gain, weight = (mean-p.mean)/v, (v-variance)/(v*v)
	}
	m.absorb(s, &p, gain, weight)
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
	var p prediction
	m.predict(s, unix, &p)
	sd := math.Sqrt(p.variance + m.noiseVar)
	rho, shrink := hazard((m.set.HalfDecodeDB + raise - p.mean) / sd)
	m.absorb(s, &p, -rho/sd, shrink/(sd*sd))
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
	var p prediction
	m.predict(s, unix, &p)
	m.absorb(s, &p, 0, 0)
	m.step(s.v, a)
	if len(s.kept) > 0 {
		m.step(s.kept, a) // the same before the time between or after it
	}
}

// step leaves the share a of what numbers of a state say about the level.
func (m *Model) step(v []float64, a float64) {
	n := m.parts
	v[0] *= a
	v[n] = a*a*v[n] + (1-a*a)*m.variance[0]
	at := n + 1
	for i := 1; i < n; i++ {
		v[at] *= a
		at += i + 1
	}
}

package link

import "math"

// FixedDecode is a direction whose every frame decodes with the same chance,
// brought into 0…1 (NaN counts as 0).
func FixedDecode(chance float64) Direction {
	if !(chance > 0) {
		return Direction{Kind: Certain}
	}
	return Direction{Kind: Certain, Decode: min(chance, 1)}
}

// FixedSNR is a direction of stated SNR and standard deviation (fading
// included), for a mode with half-decode SNR theta and spread delta > 0, all in
// dB. It shares nothing with the net.
func FixedSNR(snr, sd, theta, delta float64) Direction {
	return Direction{Kind: Gaussian, Margin: snr - theta, SD: max(sd, 0), Noise: delta}
}

// Frame returns the chance that one frame decodes, given the hop's own deviate
// zeta and the net's deviate eta, both standard normal: with c = Common,
//
//	Φ((Margin + c·eta + √(SD² − c²)·zeta)/Noise).
func (d Direction) Frame(zeta, eta float64) float64 {
	switch d.Kind {
	case Certain:
		return d.Decode
	case Gaussian:
		return Phi((d.Margin + d.Common*eta + d.own()*zeta) / d.Noise)
	}
	return 0
}

// Mean returns the chance that one frame decodes, averaged over both deviates.
func (d Direction) Mean() float64 {
	switch d.Kind {
	case Certain:
		return d.Decode
	case Gaussian:
		return Phi(d.Margin / math.Sqrt(d.SD*d.SD+d.Noise*d.Noise))
	}
	return 0
}

// Open returns the chance that the mean SNR is at or above θ given the net's
// deviate: Φ((Margin + c·eta)/√(SD² − c²)), 0 or 1 where that root is 0. For a
// Certain direction it is the figure itself.
func (d Direction) Open(eta float64) float64 {
	switch d.Kind {
	case Certain:
		return d.Decode
	case Gaussian:
		mean, own := d.Margin+d.Common*eta, d.own()
		if own > 0 {
			return Phi(mean / own)
		}
		if mean >= 0 {
			return 1
		}
	}
	return 0
}

// own is the standard deviation that the direction does not share with the net.
func (d Direction) own() float64 {
	return math.Sqrt(max((d.SD-d.Common)*(d.SD+d.Common), 0))
}

// Package link holds the numbers of one link: the decode curve, the filter that
// follows its SNR through reports and misses, and its forecast. It knows
// nothing of nets, stations or graphs.
package link

// Kind says how the chance of a frame over one direction of a link is known.
type Kind uint8

const (
	Closed   Kind = iota // no frame ever passes
	Certain              // every frame decodes with Direction.Decode
	Gaussian             // the mean SNR is a normal variable
)

// Direction is one direction of a link at one moment, as delivery needs it.
// The zero value is closed. Directions are comparable.
type Direction struct {
	Kind   Kind
	Decode float64 // frame decode chance of a Certain direction, 0…1
	Margin float64 // E x − θ in dB, Gaussian only
	SD     float64 // standard deviation of x in dB, Gaussian only, ≥ 0
	Common float64 // part of SD that the whole net shares, in dB, 0…SD
	Noise  float64 // √(s_e² + δ²) for estimated links, δ for fixed ones, in dB, > 0
}

// Forecast is what a link's evidence says about one moment.
type Forecast struct {
	SNR       float64 // E x in dB (2500 Hz)
	SD        float64 // √Var x in dB
	ClimateSD float64 // standard deviation of level and harmonics in dB
	Freshness float64 // 1 − Var x / prior variance, 0…1
	Known     bool    // ClimateSD is at most Settings.KnownSD
	Decode    float64 // chance that one frame decodes, 0…1
}

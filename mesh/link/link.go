// Package link holds the numbers of one link: the decode curve, the filter that
// follows its SNR through reports and misses, and its forecast. It knows
// nothing of nets, stations or graphs.
//
// SNR is in dB referred to a bandwidth of 2500 Hz, time in Unix seconds UTC. The
// model (Settings has it in full) is a sum of Gaussian processes: a level, a
// curve over the UTC day, a fast and a slow fluctuation. A Kalman filter carries
// mean and covariance of their parts from one piece of evidence to the next.
// Reports of witnessed transmissions are linear and exact. Misses, and reports
// that nobody else bears out, are not: what they leave of x is replaced by the
// normal distribution of the same mean and variance.
//
// Make a Model from Settings, a State for each link, feed evidence in order of
// time by Report, Unwitnessed, Miss and Move, and ask for a Forecast. Direction is
// the form in which delivery and reach use a forecast or a link stated by a plan.
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
	Climate   float64 // mean of level and harmonics in dB: E x without the fluctuations of the moment
	ClimateSD float64 // standard deviation of level and harmonics in dB
	Freshness float64 // 1 − Var x / prior variance, 0…1
	Known     bool    // ClimateSD is at most Settings.KnownSD
	Decode    float64 // chance that one frame decodes, 0…1
	Fading    Fading  // how much of the deviation passes, and how fast
}

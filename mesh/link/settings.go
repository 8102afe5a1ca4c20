package link

import (
	"errors"
	"fmt"
	"math"
	"time"
)

// MaxHarmonics is the largest number of day harmonics a model can carry.
const MaxHarmonics = 6

// Settings are the numbers of the link model. The SNR that one slot of a link
// would have on average is
//
//	x(t) = level + Σₖ (aₖ cos 2πkh/24 + bₖ sin 2πkh/24) + fast + slow,  k = 1…Harmonics
//
// with h the UTC hour. Each part is a stationary Ornstein–Uhlenbeck process:
// its covariance at two times t and t' is s²·exp(−|t − t'|/τ). The level has the
// mean HalfDecodeDB + MeanDB, every other part the mean 0. What a slot really
// shows differs from x by an independent normal error of SlotSD.
//
// The ranges given are those that Check allows.
type Settings struct {
	HalfDecodeDB float64 // θ: SNR (dB in 2500 Hz) at which half the frames decode; −100…100
	SpreadDB     float64 // δ: a frame at SNR z decodes with chance Φ((z − θ)/δ); 0.01…30 dB

	MeanDB   float64       // m₀: mean of the level relative to θ; −100…100 dB
	LevelSD  float64       // s_m: standard deviation of the level; 0…100 dB
	LevelTau time.Duration // time constant of the level; 1 s…100 years, as for every τ below

	Harmonics     int           // K: 1…MaxHarmonics
	HarmonicSD    float64       // s_h: standard deviation of a₁ and b₁; 0…100 dB
	HarmonicRatio float64       // g: those of aₖ and bₖ are s_h·gᵏ⁻¹; 0…1
	HarmonicTau   time.Duration // time constant of the harmonics

	FastSD  float64       // standard deviation of the fast fluctuation; 0…100 dB
	FastTau time.Duration // about an hour
	SlowSD  float64       // standard deviation of the slow fluctuation; 0…100 dB
	SlowTau time.Duration // about a day

	SlotSD  float64 // s_e: fading, noise bursts and reporting errors of one slot; 0.1…100 dB
	KnownSD float64 // a link is known while its climate (level and harmonics) is within this standard deviation; > 0 dB
}

const day = 24 * time.Hour

// Defaults returns settings for a group without a log of its own. They were
// tuned on public beacon reports of 120 s slots, over all pairs including those
// that never heard each other, and on the truth of the worked example; for shorter
// slots SlotSD is an extrapolation.
// HalfDecodeDB and SpreadDB belong to the mode of those beacons: a plan states
// its own. KnownSD is a choice, not a measurement.
func Defaults() Settings {
	return Settings{
		HalfDecodeDB: -28.5, SpreadDB: 0.5,
		MeanDB: -2.0, LevelSD: 18.0, LevelTau: 61 * day,
		Harmonics: 3, HarmonicSD: 11.5, HarmonicRatio: 0.6, HarmonicTau: 150 * day,
		FastSD: 6.4, FastTau: 45 * time.Minute,
		SlowSD: 6.4, SlowTau: 16 * time.Hour,
		SlotSD: 4.5, KnownSD: 8.0,
	}
}

// Problem is one setting that can't be used.
type Problem struct {
	Field   string // name of the field of Settings
	Message string // what is wrong and what is allowed
}

// Problems lists every setting that can't be used, in the order of the fields.
func (s Settings) Problems() []Problem {
	var found []Problem
	number := func(field string, v, low, high float64) {
		if !(v >= low && v <= high) { // NaN too
			found = append(found, Problem{field, fmt.Sprintf("%v is not within %v to %v", v, low, high)})
		}
	}
	span := func(field string, v time.Duration) {
		if v < minTau || v > maxTau {
			found = append(found, Problem{field, fmt.Sprintf("%v is not within 1 s to 100 years", v)})
		}
	}
	number("HalfDecodeDB", s.HalfDecodeDB, -100, 100)
	number("SpreadDB", s.SpreadDB, 0.01, 30)
	number("MeanDB", s.MeanDB, -100, 100)
	number("LevelSD", s.LevelSD, 0, 100)
	span("LevelTau", s.LevelTau)
	number("Harmonics", float64(s.Harmonics), 1, MaxHarmonics)
	number("HarmonicSD", s.HarmonicSD, 0, 100)
	number("HarmonicRatio", s.HarmonicRatio, 0, 1)
	span("HarmonicTau", s.HarmonicTau)
	number("FastSD", s.FastSD, 0, 100)
	span("FastTau", s.FastTau)
	number("SlowSD", s.SlowSD, 0, 100)
	span("SlowTau", s.SlowTau)
	number("SlotSD", s.SlotSD, 0.1, 100)
	number("KnownSD", s.KnownSD, math.SmallestNonzeroFloat64, 1000)
	return found
}

const (
	minTau = time.Second
	maxTau = 100 * 365 * day
)

// Check returns nil when the settings can be used, else an error that names
// every field listed by Problems.
func (s Settings) Check() error {
	var errs []error
	for _, p := range s.Problems() {
		errs = append(errs, fmt.Errorf("link setting %s: %s", p.Field, p.Message))
	}
	return errors.Join(errs...)
}

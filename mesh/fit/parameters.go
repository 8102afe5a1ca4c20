package fit

import (
	"math"
	"slices"

	"farhop/mesh/link"
)

// parameter is one setting that is fitted, on a scale on which it may go far
// without leaving its bounds.
type parameter struct {
	name string
	time bool // a time constant
	get  func(*link.Settings) float64
	set  func(*link.Settings, float64)
	// scale brings the setting to a scale on which equal steps matter equally, unscale back.
	scale, unscale func(float64) float64
	reach          float64 // how far it may go from the start, in scaled units
	width          float64 // standard deviation about the start that is expected without evidence
}

func same(v float64) float64 { return v }

func logit(v float64) float64 {
	v = math.Min(math.Max(v, 0.01), 0.99)
	return math.Log(v / (1 - v))
}

func logistic(v float64) float64 { return 1 / (1 + math.Exp(-v)) }

// tiny keeps standard deviations off zero, where their logarithm ends.
const tiny = 0.05 // dB

func ofSD(v float64) float64 { return math.Log(math.Max(v, tiny)) }

// parameters lists what is fitted. Widths are choices: standard deviations within
// a factor of about 1.6, time constants of 2, the mean level within 6 dB.
func parameters() []parameter {
	sd := func(name string, at func(*link.Settings) *float64) parameter {
		return parameter{
			name: name, get: func(s *link.Settings) float64 { return *at(s) }, set: func(s *link.Settings, v float64) { *at(s) = v },
			scale: ofSD, unscale: math.Exp, reach: math.Log(4), width: 0.5,
		}
	}
	list := []parameter{
		{
			name: "MeanDB", get: func(s *link.Settings) float64 { return s.MeanDB }, set: func(s *link.Settings, v float64) { s.MeanDB = v },
			scale: same, unscale: same, reach: 25, width: 6,
		},
		sd("LevelSD", func(s *link.Settings) *float64 { return &s.LevelSD }),
		sd("HarmonicSD", func(s *link.Settings) *float64 { return &s.HarmonicSD }),
		{
			name: "HarmonicRatio", get: func(s *link.Settings) float64 { return s.HarmonicRatio }, set: func(s *link.Settings, v float64) { s.HarmonicRatio = v },
			scale: logit, unscale: logistic, reach: 3, width: 0.7,
		},
		sd("FastSD", func(s *link.Settings) *float64 { return &s.FastSD }),
		{
			name: "FastTau", time: true, get: func(s *link.Settings) float64 { return hours(s.FastTau) }, set: func(s *link.Settings, v float64) { s.FastTau = spanOf(v) },
			scale: math.Log, unscale: math.Exp, reach: math.Log(8), width: 0.7,
		},
		sd("SlowSD", func(s *link.Settings) *float64 { return &s.SlowSD }),
		{
			name: "SlowTau", time: true, get: func(s *link.Settings) float64 { return hours(s.SlowTau) }, set: func(s *link.Settings, v float64) { s.SlowTau = spanOf(v) },
			scale: math.Log, unscale: math.Exp, reach: math.Log(8), width: 0.7,
		},
		sd("SlotSD", func(s *link.Settings) *float64 { return &s.SlotSD }),
	}
	return list
}

// frame maps the free numbers of the optimiser onto settings about a start: at
// x the scaled setting is start + reach·tanh(x/reach).
type frame struct {
	start link.Settings
	list  []parameter
	at    []float64 // scaled starts
}

func newFrame(start link.Settings, timesHeld bool) *frame {
	f := &frame{start: start, list: parameters()}
	if timesHeld {
		f.list = slices.DeleteFunc(f.list, func(p parameter) bool { return p.time })
	}
	for _, p := range f.list {
		f.at = append(f.at, p.scale(p.get(&start)))
	}
	return f
}

// settings are those at a place of the optimiser; at zero they are the start.
func (f *frame) settings(x []float64) link.Settings {
	s := f.start
	for i, p := range f.list {
		if x[i] != 0 {
			p.set(&s, p.unscale(f.at[i]+f.step(i, x[i])))
		}
	}
	s.SlotSD = math.Max(s.SlotSD, 0.1)
	return s
}

func (f *frame) step(i int, x float64) float64 {
	return f.list[i].reach * math.Tanh(x/f.list[i].reach)
}

// penalty is minus the logarithm of how likely the settings are without evidence.
func (f *frame) penalty(x []float64) (sum float64) {
	for i, p := range f.list {
		d := f.step(i, x[i]) / p.width
		sum += d * d / 2
	}
	return sum
}

// pull is slope and curvature of the penalty by one free number, the latter as far
// as it can't be negative.
func (f *frame) pull(i int, x float64) (slope, curve float64) {
	p := &f.list[i]
	t := math.Tanh(x / p.reach)
	by := 1 - t*t // of the step by x
	return f.step(i, x) * by / (p.width * p.width), by * by / (p.width * p.width)
}

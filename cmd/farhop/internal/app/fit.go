package app

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strconv"
	"time"

	"farhop/cmd/farhop/internal/config"
	"farhop/cmd/farhop/internal/view"
	"farhop/mesh"
	"farhop/mesh/fit"
	"farhop/mesh/link"
)

// fitted tells the plan's keys and units of the settings that are fitted.
var fitted = map[string]struct{ key, unit string }{
	"MeanDB":        {"level_mean_db", "dB"},
	"LevelSD":       {"level_sd_db", "dB"},
	"HarmonicSD":    {"harmonic_sd_db", "dB"},
	"HarmonicRatio": {"harmonic_ratio", ""},
	"FastSD":        {"fast_sd_db", "dB"},
	"FastTau":       {"fast_time", "h"},
	"SlowSD":        {"slow_sd_db", "dB"},
	"SlowTau":       {"slow_time", "h"},
	"SlotSD":        {"slot_sd_db", "dB"},
}

// Fit learns the link settings from the log. Progress is told the share done,
// 0…1; it may be nil.
func (s *Session) Fit(ctx context.Context, progress func(share float64)) (*view.Fit, error) {
	if s.log == nil {
		return nil, usagef("fit needs --observations: it learns from what was heard")
	}
	h, err := mesh.Gather(ctx, s.net, s.log, s.at.Unix())
	if err != nil {
		return nil, err
	}
	net := s.net.Clone()
	net.Link = s.builtIn()
	r, err := fit.Fit(ctx, net, h, fit.Options{Progress: progress})
	if errors.Is(err, fit.ErrTooLittle) {
		return nil, &EmptyError{Message: "the log holds too little to fit and to check: two reports or misses of one link, at two times, are the least; try 'farhop check'"}
	}
	if err != nil {
		return nil, err
	}
	v := &view.Fit{
		Head: s.head(), Better: r.Better, Reason: reason(r), Fitted: r.Fitted, HeldOut: r.HeldOut, Until: time.Unix(r.Until, 0).UTC(),
		GainFitted: r.FittedAfter - r.FittedBefore, Gain: r.HeldOutGain, GainError: r.HeldOutError, Steps: r.Steps,
		TimesHeld: r.TimesHeld, Ahead: []view.FitAhead{}, Settings: []view.FitSetting{},
		CommonDB: tenth(r.Common.DB), CommonSquare: r.Common.Seen, CommonSlots: r.Common.Slots,
		CommonHours: fit.CommonAhead.Hours(), CommonStep: r.OneStep.Seen,
	}
	if !math.IsInf(r.Common.SeenError, 0) {
		v.CommonError = &r.Common.SeenError
		if r.Common.Seen > 0 {
			seen := math.Sqrt(r.Common.Seen)
			v.CommonSeen = &seen
		}
	}
	v.Ahead = []view.FitAhead{}
	for _, a := range r.Ahead {
		if a.N == 0 {
			continue // nothing so far ahead to compare
		}
		v.Ahead = append(v.Ahead, view.FitAhead{HorizonMinutes: a.By.Minutes(), Before: a.Before, After: a.After})
	}
	for _, p := range r.Parameters {
		k := fitted[p.Field]
		v.Settings = append(v.Settings, view.FitSetting{
			Key: k.key, Unit: k.unit, Before: p.From, After: p.To, Low: p.Low, High: p.High, AtBounds: p.AtItsBounds,
		})
	}
	final := net.Link
	if r.Better {
		final = rounded(r.Settings)
	}
	v.Fragment = string(config.ModelFragment(final, v.CommonDB))
	v.Next = []string{s.try("backtest")}
	return v, nil
}

// builtIn is the settings to start from: the built-in ones, but for what is not fitted,
// which is as the plan has it.
func (s *Session) builtIn() link.Settings {
	d, plan := link.Defaults(), s.net.Link
	d.HalfDecodeDB, d.SpreadDB, d.KnownSD = plan.HalfDecodeDB, plan.SpreadDB, plan.KnownSD
	d.Harmonics, d.LevelTau, d.HarmonicTau = plan.Harmonics, plan.LevelTau, plan.HarmonicTau
	return d
}

// reason says why the fitted settings are better or not.
func reason(r *fit.Result) string {
	gain := fmt.Sprintf("one step ahead they gain %+.4f ± %.4f in log-likelihood a piece of evidence", r.HeldOutGain, r.HeldOutError)
	if r.Better {
		if r.TimesHeld {
			gain += ", with the time constants of the fluctuations held"
		}
		return gain + ", and lose nothing hours ahead"
	}
	if r.HeldOutDays < 2 {
		return "The part that was held out is of one day only, which can't tell a gain from luck"
	}
	for _, a := range r.Ahead {
		if r.BeyondLuck() && a.After > a.Before {
			return "On the part that was held out " + gain + ", but lose hours ahead, where it counts"
		}
	}
	return "On the part that was held out " + gain + ", which may be luck or is too little to matter"
}

// rounded leaves three digits of what is fitted.
func rounded(s link.Settings) link.Settings {
	for _, f := range []*float64{&s.MeanDB, &s.LevelSD, &s.HarmonicSD, &s.HarmonicRatio, &s.FastSD, &s.SlowSD, &s.SlotSD} {
		*f = digits(*f)
	}
	for _, t := range []*time.Duration{&s.FastTau, &s.SlowTau} {
		*t = time.Duration(digits(t.Minutes())) * time.Minute
		*t = max(*t, time.Minute)
	}
	return s
}

// digits rounds to three digits.
func digits(f float64) float64 {
	short, err := strconv.ParseFloat(strconv.FormatFloat(f, 'g', 3, 64), 64)
	if err != nil {
		return f
	}
	return short
}

func tenth(f float64) float64 { return math.Round(f*10) / 10 }

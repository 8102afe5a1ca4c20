// Package fit learns the settings of the link model from a net's own log: by
// maximum likelihood of forecasts one step ahead, all links taken together, held
// near the settings the plan starts from as far as the log is silent.
//
// The likelihood is that of what happened at each opportunity given all that was
// known of its link before: a report counts with the density of its SNR times the chance
// that a frame of that SNR decodes, a miss with its chance, so that the chances of
// all that could have happened add up to one (link.Model.LogReport and LogMiss). A
// report that nothing else proves counts given that it decoded. Links that never
// heard each other count like all others.
//
// Half-decode SNR and spread belong to the mode and are not fitted; nor are the
// number of harmonics and the slow time constants: a month can't tell 60 days from 90.
package fit

import (
	"context"
	"errors"
	"math"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"farhop/mesh"
	"farhop/mesh/link"
)

// Options say how to fit.
type Options struct {
	// Share of the span of the log that is fitted; the rest validates. 0 = 0.7.
	Share float64
	// Progress, when set, is told the share done, 0…1, as far as it can be
	// foreseen, from the goroutine that called Fit.
	Progress func(share float64)
}

// Result is what a log says about the settings.
type Result struct {
	Settings link.Settings // as fitted
	Common   Common        // the net-wide deviation over the whole log, CommonAhead
	OneStep  Common        // the same one step ahead
	Until    int64         // Unix seconds: the log was fitted up to here, validated from here on

	// Evidence used to fit and to validate, and its mean log-likelihood (natural
	// logarithm) by the settings started from and by those fitted.
	Fitted, HeldOut                          int
	FittedBefore, FittedAfter                float64
	HeldOutBefore, HeldOutAfter, HeldOutGain float64
	// HeldOutError is the standard error of HeldOutGain, by whole UTC days, of which
	// there are HeldOutDays; 0 where a single day can't show it.
	HeldOutError float64
	HeldOutDays  int
	// Better reports whether the fitted settings foretell the held out part better,
	// beyond what luck explains: one step ahead the gain is above 0.001 and above what
	// BeyondLuck allows for, and no lead of Ahead is worse by 0.001.
	Better     bool
	Ahead      []Ahead     // the held out part, foretold longer before
	TimesHeld  bool        // the time constants of the fluctuations were held
	Parameters []Parameter // what was fitted
	Steps      int         // of the optimiser
	Evaluated  int         // passes through the part to fit
}

// leastGain is the gain a piece of evidence below which settings count as equally good.
const leastGain = 0.001

// ErrTooLittle is returned for a log without anything to fit or to validate.
var ErrTooLittle = errors.New("fit: the log holds too little evidence")

// Fit fits the settings of the net's links to a history of the net, starting from
// the net's own. ErrTooLittle means that one of the two parts of the log holds
// nothing; another error, that the settings to start from can't be used or that ctx ended.
func Fit(ctx context.Context, n *mesh.Net, h *mesh.History, o Options) (*Result, error) {
	if err := n.Link.Check(); err != nil {
		return nil, err
	}
	if o.Share == 0 {
		o.Share = 0.7
	}
	if h.Last <= h.First {
		return nil, ErrTooLittle
	}
	r := &Result{Until: h.First + int64(float64(h.Last-h.First)*o.Share)}
	e := newEvaluator(h, r.Until)
	if r.Fitted, r.HeldOut = e.count(); r.Fitted == 0 || r.HeldOut == 0 {
		return nil, ErrTooLittle
	}
	if err := r.fit(ctx, n.Link, e, o.Progress); err != nil {
		return nil, err
	}
	final := r.Settings
	if !r.Better {
		final = n.Link
	}
	var err error
	if r.Common, err = EstimateCommon(ctx, n, h, final, CommonAhead); err != nil {
		return nil, err
	}
	r.OneStep, err = EstimateCommon(ctx, n, h, final, 0)
	return r, err
}

// fit fits and validates. Where the settings of the greatest likelihood are no
// better on the held out part, it tries once more with the time constants of the
// fluctuations held: they gain the most one step ahead and lose the most later.
func (r *Result) fit(ctx context.Context, start link.Settings, e *evaluator, progress func(float64)) error {
	for attempt := range 2 {
		tell := func(share float64) {
			if progress != nil {
				progress(0.48 * (share + float64(attempt)))
			}
		}
		tried := &Result{Until: r.Until, Fitted: r.Fitted, HeldOut: r.HeldOut, TimesHeld: attempt > 0}
		if err := tried.search(ctx, start, e, tell); err != nil {
			return err
		}
		if err := tried.validate(ctx, start, e); err != nil {
			return err
		}
		if attempt == 0 || tried.Better {
			*r = *tried
		}
		if r.Better {
			break
		}
	}
	if progress != nil {
		progress(1)
	}
	return nil
}

// validate compares the fitted settings with those started from on both parts.
func (r *Result) validate(ctx context.Context, start link.Settings, e *evaluator) error {
	sums, err := e.both(ctx, []link.Settings{start, r.Settings})
	if err != nil {
		return err
	}
	fitted, held := float64(r.Fitted), float64(r.HeldOut)
	r.FittedBefore, r.FittedAfter = sums[0].fitted/fitted, sums[1].fitted/fitted
	r.HeldOutBefore, r.HeldOutAfter = sums[0].held/held, sums[1].held/held
	r.HeldOutGain = r.HeldOutAfter - r.HeldOutBefore
	// The gains of one day share its weather: their sums by day are the cases.
	square := 0.0
	for day := range sums[0].days {
		if sums[0].days[day].n == 0 {
			continue
		}
		r.HeldOutDays++
		d := sums[1].days[day].sum - sums[0].days[day].sum - r.HeldOutGain*float64(sums[0].days[day].n)
		square += d * d
	}
	if days := float64(r.HeldOutDays); days > 1 {
		r.HeldOutError = math.Sqrt(square*days/(days-1)) / held
	}
	if r.Ahead, err = e.ahead(ctx, start, r.Settings); err != nil {
		return err
	}
	r.Better = r.HeldOutGain > leastGain && r.BeyondLuck()
	for _, a := range r.Ahead {
		r.Better = r.Better && a.After < a.Before+aheadWorse
	}
	return nil
}

// BeyondLuck reports whether the gain on the held out part is above so many standard
// errors as Student's t for its days has at 97.5 %: 12.7 for two days, 2.1 for
// twenty. A single day shows nothing.
func (r *Result) BeyondLuck() bool {
	if r.HeldOutDays < 2 {
		return false
	}
	t := distuv.StudentsT{Sigma: 1, Nu: float64(r.HeldOutDays - 1)}.Quantile(0.975)
	return r.HeldOutGain > t*r.HeldOutError
}

// hours is a time constant in hours, and back.
func hours(d time.Duration) float64  { return d.Hours() }
func spanOf(h float64) time.Duration { return time.Duration(h * float64(time.Hour)) }

// Package backtest asks how well the planner would have foretold a log: it
// forecasts every opportunity of the log from older evidence alone and scores the
// forecasts against what happened, beside simple rules that know the same.
//
// An opportunity is a transmission that was known of anyway while the receiver
// listened, so that it ended as a report or as a miss. Reports that nothing else
// proves are evidence for the model, but are not scored and don't count in the
// simple rules: that they were missed would never have come out.
//
// Nothing here is sampled but the bootstrap, which takes a seed; equal input gives
// equal results, on any number of processors.
package backtest

import (
	"context"
	"errors"
	"math"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
)

// The ways of forecasting that are scored, in the order of Horizon.Models.
const (
	Model         = iota // the link model
	BaseRate             // the link's share of decodes so far
	Recent               // the same with a memory of an hour
	HourOfDay            // the same in this UTC hour
	HourAndRecent        // the last two joined
	ModelCount
)

// Names are what the ways of forecasting are called.
var Names = [ModelCount]string{"farhop", "base rate", "recent", "hour of day", "hour and recent"}

// Options say what to forecast and what to score.
type Options struct {
	Horizons   []time.Duration // how far ahead, each ≥ 0 and in whole seconds
	MinReports int             // links with fewer reports are not scored
	ScoreFrom  int64           // Unix seconds; opportunities before are not scored. Use From for the customary
	Seed       uint64          // of the bootstrap
	Resamples  int             // of the bootstrap; 0 = none
	// Progress, when set, is told the share done, 0…1, now and then, growing, from one goroutine at a time.
	Progress func(share float64)
}

// From is the time from which a history is customarily scored: after the first
// 30 % of its span, in Unix seconds.
func From(h *mesh.History) int64 {
	if h.Last < h.First {
		return 0
	}
	return h.First + (h.Last-h.First)*3/10
}

// Result is what came of it.
type Result struct {
	Reports, Unwitnessed, Misses int // all evidence of the history
	Pairs                        int // links with any
	Links                        int // links that were scored
	Horizons                     []Horizon
}

// Horizon is the scores of forecasts so far ahead.
type Horizon struct {
	Ahead     time.Duration
	Forecasts int
	Seen      float64 // share of the forecast slots that decoded
	Models    [ModelCount]Score
	// Differences are the model's Brier score less those of the others: below
	// zero where the model is better. That of Model itself is zero.
	Differences [ModelCount]Interval
	Links       []LinkGroup
	Hours       [24]Group         // by UTC hour of the slot
	Freshness   [freshBands]Group // by freshness of the forecast, equal parts of 0…1
	Known       Group             // links known at the time, and those that were not
	Unknown     Group
}

// freshBands is how many parts the freshness is shown in.
const freshBands = 5

// Group is the scores of a part of the forecasts.
type Group struct {
	Forecasts int
	Seen      float64
	Forecast  float64 // mean of the model's forecasts
	Brier     [ModelCount]float64
	LogLoss   [ModelCount]float64
}

// LinkGroup is the scores of one link.
type LinkGroup struct {
	Link int // index into the pairs of the history
	Group
}

// Run forecasts and scores a history. The net must be prepared, the history
// one of it. Time is linear in evidence and horizons.
func Run(ctx context.Context, n *mesh.Net, h *mesh.History, o Options) (*Result, error) {
	model, err := link.NewModel(n.Link)
	if err != nil {
		return nil, err
	}
	for _, ahead := range o.Horizons {
		if ahead < 0 {
			return nil, errors.New("backtest: a horizon can't be negative")
		}
	}
	r := &Result{Pairs: len(h.Links)}
	scored := r.count(h, o.MinReports)
	jobs := deal(h, scored, len(o.Horizons))
	sums := make([]*sums, len(jobs))
	err = each(ctx, len(jobs), o.Progress, func(i int) {
		s := newSums(h, o.ScoreFrom)
		for _, l := range jobs[i].links {
			s.link(model, h.Links[l], l, int64(o.Horizons[jobs[i].horizon]/time.Second), o.ScoreFrom)
		}
		sums[i] = s
	})
	if err != nil {
		return nil, err
	}
	for k, ahead := range o.Horizons {
		all := newSums(h, o.ScoreFrom)
		for i := range jobs {
			if jobs[i].horizon == k {
				all.add(sums[i])
			}
		}
		r.Horizons = append(r.Horizons, all.horizon(ahead, o, uint64(k)))
	}
	return r, nil
}

// count counts the evidence and lists the links to score.
func (r *Result) count(h *mesh.History, minReports int) (scored []int) {
	for l, entries := range h.Links {
		reports := 0
		for i := range entries {
			switch entries[i].Kind {
			case mesh.EventReport:
				reports++
			case mesh.EventUnwitnessed:
				reports++
				r.Unwitnessed++
			case mesh.EventMiss:
				r.Misses++
			}
		}
		r.Reports += reports
		if reports >= minReports {
			scored = append(scored, l)
		}
	}
	r.Links = len(scored)
	return scored
}

// clip keeps a chance off certainty, by so much.
func clip(p, by float64) float64 { return math.Min(math.Max(p, by), 1-by) }

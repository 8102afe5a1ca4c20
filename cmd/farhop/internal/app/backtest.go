package app

import (
	"context"
	"time"

	"farhop/cmd/farhop/internal/view"
	"farhop/mesh"
	"farhop/routing/backtest"
)

// BacktestRequest is what to score.
type BacktestRequest struct {
	Horizons   []time.Duration // nil = DefaultHorizons, and right before the start for deliveries
	ScoreFrom  string          // RFC 3339, "" = after the first 30 % of the span
	MinReports int
	Frames     int           // of replayed messages, 0 = none
	Within     time.Duration // by when they must be through
	// Progress is told the share done, 0…1, from any goroutine; may be nil.
	Progress func(share float64)
}

// DefaultHorizons are how far ahead forecasts are scored where nothing else is asked.
var DefaultHorizons = []time.Duration{15 * time.Minute, time.Hour, 3 * time.Hour, 12 * time.Hour, 24 * time.Hour}

// resamples is how often the days are drawn for the intervals.
const resamples = 1000

// Backtest scores the forecasts that could have been made along the log.
func (s *Session) Backtest(ctx context.Context, q BacktestRequest) (*view.Backtest, error) {
	horizons, err := q.check()
	if err != nil {
		return nil, err
	}
	if s.log == nil {
		return nil, usagef("backtest needs --observations: it compares forecasts with what was heard")
	}
	h, err := mesh.Gather(ctx, s.net, s.log, s.at.Unix())
	if err != nil {
		return nil, err
	}
	o := backtest.Options{
		Horizons: horizons, MinReports: q.MinReports, ScoreFrom: backtest.From(h),
		Seed: s.req.Seed, Resamples: resamples, Progress: q.Progress,
	}
	if q.ScoreFrom != "" {
		from, err := time.Parse(time.RFC3339, q.ScoreFrom)
		if err != nil {
			return nil, usagef("--score-from %q: write a time such as 2026-03-02T18:00:00Z", q.ScoreFrom)
		}
		o.ScoreFrom = from.Unix()
	}
	r, err := backtest.Run(ctx, s.net, h, o)
	if err != nil {
		return nil, err
	}
	v := &view.Backtest{
		Head: s.head(), Reports: r.Reports, Unwitnessed: r.Unwitnessed, Misses: r.Misses, Links: r.Links, LinksSeen: r.Pairs,
		MinReports: q.MinReports, Seed: s.req.Seed, Horizons: []view.BacktestHorizon{},
	}
	if h.First <= h.Last {
		from := time.Unix(o.ScoreFrom, 0).UTC()
		v.ScoreFrom = &from
	}
	for i := range r.Horizons {
		v.Horizons = append(v.Horizons, s.backtested(&r.Horizons[i], h))
	}
	if q.Frames > 0 {
		if v.Delivery, err = s.deliveries(ctx, q, h, o); err != nil {
			return nil, err
		}
	}
	v.Next = []string{s.try("fit")}
	return v, nil
}

// check says what is wrong with the request, and gives the horizons.
func (q *BacktestRequest) check() ([]time.Duration, error) {
	if q.Frames < 0 || q.Frames > 0 != (q.Within > 0) {
		return nil, usagef("a message to replay needs both --frames, at least 1, and --within, such as 30m")
	}
	if q.MinReports < 0 {
		return nil, usagef("--min-reports %d: it can't be negative", q.MinReports)
	}
	for _, h := range q.Horizons {
		if h < 0 || h%time.Second != 0 {
			return nil, usagef("--horizon %v: write time spans in whole seconds, such as 15m,3h", h)
		}
	}
	if q.Horizons == nil {
		return DefaultHorizons, nil
	}
	return q.Horizons, nil
}

func (s *Session) backtested(r *backtest.Horizon, h *mesh.History) view.BacktestHorizon {
	v := view.BacktestHorizon{
		HorizonMinutes: r.Ahead.Minutes(), Forecasts: r.Forecasts, BaseRate: r.Seen,
		Models: scored(backtest.Names[:], r.Models[:], r.Differences[:]),
		Known:  group(&r.Known), Unknown: group(&r.Unknown),
		ByLink: []view.BacktestGroup{}, ByHour: []view.BacktestGroup{}, ByFreshness: []view.BacktestGroup{},
	}
	for i := range r.Links {
		pair := h.Account.Pairs[r.Links[i].Link]
		g := group(&r.Links[i].Group)
		g.From, g.To = s.net.Stations[pair.From].Call, s.net.Stations[pair.To].Call
		g.Band = h.Account.Bands[pair.Band].String()
		v.ByLink = append(v.ByLink, g)
	}
	for i := range r.Hours {
		g := group(&r.Hours[i])
		g.Hour = &i
		v.ByHour = append(v.ByHour, g)
	}
	for i := range r.Freshness {
		n := float64(len(r.Freshness))
		low, high := float64(i)/n, float64(i+1)/n
		g := group(&r.Freshness[i])
		g.FreshnessLow, g.FreshnessHigh = &low, &high
		v.ByFreshness = append(v.ByFreshness, g)
	}
	return v
}

// scored tells the scores of several ways; the first is farhop's.
func scored(names []string, scores []backtest.Score, differences []backtest.Interval) []view.BacktestModel {
	var out []view.BacktestModel
	for i := range scores {
		m := view.BacktestModel{
			Name: names[i], Brier: scores[i].Brier, LogLoss: scores[i].LogLoss,
			CalibrationError: scores[i].CalibrationError, Bins: []view.BacktestBin{},
		}
		for _, b := range scores[i].Bins {
			m.Bins = append(m.Bins, view.BacktestBin(b))
		}
		if i > 0 {
			d := differences[i]
			gain, low, high := 0-d.Value, 0-d.High, 0-d.Low // no negative zeros
			m.Gain, m.GainLow, m.GainHigh = &gain, &low, &high
		}
		out = append(out, m)
	}
	return out
}

func group(g *backtest.Group) view.BacktestGroup {
	v := view.BacktestGroup{
		Forecasts: g.Forecasts, Seen: g.Seen, Forecast: g.Forecast,
		Brier: map[string]float64{}, LogLoss: map[string]float64{},
	}
	for m, name := range backtest.Names {
		v.Brier[name], v.LogLoss[name] = g.Brier[m], g.LogLoss[m]
	}
	return v
}

// deliveries replays messages.
func (s *Session) deliveries(ctx context.Context, q BacktestRequest, h *mesh.History, o backtest.Options) (*view.BacktestDeliverer, error) {
	if q.Horizons == nil {
		o.Horizons = []time.Duration{0, time.Hour, 3 * time.Hour}
	}
	r, err := backtest.Deliver(ctx, s.net, h, backtest.DeliveryOptions{Options: o, Frames: q.Frames, Within: q.Within})
	if err != nil {
		return nil, err
	}
	v := &view.BacktestDeliverer{
		Frames: q.Frames, WithinMinutes: q.Within.Minutes(), TooShort: r.TooShort, Horizons: []view.BacktestDeliveries{},
	}
	for i := range r.Horizons {
		z := &r.Horizons[i]
		v.Horizons = append(v.Horizons, view.BacktestDeliveries{
			HorizonMinutes: z.Ahead.Minutes(), Tries: z.Tries, Slots: z.Slots, Delivered: z.Delivered,
			Models: scored(backtest.DeliveryNames[:], z.Models[:], z.Differences[:]),
		})
	}
	return v, nil
}

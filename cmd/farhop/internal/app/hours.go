package app

import (
	"context"
	"math"
	"slices"
	"time"

	"farhop/cmd/farhop/internal/view"
	"farhop/routing/cut"
	"farhop/routing/reinforce"
)

// hourSamples are the draws behind the worst reach of an hour: a standard error
// of 0.8 points at most.
const hourSamples = 4096

// NetDay tells how the net holds together through the day, to be drawn.
func (s *Session) NetDay(ctx context.Context) (*view.NetDay, error) {
	if !(s.req.Threshold > 0 && s.req.Threshold <= 1) {
		return nil, usagef("--threshold %g: a chance over 0 and up to 1", s.req.Threshold)
	}
	v := &view.NetDay{Head: s.head(), Stations: len(s.net.Stations), Threshold: s.req.Threshold, TwoWay: s.req.TwoWay}
	var err error
	if v.Hours, err = s.hours(ctx); err != nil {
		return nil, err
	}
	if s.plain != nil {
		if v.Before, err = s.plain.hours(ctx); err != nil {
			return nil, err
		}
	}
	v.Next = []string{s.try("resilience --hours"), s.try("resilience --hours --reinforce")}
	return v, nil
}

// hours tells how the net holds together at the moment and at each of the 23 hours
// that follow.
func (s *Session) hours(ctx context.Context) ([]view.Hour, error) {
	var out []view.Hour
	for h := range int64(24) {
		row, err := s.hour(ctx, s.at.Unix()+3600*h)
		if err != nil {
			return nil, err
		}
		out = append(out, row)
	}
	return out, nil
}

func (s *Session) hour(ctx context.Context, unix int64) (view.Hour, error) {
	row := view.Hour{At: time.Unix(unix, 0).UTC(), Alone: []string{}}
	g, err := cut.FromMesh(s.links.Graph(unix), s.use())
	if err != nil {
		return row, err
	}
	r, err := cut.Analyse(ctx, g, cut.Options{Threshold: s.req.Threshold, TwoWay: s.req.TwoWay})
	if err != nil {
		return row, err
	}
	off := s.offAirAt(unix)
	on := func(list []int) []string {
		return s.names(slices.DeleteFunc(slices.Clone(list), func(i int) bool { return slices.Contains(off, i) }))
	}
	row.OnAir, row.OffAir, row.Members = len(s.net.Stations)-len(off), s.names(off), [][]string{}
	row.OpenLinks, row.KnownLinks, row.UnknownLinks = r.OpenLinks, r.KnownLinks, r.UnknownLinks
	row.Isolated, row.Unknown = on(r.Isolated), on(r.Unknown)
	for _, group := range r.Groups {
		switch alone := on(group); {
		case len(group) > 1:
			row.Groups++
			row.Members = append(row.Members, s.names(group))
			row.LargestGroup = max(row.LargestGroup, len(group))
		case len(alone) == 1:
			row.Alone = append(row.Alone, alone...)
			row.LargestGroup = max(row.LargestGroup, 1)
		}
	}
	slices.Sort(row.Alone)
	row.SingleStations, row.SinglePoints = []string{}, []view.HourSingle{}
	for _, p := range r.SingleStations {
		call := s.net.Stations[p.Station].Call
		row.SingleStations = append(row.SingleStations, call)
		row.SinglePoints = append(row.SinglePoints, view.HourSingle{Station: call, PairsLost: p.PairsLost, Certain: p.Certain})
		row.PairsLost = max(row.PairsLost, p.PairsLost)
	}
	if n := len(s.net.Stations); n <= reinforce.MostStations {
		f := reinforce.Measure(n, [][]cut.Link{g.Links()}, reinforce.Options{
			Threshold: s.req.Threshold, TwoWay: s.req.TwoWay, Seed: s.req.Seed, Samples: hourSamples,
		})
		if !math.IsNaN(f.Worst) {
			row.WorstReach = figure(f.Worst)
			row.WorstPair = &[2]string{s.net.Stations[f.WorstPair[0]].Call, s.net.Stations[f.WorstPair[1]].Call}
		}
	}
	return row, nil
}

// use says which uncertain links the request lets count.
func (s *Session) use() cut.Use { return cut.Use{Inferred: s.req.Inferred, Unknown: s.req.Unknown} }

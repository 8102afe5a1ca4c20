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
	row.OnAir, row.OpenLinks, row.UnknownLinks = len(s.net.Stations)-len(off), r.OpenLinks, r.UnknownLinks
	row.Isolated, row.Unknown = on(r.Isolated), on(r.Unknown)
	for _, group := range r.Groups {
		switch alone := on(group); {
		case len(group) > 1:
			row.Groups++
			row.LargestGroup = max(row.LargestGroup, len(group))
		case len(alone) == 1:
			row.Alone = append(row.Alone, alone...)
			row.LargestGroup = max(row.LargestGroup, 1)
		}
	}
	slices.Sort(row.Alone)
	row.SingleStations = []string{}
	for _, p := range r.SingleStations {
		row.SingleStations = append(row.SingleStations, s.net.Stations[p.Station].Call)
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

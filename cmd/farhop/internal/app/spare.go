package app

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"farhop/cmd/farhop/internal/view"
	"farhop/mesh"
	"farhop/routing"
	"farhop/routing/endurance"
	"farhop/routing/timetable"
)

// batteries is how batteries are followed, checked.
func (s *Session) batteries() (o endurance.Options, err error) {
	for _, share := range []struct {
		flag  string
		value float64
	}{{"--charge", s.req.Charge}, {"--usable", s.req.Usable}} {
		if !(share.value > 0 && share.value <= 1) {
			return o, usagef("%s %g: a share over 0 and up to 1", share.flag, share.value)
		}
	}
	return endurance.Options{Charge: s.req.Charge, Usable: s.req.Usable, Places: s.places()}, nil
}

// flat lists the stations that reach their reserve under a timetable and aren't
// among those known.
func (s *Session) flat(t *timetable.Timetable, known []int) (list []int, err error) {
	o, err := s.batteries()
	if err != nil {
		return nil, err
	}
	r, err := endurance.Run(s.net, t, o)
	if err != nil {
		return nil, err
	}
	for i := range r.Stations {
		if b := &r.Stations[i]; !math.IsNaN(b.ReserveHours) && !slices.Contains(known, b.Station) {
			list = append(list, b.Station)
		}
	}
	return list, nil
}

// reservePassed tells which stations reach their reserve under a timetable.
func (s *Session) reservePassed(t *timetable.Timetable) ([]view.ReservePassed, error) {
	o, err := s.batteries()
	if err != nil {
		return nil, err
	}
	r, err := endurance.Run(s.net, t, o)
	if err != nil {
		return nil, err
	}
	list := []view.ReservePassed{}
	for i := range r.Stations {
		if b := &r.Stations[i]; !math.IsNaN(b.ReserveHours) {
			list = append(list, view.ReservePassed{
				Station: s.net.Stations[b.Station].Call, At: time.Unix(t.First+int64(math.Round(b.ReserveHours*3600)), 0).UTC(),
				Idle: !math.IsNaN(b.IdleReserveHours),
			})
		}
	}
	return list, nil
}

// warnOfBatteries warns of stations that reach their reserve.
func (s *Session) warnOfBatteries(h *view.Head, list []view.ReservePassed) {
	for _, p := range list {
		h.Warnings = append(h.Warnings, view.Warning{
			Code: "reserve", Message: s.reserveWords(&h.Clock, p, "the traffic"), Stations: []string{p.Station},
		})
	}
}

func (s *Session) reserveWords(c *view.Clock, p view.ReservePassed, what string) string {
	i, _ := s.net.Find(p.Station)
	text := fmt.Sprintf("%s's battery would be down to its reserve of %s at %s", p.Station, view.Percent(s.net.Stations[i].Supply.Reserve), c.Short(p.At))
	if p.Idle {
		text += ", without " + what + " too"
	}
	return text
}

// horizonOfBatteries is how far ahead the batteries of a chain are followed: over
// the next night, whatever the deadline.
const horizonOfBatteries = 24 * time.Hour

// checkBatteries flags chains through stations that would reach their reserve.
func (s *Session) checkBatteries(a *routing.Answer, v *view.Route) error {
	o, err := s.batteries()
	if err != nil {
		return err
	}
	c, err := endurance.NewChecker(s.net, s.at.Unix(), max(horizonOfBatteries, a.Request.Deadline), o)
	if err != nil {
		return err
	}
	told := map[string]bool{}
	for i := range a.Chains {
		list := s.passing(c, &a.Chains[i])
		v.Chains[i].ReservePassed = list
		for _, p := range list {
			if !told[p.Station] {
				told[p.Station] = true
				s.warnOfChain(v, p)
			}
		}
	}
	return nil
}

func (s *Session) warnOfChain(v *view.Route, p view.ReservePassed) {
	var on []string
	for i := range v.Chains {
		if slices.Contains(v.Chains[i].Stations, p.Station) {
			on = append(on, fmt.Sprint(i+1))
		}
	}
	chains := "Chain " + on[0]
	if len(on) > 1 {
		chains = "Chains " + strings.Join(on[:len(on)-1], ", ") + " and " + on[len(on)-1]
	}
	v.Warnings = append(v.Warnings, view.Warning{
		Code: "reserve", Message: chains + ": " + s.reserveWords(&v.Clock, p, "the message"), Stations: []string{p.Station},
	})
}

// passing lists the stations of a chain, the destination aside, that would reach
// their reserve.
func (s *Session) passing(c *endurance.Checker, chain *routing.Chain) []view.ReservePassed {
	var uses []endurance.Use
	for i, v := range chain.Stations[:len(chain.Stations)-1] {
		uses = append(uses, endurance.Use{Station: v, From: chain.Hops[max(i-1, 0)].At, KeyedSeconds: chain.StationSeconds[i]})
	}
	list := []view.ReservePassed{}
	for _, p := range c.Passing(uses) {
		list = append(list, view.ReservePassed{Station: s.net.Stations[p.Station].Call, At: time.Unix(p.At, 0).UTC(), Idle: p.Idle})
	}
	return list
}

// kept words an answer with its batteries looked after: flagged, and spared where
// that is asked for.
func (s *Session) kept(ctx context.Context, a *routing.Answer, from, to int) (*routing.Answer, *view.Route, error) {
	var spared []int
	first := a
	if s.req.SpareBatteries {
		var err error
		if a, spared, err = s.spare(ctx, a); err != nil {
			return nil, nil, err
		}
	}
	v := s.route(a, from, to)
	if len(spared) > 0 {
		v.Warnings = append(v.Warnings, view.Warning{
			Code: "spared", Stations: s.names(spared),
			Message: fmt.Sprintf("Left out to spare batteries: %s. With that the best chain would have %s", view.Names(s.names(spared)), view.Percent(first.Chains[0].Delivered)),
		})
	}
	return a, v, s.checkBatteries(a, v)
}

// sparing is links without those of some stations.
type sparing struct {
	routing.Source
	spared map[int]bool
}

func (l *sparing) Edge(from, to, channel int, unix int64) (mesh.Edge, bool) {
	if l.spared[from] || l.spared[to] {
		return mesh.Edge{}, false
	}
	return l.Source.Edge(from, to, channel, unix)
}

// spare looks for chains whose relays stay above their reserve. Where there are
// none it returns the answer it was given.
func (s *Session) spare(ctx context.Context, a *routing.Answer) (*routing.Answer, []int, error) {
	o, err := s.batteries()
	if err != nil {
		return nil, nil, err
	}
	c, err := endurance.NewChecker(s.net, s.at.Unix(), max(horizonOfBatteries, a.Request.Deadline), o)
	if err != nil {
		return nil, nil, err
	}
	links := &sparing{s.links, map[int]bool{}}
	var spared []int
	for found := a; len(found.Chains) > 0; {
		before := len(spared)
		for i := range found.Chains[:found.Best] {
			for _, p := range s.passing(c, &found.Chains[i]) {
				v, _ := s.net.Find(p.Station)
				if v != a.Request.From && !links.spared[v] {
					links.spared[v] = true
					spared = append(spared, v)
				}
			}
		}
		if len(spared) == before {
			return found, spared, nil
		}
		if found, err = routing.New(s.net, links).Route(ctx, a.Request); err != nil {
			return nil, nil, err
		}
	}
	return a, nil, nil
}

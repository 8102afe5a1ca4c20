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

// followed follows the batteries under a timetable.
func (s *Session) followed(t *timetable.Timetable) (*endurance.Result, error) {
	o, err := s.batteries()
	if err != nil {
		return nil, err
	}
	return endurance.Run(s.net, t, o)
}

// reaching lists the batteries that reach their reserve under a timetable.
func (s *Session) reaching(t *timetable.Timetable) (list []endurance.Station, err error) {
	r, err := s.followed(t)
	if err != nil {
		return nil, err
	}
	for i := range r.Stations {
		if !math.IsNaN(r.Stations[i].ReserveHours) {
			list = append(list, r.Stations[i])
		}
	}
	return list, nil
}

// flat lists the stations that reach their reserve under a timetable and aren't
// among those known.
func (s *Session) flat(t *timetable.Timetable, known []int) (list []int, err error) {
	reaching, err := s.reaching(t)
	for i := range reaching {
		if v := reaching[i].Station; !slices.Contains(known, v) {
			list = append(list, v)
		}
	}
	return list, err
}

// reservePassed tells which stations reach their reserve under a timetable of messages, which
// run flat, and what is planned with them past that.
func (s *Session) reservePassed(t *timetable.Timetable, messages []mesh.Message) ([]view.ReservePassed, error) {
	reaching, err := s.reaching(t)
	list := []view.ReservePassed{}
	for i := range reaching {
		b := &reaching[i]
		p := endurance.Passing{Station: b.Station, At: endurance.Moment(t.First, b.ReserveHours), IdleAt: endurance.Moment(t.First, b.IdleReserveHours)}
		v := s.passed(p)
		v.EmptyAt = moment(b.EmptyAt)
		for k := range t.Reservations {
			r := &t.Reservations[k]
			id := messages[r.Message].ID
			if b.EmptyAt != 0 && r.End > b.EmptyAt && (r.From == b.Station || slices.Contains(r.To, b.Station)) && !slices.Contains(v.Past, id) {
				v.Past = append(v.Past, id)
			}
		}
		list = append(list, v)
	}
	return list, err
}

// passed words a station that would reach its reserve.
func (s *Session) passed(p endurance.Passing) view.ReservePassed {
	return view.ReservePassed{
		Station: s.net.Stations[p.Station].Call, At: time.Unix(p.At, 0).UTC(), Idle: p.IdleAt != 0, IdleAt: moment(p.IdleAt),
	}
}

// warnOfBatteries warns of stations that reach their reserve, and of those that run flat.
func (s *Session) warnOfBatteries(h *view.Head, list []view.ReservePassed) {
	for _, p := range list {
		text := s.reserveWords(&h.Clock, p, "the traffic")
		if p.EmptyAt != nil {
			text += "; flat at " + h.Clock.Short(*p.EmptyAt)
		}
		if len(p.Past) > 0 {
			text += ", which is too early for " + view.Names(p.Past)
		}
		h.Warnings = append(h.Warnings, view.Warning{Code: "reserve", Message: text, Stations: []string{p.Station}})
	}
}

// sparedIn tells what sparing batteries has done to a timetable.
func (s *Session) sparedIn(t *timetable.Timetable) view.Warning {
	if len(t.Spare) == 0 {
		return view.Warning{Code: "spared", Message: "No battery needs sparing: none reaches its reserve under the traffic"}
	}
	var still []int
	for i := range t.Reservations {
		r := &t.Reservations[i]
		if r.Hop > 1 && slices.Contains(t.Spare, r.From) && !slices.Contains(still, r.From) {
			still = append(still, r.From)
		}
	}
	spare := slices.Sorted(slices.Values(t.Spare))
	slices.Sort(still)
	w := view.Warning{
		Code: "spared", Stations: s.names(spare),
		Message: "Kept from relaying where another way is left, to spare their batteries: " + view.Names(s.names(spare)),
	}
	if len(still) > 0 {
		w.Message += ". None is left for some messages that go by " + view.Names(s.names(still))
	}
	return w
}

// reserveWords says when a station reaches its reserve, with what is sent and, where
// it does so anyway, without.
func (s *Session) reserveWords(c *view.Clock, p view.ReservePassed, what string) string {
	i, _ := s.net.Find(p.Station)
	text := fmt.Sprintf("%s's battery would be down to its reserve of %s at %s", p.Station, view.Percent(s.net.Stations[i].Supply.Reserve), c.Short(p.At))
	switch {
	case p.IdleAt == nil:
		return text
	case c.Short(*p.IdleAt) == c.Short(p.At):
		return text + ", without " + what + " too"
	}
	return text + ", without " + what + " at " + c.Short(*p.IdleAt)
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
		list = append(list, s.passed(p))
	}
	return list
}

// kept words an answer of a planner with its batteries looked after: flagged, and
// spared where that is asked for. With it comes the planner that leaves out those
// that are spared: what else is asked about the answer is for that one.
func (s *Session) kept(ctx context.Context, p *routing.Planner, a *routing.Answer, from, to int) (*routing.Planner, *routing.Answer, *view.Route, error) {
	var w *view.Warning
	if s.req.SpareBatteries {
		var err error
		if p, a, w, err = s.spare(ctx, p, a); err != nil {
			return nil, nil, nil, err
		}
	}
	v := s.route(a, from, to)
	if w != nil {
		v.Warnings = append(v.Warnings, *w)
	}
	return p, a, v, s.checkBatteries(a, v)
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

// spare looks for chains whose relays stay above their reserve, and returns the
// planner that found them, the answer, and a warning that names those left out.
// Where there are no such chains it returns what it was given, and a warning that
// says so; the warning is nil where nothing needs sparing.
func (s *Session) spare(ctx context.Context, p *routing.Planner, a *routing.Answer) (*routing.Planner, *routing.Answer, *view.Warning, error) {
	o, err := s.batteries()
	if err != nil {
		return nil, nil, nil, err
	}
	c, err := endurance.NewChecker(s.net, s.at.Unix(), max(horizonOfBatteries, a.Request.Deadline), o)
	if err != nil {
		return nil, nil, nil, err
	}
	links := &sparing{s.links, map[int]bool{}}
	var spared []string
	without, found := p, a
	for len(found.Chains) > 0 {
		before := len(spared)
		for i := range found.Chains[:found.Best] {
			for _, r := range s.passing(c, &found.Chains[i]) {
				v, _ := s.net.Find(r.Station)
				if v != a.Request.From && !links.spared[v] {
					links.spared[v] = true
					spared = append(spared, r.Station)
				}
			}
		}
		if len(spared) == before {
			return without, found, leftOut(spared, a), nil
		}
		without = routing.New(s.net, links)
		if found, err = without.Route(ctx, unfilled(a.Request)); err != nil {
			return nil, nil, nil, err
		}
	}
	if len(spared) == 0 {
		return p, a, nil, nil
	}
	return p, a, &view.Warning{
		Code: "spared", Stations: spared,
		Message: "Nothing is left out to spare batteries: every chain by the deadline passes " + strings.Join(spared, " or "),
	}, nil
}

// leftOut warns of what sparing stations costs against an answer, nil where none is.
func leftOut(spared []string, a *routing.Answer) *view.Warning {
	if len(spared) == 0 {
		return nil
	}
	return &view.Warning{
		Code: "spared", Stations: spared,
		Message: fmt.Sprintf("Left out to spare batteries: %s. With that the best chain would have %s", view.Names(spared), view.Percent(a.Chains[0].Delivered)),
	}
}

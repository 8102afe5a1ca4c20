package app

import (
	"context"
	"fmt"
	"math"

	"farhop/cmd/farhop/internal/view"
	"farhop/mesh"
	"farhop/mesh/link"
	"farhop/observations/locator"
	"farhop/routing/reinforce"
)

const (
	mostChanges = 10
	dayStep     = 2 * 3600 // with --hours reinforcement looks at every second hour
)

// reinforcement looks for the changes that help most.
func (s *Session) reinforcement(ctx context.Context) (*view.Reinforcement, error) {
	if s.req.Reinforce > mostChanges {
		return nil, usagef("--reinforce %d: 1 to %d changes in a row", s.req.Reinforce, mostChanges)
	}
	if n := len(s.net.Stations); n > reinforce.MostStations {
		return nil, usagef("--reinforce works for up to %d stations; the plan has %d", reinforce.MostStations, n)
	}
	q := reinforce.Request{
		Moments: []int64{s.at.Unix()}, Threshold: s.req.Threshold, TwoWay: s.req.TwoWay, Use: s.use(),
		Changes: s.req.Reinforce, Seed: s.req.Seed,
	}
	if s.req.Hours {
		for t := s.at.Unix() + dayStep; t < s.at.Unix()+mesh.DaySeconds; t += dayStep {
			q.Moments = append(q.Moments, t)
		}
	}
	a, err := reinforce.Advise(ctx, s.links, q)
	if err != nil {
		return nil, err
	}
	w := wording{s, a.Steps}
	v := &view.Reinforcement{
		Hours: len(q.Moments), Looked: a.Looked, Before: w.firmness(&a.Before),
		Steps: []view.Reinforced{}, Alternatives: []view.Reinforced{}, Law: s.expected(a.Law),
	}
	if a.Law != nil {
		v.LawLinks = a.Law.Links()
	}
	for i := range a.Steps {
		v.Steps = append(v.Steps, w.reinforced(&a.Steps[i]))
	}
	for i := 1; i < len(a.First); i++ {
		alone := wording{s, a.First[i : i+1]}
		v.Alternatives = append(v.Alternatives, alone.reinforced(&a.First[i]))
	}
	return v, nil
}

// expected shows what links that nobody has measured are expected to be.
func (s *Session) expected(law *reinforce.Law) []view.Expected {
	out := []view.Expected{}
	if law == nil {
		return out
	}
	const watts = 10
	for ch := range s.net.Channels {
		if !s.net.InWindow(ch, s.slotStart()) {
			continue
		}
		for _, km := range []float64{30, 100, 200} {
			snr, sd := law.Typical(ch, km, watts)
			out = append(out, view.Expected{Channel: s.net.Channels[ch].Name, DistanceKM: km, PowerW: watts, SNRDB: snr, SNRSDDB: sd})
		}
	}
	return out
}

// wording words changes; the steps name the relays that they add.
type wording struct {
	*Session
	steps []reinforce.Option
}

// name is the call of a member, or says which relay.
func (w wording) name(station int) string {
	if station < len(w.net.Stations) {
		return w.net.Stations[station].Call
	}
	for i := range w.steps {
		if c := &w.steps[i].Change; c.Kind == reinforce.Relay && c.Station == station {
			return "the relay in " + c.Locator
		}
	}
	return "the relay"
}

func (w wording) namesOf(stations []int) []string {
	out := []string{}
	for _, i := range stations {
		out = append(out, w.name(i))
	}
	return out
}

func (w wording) firmness(f *reinforce.Figures) view.Firmness {
	return view.Firmness{
		WorstReach: figure(f.Worst), MeanReach: f.Mean, JoinedPairs: f.Joined, FirmPairs: f.Firm,
		SinglePoints: f.Singles, SingleStations: w.namesOf(f.Single),
	}
}

func (w wording) reinforced(o *reinforce.Option) view.Reinforced {
	promise := func(g reinforce.Gain) view.Promise { return view.Promise{Expected: g.Mean, Low: g.Low, High: g.High} }
	v := view.Reinforced{
		Kind: o.Kind.String(), After: w.firmness(&o.After), Gain: promise(o.Score), FirmGain: promise(o.Firm),
		MeanGain: promise(o.Mean), WorstGain: promise(o.Worst), Removes: w.namesOf(o.Removed), Adds: w.namesOf(o.Added),
		Unmeasured: o.Expected,
	}
	links := ""
	if o.Expected > 0 {
		v.UnmeasuredSD = figure(o.ExpectedSD)
		links = fmt.Sprintf("; %s expected, not measured (±%s)", view.Count(o.Expected, "direction", "directions"), view.DB(o.ExpectedSD))
	}
	switch o.Kind {
	case reinforce.Relay:
		v.Locator, v.PowerW = o.Locator, figure(o.Watts)
		v.What = fmt.Sprintf("a relay in %s%s, %s", o.Locator, w.beside(o), view.Watts(o.Watts))
		v.Assumes = "an ordinary site there, on the air all day, on all channels" + links
		return v
	case reinforce.Power:
		v.PowerW = figure(o.Watts)
		now := w.net.Stations[o.Station].PowerW
		v.What = fmt.Sprintf("%s at %s instead of %s", w.name(o.Station), view.Watts(o.Watts), view.Watts(now))
		v.Assumes = fmt.Sprintf("its links rise by %.1f dB, and its battery and licence allow it", link.PowerDB(o.Watts, now))
	case reinforce.Window:
		v.OnAir = o.Windows.Strings()
		v.What = fmt.Sprintf("%s on the air %s instead of %s", w.name(o.Station), o.Windows, w.net.Stations[o.Station].OnAir)
		v.Assumes = "somebody is there, and its battery bears it" + links
	case reinforce.Channel:
		v.Channel = w.net.Channels[o.Channel].Name
		v.What = fmt.Sprintf("%s also on %s", w.name(o.Station), v.Channel)
		v.Assumes = "it gets an aerial for it" + links
	}
	v.Station = w.name(o.Station)
	return v
}

// besideKM is how near a relay is said to be beside a station.
const besideKM = 4

func (w wording) beside(o *reinforce.Option) string {
	best, nearest := math.Inf(1), -1
	for i := range w.net.Stations {
		place, err := locator.Parse(w.links.Place(i))
		if err != nil {
			continue
		}
		if d := locator.Distance(place, o.Position); d < best && d <= besideKM {
			best, nearest = d, i
		}
	}
	if nearest < 0 {
		return ""
	}
	return " beside " + w.name(nearest)
}

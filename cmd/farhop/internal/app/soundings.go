package app

import (
	"context"
	"fmt"
	"slices"
	"time"

	"farhop/cmd/farhop/internal/view"
	"farhop/routing/sounding"
)

// SoundingRequest is what is to be kept known, and how well.
type SoundingRequest struct {
	WithinDB    float64
	Horizon     time.Duration
	ListsEvery  time.Duration
	Gap         time.Duration
	Coordinator string // "" = the first station with that role, else the first
}

// DefaultSoundingRequest has every default filled in.
func DefaultSoundingRequest() SoundingRequest {
	return SoundingRequest{
		WithinDB: sounding.DefaultWithinDB, Horizon: sounding.DefaultHorizon, ListsEvery: sounding.DefaultLists, Gap: sounding.DefaultGap,
	}
}

// check finds what was asked wrongly.
func (r *SoundingRequest) check() error {
	switch {
	case !(r.WithinDB > 0 && r.WithinDB <= 100):
		return usagef("--within-db %g: write decibels over 0 and up to 100", r.WithinDB)
	case r.Horizon < 15*time.Minute || r.Horizon > 7*24*time.Hour:
		return usagef("--horizon %s: write a time span of 15m to 168h", r.Horizon)
	case r.ListsEvery < 15*time.Minute || r.ListsEvery > 7*24*time.Hour:
		return usagef("--lists-every %s: write a time span of 15m to 168h", r.ListsEvery)
	case r.Gap < time.Second || r.Gap > 24*time.Hour:
		return usagef("--gap %s: write a time span over zero and up to 24h", r.Gap)
	}
	return nil
}

// coordinator is the station that gathers the lists.
func (s *Session) coordinator(name string) (int, error) {
	if name != "" {
		return s.station(name)
	}
	for i := range s.net.Stations {
		if slices.Contains(s.net.Stations[i].Roles, "coordinator") {
			return i, nil
		}
	}
	if len(s.net.Stations) == 0 {
		return 0, usagef("no station is left to sound")
	}
	return 0, nil
}

// Soundings plans who should sound when, so that the links that matter stay known.
func (s *Session) Soundings(ctx context.Context, ask SoundingRequest) (*view.Soundings, error) {
	if err := ask.check(); err != nil {
		return nil, err
	}
	q, err := s.request()
	if err != nil {
		return nil, err
	}
	coordinator, err := s.coordinator(ask.Coordinator)
	if err != nil {
		return nil, err
	}
	m, err := sounding.Matters(ctx, s.net, s.links, sounding.Question{
		Request: q, Start: s.at.Unix(), Horizon: ask.Horizon, Every: ask.ListsEvery, Threshold: s.req.Threshold, Coordinator: coordinator,
	})
	if err != nil {
		return nil, err
	}
	r := sounding.Request{
		Start: s.at.Unix(), Horizon: ask.Horizon, Lists: ask.ListsEvery, WithinDB: ask.WithinDB, Gap: ask.Gap,
		Coordinator: coordinator, Needs: m.Needs, Passes: m.Passes,
	}
	p, err := sounding.Make(ctx, s.net, s.links, r)
	if err != nil {
		return nil, err
	}
	v := s.soundingView(p)
	v.SinglePoints = s.names(m.Single)
	for i := range s.net.Stations {
		if x := &s.net.Stations[i]; len(x.Soundings) > 0 {
			v.Sounded = append(v.Sounded, x.Call)
		}
	}
	v.Warnings = append(v.Warnings, s.warnings(m.Warnings)...)
	if err := s.looser(ctx, v, r); err != nil {
		return nil, err
	}
	s.soundingWarnings(v, p)
	v.Next = []string{s.try("soundings --format csv"), s.try("soundings --horizon 24h --format yaml"), s.try("links")}
	return v, nil
}

// looser finds out what wider limits would take.
func (s *Session) looser(ctx context.Context, v *view.Soundings, r sounding.Request) error {
	if len(v.Soundings) == 0 {
		return nil
	}
	for _, more := range []float64{1, 2} {
		wider := r
		wider.WithinDB += more
		p, err := sounding.Make(ctx, s.net, s.links, wider)
		if err != nil {
			return err
		}
		v.Looser = append(v.Looser, view.LooserSoundings{
			WithinDB: wider.WithinDB, Soundings: p.Count, SoundingSeconds: p.SoundingSeconds, ListSeconds: p.ListSeconds,
		})
	}
	return nil
}

func (s *Session) soundingView(p *sounding.Plan) *view.Soundings {
	v := &view.Soundings{
		Head: s.head(), WithinDB: p.Request.WithinDB, Until: time.Unix(p.End, 0).UTC(),
		ListsEveryMinutes: p.Request.Lists.Minutes(), GapMinutes: p.Request.Gap.Minutes(),
		Coordinator: s.net.Stations[p.Request.Coordinator].Call,
		Soundings:   []view.Sounding{}, Lists: []view.HeardList{}, Stations: []view.SoundingBurden{}, Links: []view.SoundedLink{},
		AirtimeSeconds: p.AirtimeSeconds(), SoundingSeconds: p.SoundingSeconds, ListSeconds: p.ListSeconds,
		Planned: s.soundingTally(p, &p.Tally), Halved: s.soundingTally(p, &p.Halved),
		Scheduled: s.soundingTally(p, &p.Scheduled), None: s.soundingTally(p, &p.None), Looser: []view.LooserSoundings{},
	}
	for _, x := range p.Soundings {
		v.Soundings = append(v.Soundings, s.sounding(&x))
	}
	for _, l := range p.Lists {
		v.Lists = append(v.Lists, view.HeardList{
			Receiver: s.net.Stations[l.Receiver].Call, At: time.Unix(l.At, 0).UTC(), Reports: l.Reports, Frames: l.Frames,
			Chain: s.names(l.Stations), AirtimeSeconds: l.Seconds,
		})
	}
	for _, b := range p.Stations {
		v.Stations = append(v.Stations, s.soundingBurden(&b))
	}
	for i := range p.Links {
		v.Links = append(v.Links, s.soundedLink(&p.Links[i], p))
	}
	return v
}

func (s *Session) sounding(x *sounding.Sounding) view.Sounding {
	v := view.Sounding{
		Station: s.net.Stations[x.Station].Call, Channel: s.net.Channels[x.Channel].Name,
		Start: time.Unix(x.Start, 0).UTC(), ForLinks: [][2]string{},
	}
	if o := s.net.Channels[x.Channel].OffsetsHz; x.Offset < len(o) {
		v.OffsetHz = &o[x.Offset]
	}
	for _, to := range x.For {
		v.ForLinks = append(v.ForLinks, [2]string{v.Station, s.net.Stations[to].Call})
	}
	return v
}

func (s *Session) soundingBurden(b *sounding.Burden) view.SoundingBurden {
	v := view.SoundingBurden{
		Station: s.net.Stations[b.Station].Call, Soundings: b.Soundings, SoundingSeconds: b.SoundingSeconds,
		ListSeconds: b.ListSeconds, EnergyWh: figure(b.EnergyWh),
	}
	if supply := s.net.Stations[b.Station].Supply; supply != nil && supply.BatteryWh > 0 {
		v.BatteryShare = figure(b.EnergyWh / supply.BatteryWh)
	}
	return v
}

func (s *Session) soundingTally(p *sounding.Plan, t *sounding.Tally) view.SoundingTally {
	v := view.SoundingTally{
		Soundings: t.Count, SoundingSeconds: t.SoundingSeconds, ListSeconds: t.ListSeconds,
		LargestSNRSDDB: t.WorstSDDB, LargestOn: []string{}, LinksAbove: t.Over,
	}
	if t.WorstLink >= 0 {
		l := &p.Links[t.WorstLink]
		v.LargestOn = append(s.names([]int{l.From, l.To}), s.net.Channels[l.Channel].Name)
		v.LargestAt = moment(t.WorstAt)
	}
	return v
}

func (s *Session) soundedLink(o *sounding.Outcome, p *sounding.Plan) view.SoundedLink {
	v := view.SoundedLink{
		From: s.net.Stations[o.From].Call, To: s.net.Stations[o.To].Call, Channel: s.net.Channels[o.Channel].Name,
		Decode: o.Decode, SNRSDDB: o.NowSDDB, WorstSNRSDDB: o.WorstSDDB, WorstAt: time.Unix(o.WorstAt, 0).UTC(),
		Within: o.Within, WithinFrom: moment(o.WithinFrom), AboveMinutes: o.AboveMinutes,
	}
	if !o.Within {
		v.WhyNot = s.whyNot(o, p)
		v.BestSNRSDDB = figure(o.LeastSDDB)
	}
	return v
}

// whyNot says in words why a link isn't kept within the limit.
func (s *Session) whyNot(o *sounding.Outcome, p *sounding.Plan) string {
	coordinator := s.net.Stations[p.Request.Coordinator].Call
	switch o.Reason {
	case sounding.Away:
		return "the two never listen to the channel together, or no sounding can be heard"
	case sounding.NoWay:
		return "the receiver has no sure way to pass on to " + coordinator + " what it heard"
	case sounding.TooLate:
		return "above it before the first sounding can be heard"
	case sounding.TooLittle:
		return fmt.Sprintf("even a sounding every %.0f min says too little", p.Request.Gap.Minutes())
	case sounding.NoFreeSlot:
		return "the slots it needs are taken by other soundings, or too close to them"
	}
	return o.Reason.String()
}

// What a station may be asked for before a plan warns: choices.
const (
	muchAirtime = 0.25 // share of the horizon on the air
	muchBattery = 0.5  // share of a full battery
)

// soundingWarnings says what asks too much.
func (s *Session) soundingWarnings(v *view.Soundings, p *sounding.Plan) {
	var talkers, hungry []string
	for _, b := range v.Stations {
		if b.SoundingSeconds+b.ListSeconds > muchAirtime*float64(p.End-p.First) {
			talkers = append(talkers, b.Station)
		}
		if b.BatteryShare != nil && *b.BatteryShare > muchBattery {
			hungry = append(hungry, b.Station)
		}
	}
	add := func(code, message string, stations []string) {
		v.Warnings = append(v.Warnings, view.Warning{Code: code, Message: message, Stations: stations})
	}
	if v.ListSeconds > v.SoundingSeconds {
		add("lists-cost-most", "Passing on what was heard takes more airtime than the soundings themselves. A wider limit (--within-db) saves most.", nil)
	}
	if talkers != nil {
		add("much-airtime", fmt.Sprintf("On the air for more than a quarter of the time: %s.", view.Names(talkers)), talkers)
	}
	if hungry != nil {
		add("much-battery", fmt.Sprintf("More than half a full battery, charging not counted: %s.", view.Names(hungry)), hungry)
	}
}

package app

import (
	"context"
	"slices"
	"time"

	"farhop/cmd/farhop/internal/view"
	"farhop/routing"
)

// Brief puts the plan on paper: the net, and a sheet for each station or for the
// one asked for.
func (s *Session) Brief(ctx context.Context) (*view.Brief, error) {
	q, err := s.request()
	if err != nil {
		return nil, err
	}
	v := &view.Brief{
		Head: s.head(), Exercise: s.req.Exercise, Characters: s.req.Characters, Frames: q.Frames,
		DeadlineMin: q.Deadline.Minutes(), Slots: s.slotScheme(), Sheets: []view.Sheet{},
	}
	if v.Printed, err = s.printed(); err != nil {
		return nil, err
	}
	stations := make([]int, len(s.net.Stations))
	for i := range stations {
		stations[i] = i
	}
	if s.req.Station != "" {
		i, err := s.station(s.req.Station)
		if err != nil {
			return nil, err
		}
		stations, v.Only = []int{i}, s.net.Stations[i].Call
	}
	if err := s.briefTraffic(ctx, v); err != nil {
		return nil, err
	}
	if err := s.briefNet(ctx, v); err != nil {
		return nil, err
	}
	if err := s.briefCompared(ctx, v); err != nil {
		return nil, err
	}
	if v.Hand, err = s.hand(); err != nil {
		return nil, err
	}
	if err := s.sheets(ctx, v, q, stations); err != nil {
		return nil, err
	}
	return v, s.briefMaps(ctx, v)
}

// printed is the moment of printing: that of the clock when the plan is for now or
// when it is asked for, else left to be filled in, so that equal questions get equal
// pages.
func (s *Session) printed() (*time.Time, error) {
	switch s.req.Printed {
	case "":
		if s.req.At != "" && s.req.At != "now" {
			return nil, nil
		}
		return &s.now, nil
	case "now":
		return &s.now, nil
	}
	t, err := time.Parse(time.RFC3339, s.req.Printed)
	if err != nil {
		return nil, usagef("--printed %q: write a time such as 2026-03-02T18:00:00Z, or now", s.req.Printed)
	}
	t = t.UTC()
	return &t, nil
}

func (s *Session) slotScheme() view.SlotScheme {
	n := &s.net.Slots
	return view.SlotScheme{
		Seconds: n.Length.Seconds(), KeyedSeconds: n.Keyed.Seconds(), Characters: n.Characters, Header: n.Header,
		Ack: n.Ack, Turnaround: n.Turnaround, Rounds: n.Rounds, Block: n.Block, HalfDecodeDB: n.HalfDecodeDB, Identify: n.Identify.Seconds(),
	}
}

// briefTraffic plans the traffic once, and follows the batteries under it.
func (s *Session) briefTraffic(ctx context.Context, v *view.Brief) error {
	t, messages, err := s.timetable(ctx)
	if err != nil {
		return err
	}
	if v.Timetable, err = s.timetableView(t, messages); err != nil {
		return err
	}
	v.Batteries, err = s.enduranceView(t, messages)
	return err
}

// briefCompared sets the net's pages beside the same without what was assumed; only
// what they compare is planned anew.
func (s *Session) briefCompared(ctx context.Context, v *view.Brief) error {
	if s.plain == nil || v.Only != "" {
		return nil
	}
	before := &view.Brief{}
	if err := s.plain.briefTraffic(ctx, before); err != nil {
		return err
	}
	if err := s.plain.briefNet(ctx, before); err != nil {
		return err
	}
	v.Compare(before.NetInShort(), v.NetInShort())
	return nil
}

// briefNet fills in members, channels and weak points.
func (s *Session) briefNet(ctx context.Context, v *view.Brief) error {
	r, err := s.weakPoints(ctx, nil, false)
	if err != nil {
		return err
	}
	w := &v.Weak
	w.Groups, w.Singles = [][]string{}, []view.SingleStation{}
	group := make([]int, len(s.net.Stations))
	for i, g := range r.Groups {
		if len(g) < 2 {
			continue
		}
		w.Groups = append(w.Groups, s.names(g))
		for _, m := range g {
			group[m] = i + 1
		}
	}
	for _, x := range r.SingleStations {
		w.Singles = append(w.Singles, view.SingleStation{
			Station: s.net.Stations[x.Station].Call, PairsLost: x.PairsLost, CutsOff: s.names(x.CutsOff), Certain: x.Certain,
		})
	}
	off := s.offAir()
	on := func(list []int) []string {
		return s.names(slices.DeleteFunc(slices.Clone(list), func(i int) bool { return slices.Contains(off, i) }))
	}
	w.Isolated, w.Deaf, w.Unheard, w.Unknown = on(r.Isolated), on(r.Deaf), on(r.Unheard), on(r.Unknown)
	w.OffAir, w.Open, w.Left = s.names(off), r.OpenLinks, r.UnknownLinks
	states := map[string]string{}
	for _, x := range []struct {
		list  []string
		state string
	}{{w.Unheard, "unheard"}, {w.Deaf, "deaf"}, {w.Isolated, "isolated"}, {w.Unknown, "unknown"}, {w.OffAir, "off the air"}} {
		for _, call := range x.list {
			states[call] = x.state
		}
	}
	for i := range s.net.Stations {
		st := &s.net.Stations[i]
		m := view.BriefMember{
			Call: st.Call, Licensed: st.Licensed, Locator: s.links.Place(i), PowerW: st.PowerW, Roles: st.Roles,
			OnAir: st.OnAir.String(), State: states[st.Call], Group: group[i],
			Quiet: st.Quiet.Union(s.net.Limits.Quiet).Strings(), DutyLimit: s.net.Duty(i),
		}
		for _, ch := range st.Channels {
			m.Channels = append(m.Channels, s.net.Channels[ch].Name)
		}
		v.Members = append(v.Members, m)
	}
	for ch := range s.net.Channels {
		v.Channels = append(v.Channels, s.briefChannel(v, ch))
	}
	return nil
}

func (s *Session) briefChannel(v *view.Brief, ch int) view.BriefChannel {
	c := &s.net.Channels[ch]
	b := view.BriefChannel{Name: c.Name, FrequencyHz: c.Frequency, Windows: c.Windows.Strings(), OffsetsHz: c.OffsetsHz, Messages: []string{}}
	for i := range s.net.Stations {
		if slices.Contains(s.net.Stations[i].Channels, ch) {
			b.Members++
		}
		for _, p := range s.net.Stations[i].Soundings {
			if p.Channel == ch {
				b.Soundings++
			}
		}
	}
	for i := range v.Timetable.Transmissions {
		if t := &v.Timetable.Transmissions[i]; t.Channel == c.Name && !slices.Contains(b.Messages, t.Message) {
			b.Messages = append(b.Messages, t.Message)
		}
	}
	return b
}

// sheets fills in the stations' sheets, and until when the net's next hops hold.
func (s *Session) sheets(ctx context.Context, v *view.Brief, q routing.Request, stations []int) error {
	rows, err := s.briefRows(ctx, q, stations)
	if err != nil {
		return err
	}
	limits, err := s.giveUps(q, rows)
	if err != nil {
		return err
	}
	last := map[int64][]routing.Row{}
	newest := int64(0)
	for _, i := range stations {
		for _, d := range rows[i] {
			last[d.start] = append(last[d.start], d.list...)
			newest = max(newest, d.start)
		}
		v.Sheets = append(v.Sheets, s.sheet(v, i, rows[i], limits))
	}
	v.Stale = s.stale(newest, last[newest])
	return nil
}

// departures are the best chains from one station for messages that leave at one
// time.
type departures struct {
	start int64
	list  []routing.Row
}

func (d *departures) empty() bool {
	return !slices.ContainsFunc(d.list, func(r routing.Row) bool { return r.Next >= 0 })
}

// briefRows finds the best chains from each of the stations: those for the moment,
// and those for when half of the links open at the moment no longer serve. A
// station that has no chain at either, since it is off the air then, has those for
// when it comes on.
func (s *Session) briefRows(ctx context.Context, q routing.Request, stations []int) (map[int][]departures, error) {
	planner := routing.New(s.net, s.links)
	rows := map[int][]departures{}
	starts := []int64{s.at.Unix()}
	if turn := s.turn(); turn != 0 {
		starts = append(starts, turn)
	}
	for _, start := range starts {
		station := routing.AllStations
		if len(stations) == 1 {
			station = stations[0]
		}
		all, err := s.departing(ctx, planner, q, start, station)
		if err != nil {
			return nil, err
		}
		for _, i := range stations {
			if d := all[i]; !d.empty() {
				rows[i] = append(rows[i], d)
			}
		}
	}
	for _, i := range stations {
		if rows[i] != nil {
			continue
		}
		start := s.nextOnAir(i, s.at.Unix())
		all, err := s.departing(ctx, planner, q, start, i)
		if err != nil {
			return nil, err
		}
		rows[i] = []departures{all[i]}
	}
	return rows, nil
}

// departing finds the best chains for messages that leave at a time, from one
// station or from all.
func (s *Session) departing(ctx context.Context, p *routing.Planner, q routing.Request, start int64, station int) (map[int]departures, error) {
	q.Start = start
	t, err := p.Table(ctx, routing.TableRequest{Request: q, Station: station, Outward: true})
	if err != nil {
		return nil, err
	}
	all := map[int]departures{}
	if station >= 0 {
		all[station] = departures{start: start}
	}
	for _, r := range t.Rows {
		d := all[r.From]
		all[r.From] = departures{start, append(d.list, r)}
	}
	return all, nil
}

// nextOnAir is the start of the first slot from a moment on in which the station
// listens to a channel; the moment itself when it does at once, or never.
func (s *Session) nextOnAir(station int, unix int64) int64 {
	first, length := s.net.Slots.Start(unix), s.net.Slots.Seconds()
	for k := range s.net.Slots.PerDay() {
		if _, ok := s.net.WatchOf(station, first+k*length); ok {
			if k == 0 {
				return unix
			}
			return first + k*length
		}
	}
	return unix
}

// sheet is one station's.
func (s *Session) sheet(v *view.Brief, station int, list []departures, limits map[hopKey]float64) view.Sheet {
	sheet := view.Sheet{
		Member: v.Members[station], From: time.Unix(list[0].start, 0).UTC(), Watch: s.watchSpans(station),
		Soundings: []view.BriefSounding{}, Plans: []view.SheetPlan{}, Battery: s.batteryLimit(v.Batteries, station),
	}
	for _, p := range s.net.Stations[station].Soundings {
		sheet.Soundings = append(sheet.Soundings, view.BriefSounding{
			Channel: s.net.Channels[p.Channel].Name, EverySeconds: int(p.Every / time.Second), AfterSeconds: int(p.After / time.Second),
		})
	}
	for _, d := range list {
		plan := view.SheetPlan{From: time.Unix(d.start, 0).UTC(), Stale: s.stale(d.start, d.list), Destinations: []view.Destination{}}
		for i := range d.list {
			plan.Destinations = append(plan.Destinations, s.destination(&d.list[i], d.start, limits, v))
		}
		sheet.Plans = append(sheet.Plans, plan)
		sheet.Stale = plan.Stale
	}
	s.neighbours(&sheet, station, list[0].start)
	return sheet
}

func (s *Session) destination(r *routing.Row, start int64, limits map[hopKey]float64, b *view.Brief) view.Destination {
	v := view.Destination{
		To: s.net.Stations[r.To].Call, Chain: s.names(r.Stations), Delivered: r.Delivered, P80Minutes: figure(r.P80Minutes),
		Importance: s.importance(r.From, r.To, b),
	}
	if on := s.nextOnAir(r.To, start); on > start {
		v.OnAirAt = moment(on)
	}
	if r.Next >= 0 {
		v.Next, v.Channel = &s.net.Stations[r.Next].Call, s.net.Channels[r.Channels[0]].Name
		if m, ok := limits[hopKey{start, r.From, r.Next, r.Channels[0]}]; ok {
			v.GiveUpMinutes = figure(m)
		}
	}
	if r.BackupNext >= 0 {
		v.BackupNext, v.BackupChannel = &s.net.Stations[r.BackupNext].Call, s.net.Channels[r.BackupChannels[0]].Name
		v.BackupDelivered = figure(r.BackupDelivered)
	}
	return v
}

// importance ranks destinations for a sheet that can't hold all: traffic of the
// station to them by precedence, then a role, then none.
func (s *Session) importance(from, to int, b *view.Brief) int {
	rank := 0
	if len(s.net.Stations[to].Roles) > 0 {
		rank = 10 + len(s.net.Stations[to].Roles)
	}
	fromCall, toCall := s.net.Stations[from].Call, s.net.Stations[to].Call
	for i := range b.Timetable.Messages {
		m := &b.Timetable.Messages[i]
		if m.From == fromCall && m.To == toCall {
			rank = max(rank, 20+10*slices.Index([]string{"ROUTINE", "WELFARE", "PRIORITY", "EMERGENCY"}, m.Precedence))
		}
	}
	return rank
}

func (s *Session) batteryLimit(e *view.Endurance, station int) *view.BatteryLimit {
	supply := s.net.Stations[station].Supply
	if supply == nil {
		return nil
	}
	for i := range e.Stations {
		b := &e.Stations[i]
		if b.Call != s.net.Stations[station].Call {
			continue
		}
		l := &view.BatteryLimit{Station: *b, SpareWh: max(0, (b.LowestCharge-b.Reserve)*b.CapacityWh)}
		if frame := (supply.TransmitW - supply.ReceiveW) * s.net.Slots.Keyed.Hours(); frame > 0 {
			l.SpareFrames = int(min(l.SpareWh/frame, 1e6))
		}
		return l
	}
	return nil
}

package app

import (
	"context"

	"farhop/cmd/farhop/internal/view"
	"farhop/routing"
)

// Table tells who can reach whom: for the station in Request.From, or for all
// when that is empty.
func (s *Session) Table(ctx context.Context) (*view.Reach, error) {
	q, err := s.request()
	if err != nil {
		return nil, err
	}
	t := routing.TableRequest{Request: q, Station: -1}
	if s.req.From != "" {
		if t.Station, err = s.station(s.req.From); err != nil {
			return nil, err
		}
	}
	table, err := routing.New(s.net, s.links).Table(ctx, t)
	if err != nil {
		return nil, err
	}
	m, _ := s.message() // asked for before
	v := &view.Reach{
		Head: s.head(), Characters: m.characters, Frames: q.Frames, Deadline: s.at.Add(q.Deadline),
		Rows: []view.ReachRow{}, OffAir: s.names(s.offAir()),
	}
	if t.Station >= 0 {
		v.Station = s.net.Stations[t.Station].Call
	}
	for i := range table.Rows {
		row := s.reachRow(&table.Rows[i], t.Station)
		if row.Next == nil {
			v.Unreachable++
		}
		v.Rows = append(v.Rows, row)
	}
	v.Warnings = append(append(v.Warnings, m.warnings...), s.warnings(table.Warnings)...)
	if s.req.Unknown {
		v.Warnings = append(v.Warnings, view.Warning{
			Code: "uses-unknown", Message: "Links of which too little is known are used too (--unknown): chances over them are guesses.",
		})
	}
	v.Next = []string{s.try("route " + s.example(v)), s.try("resilience")}
	return v, nil
}

// example is the pair of stations to look at next: the first row with a relay.
func (s *Session) example(v *view.Reach) string {
	for _, r := range v.Rows {
		if r.Relays > 0 {
			return r.Chain[0] + " " + r.Chain[len(r.Chain)-1]
		}
	}
	return "FROM TO"
}

func (s *Session) reachRow(r *routing.Row, station int) view.ReachRow {
	call := func(i int) *string {
		if i < 0 {
			return nil
		}
		return &s.net.Stations[i].Call
	}
	v := view.ReachRow{
		Member: s.net.Stations[r.To].Call, Direction: "to", Next: call(r.Next), Relays: r.Relays,
		DeliveredByDeadline: r.Delivered, P50Minutes: figure(r.P50Minutes), P80Minutes: figure(r.P80Minutes),
		BackupNext: call(r.BackupNext), Chain: s.names(r.Stations), Channels: []string{},
	}
	switch {
	case station < 0:
		v.Station = s.net.Stations[r.From].Call
	case r.To == station:
		v.Member, v.Direction = s.net.Stations[r.From].Call, "from"
	}
	for _, ch := range r.Channels {
		v.Channels = append(v.Channels, s.net.Channels[ch].Name)
	}
	return v
}

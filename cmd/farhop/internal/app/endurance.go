package app

import (
	"context"
	"time"

	"farhop/cmd/farhop/internal/view"
	"farhop/mesh"
	"farhop/observations/locator"
	"farhop/routing/endurance"
	"farhop/routing/timetable"
)

// Endurance follows the batteries under the timetable's traffic.
func (s *Session) Endurance(ctx context.Context) (*view.Endurance, error) {
	t, messages, err := s.timetableBy(ctx, timetable.Options{NoAdvice: true})
	if err != nil {
		return nil, err
	}
	return s.enduranceView(t, messages)
}

// enduranceView follows the batteries under a timetable.
func (s *Session) enduranceView(t *timetable.Timetable, messages []mesh.Message) (*view.Endurance, error) {
	r, err := s.followed(t)
	if err != nil {
		return nil, err
	}
	v := &view.Endurance{
		Head: s.head(), Exercise: s.req.Exercise, Start: time.Unix(t.First, 0).UTC(),
		End: time.Unix(t.First+int64(t.Slots)*t.SlotSeconds, 0).UTC(), Charge: s.req.Charge, Usable: s.req.Usable,
		Stations: []view.StationBattery{}, Without: s.names(r.Without), Costs: []view.MessageCost{}, Listed: len(messages),
	}
	if s.req.Station != "" {
		i, err := s.station(s.req.Station)
		if err != nil {
			return nil, err
		}
		v.Only = s.net.Stations[i].Call
	}
	for i := range t.Messages {
		if t.Messages[i].Arrival != 0 {
			v.Planned++
		}
	}
	places := s.places()
	for i := range r.Stations {
		b := s.battery(&r.Stations[i], t.First, func(m int) string { return messages[m].ID })
		b.Nights = nights(places[r.Stations[i].Station], v.Start, v.End)
		v.Stations = append(v.Stations, b)
	}
	for _, c := range r.Costs {
		v.Costs = append(v.Costs, view.MessageCost{
			ID: messages[c.Message].ID, Wh: c.Wh, Station: s.net.Stations[c.Station].Call, StationWh: c.StationWh, StationPart: c.Share,
		})
	}
	v.Next = []string{s.try("timetable" + s.trafficFlag()), s.try("endurance --station STATION" + s.trafficFlag())}
	return v, nil
}

// nights are the spans between two times in which the sun is below the horizon of a
// place, to five minutes; none where the place is not known.
func nights(place *locator.Position, from, to time.Time) (out []view.Span) {
	if place == nil {
		return nil
	}
	const step = 5 * time.Minute
	down := false
	for t := from; t.Before(to); t = t.Add(step) {
		was := down
		if down = endurance.SunHeight(place.Lat, place.Lon, float64(t.Unix())) <= 0; !down {
			continue
		}
		if !was {
			out = append(out, view.Span{From: t})
		}
		out[len(out)-1].To = earlier(t.Add(step), to)
	}
	return out
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

// places are the newest known places of the stations.
func (s *Session) places() []*locator.Position {
	list := make([]*locator.Position, len(s.net.Stations))
	for i := range list {
		if p, err := locator.Parse(s.links.Place(i)); err == nil {
			list[i] = &p
		}
	}
	return list
}

func (s *Session) battery(b *endurance.Station, first int64, id func(int) string) view.StationBattery {
	v := view.StationBattery{
		Call: s.net.Stations[b.Station].Call, LowestCharge: b.Lowest, LowestAt: time.Unix(b.LowestAt, 0).UTC(),
		HoursToReserve: figure(b.ReserveHours), IdleHours: figure(b.IdleReserveHours), Reserve: s.net.Stations[b.Station].Supply.Reserve,
		CapacityWh: b.Capacity, UsedWh: b.Used, ChargedWh: b.Charged, WastedWh: b.Wasted, ShortWh: b.Short, AirtimeSeconds: b.Keyed,
		ChargeAtEnd: b.End / b.Capacity, HourlyCharge: b.Hours, ChargedEvenly: b.Evenly,
	}
	if b.Cause >= 0 {
		v.Cause = id(b.Cause)
	}
	v.ReserveAt, v.EmptyAt = moment(endurance.Moment(first, b.ReserveHours)), moment(b.EmptyAt)
	if v.HourlyCharge == nil {
		v.HourlyCharge = []float64{}
	}
	return v
}

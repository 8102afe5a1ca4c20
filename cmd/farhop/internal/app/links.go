package app

import (
	"slices"

	"farhop/cmd/farhop/internal/view"
	"farhop/mesh"
)

// Links tells every link at the moment.
func (s *Session) Links() (*view.Links, error) {
	only, err := s.onlyChannel()
	if err != nil {
		return nil, err
	}
	v := &view.Links{Head: s.head(), Links: []view.Link{}, HalfDecodeDB: s.net.Slots.HalfDecodeDB}
	slot := s.slotStart()
	for from := range s.net.Stations {
		for to := range s.net.Stations {
			for ch := range s.net.Channels {
				if from == to || only >= 0 && ch != only {
					continue
				}
				e, ok := s.links.Edge(from, to, ch, s.at.Unix())
				if !ok || !e.Fixed && e.Reports+e.Misses == 0 && !e.Inferred || s.req.KnownOnly && !e.Known {
					continue
				}
				l := s.link(&e)
				l.InWindow = s.net.OpenSlot(from, to, ch, slot)
				v.Links = append(v.Links, l)
			}
		}
	}
	v.Next = []string{s.try("table STATION"), s.try("route FROM TO")}
	if !slices.ContainsFunc(v.Links, func(l view.Link) bool { return l.Known }) {
		v.Next = []string{s.try("table STATION --unknown")} // nothing to plan on but guesses
	}
	return v, nil
}

// onlyChannel is the channel asked for, −1 for all.
func (s *Session) onlyChannel() (int, error) {
	if s.req.Channel == "" {
		return -1, nil
	}
	return s.channel(s.req.Channel)
}

// Sites tells how well each station hears, by what its links show.
func (s *Session) Sites() (*view.Sites, error) {
	only, err := s.onlyChannel()
	if err != nil {
		return nil, err
	}
	v := &view.Sites{Head: s.head(), Sites: []view.Site{}, ExtraSDDB: mesh.InferredSDDB}
	for _, site := range s.links.Sites() {
		if only >= 0 && !slices.Contains(site.Channels, only) {
			continue
		}
		row := view.Site{
			Station: s.net.Stations[site.Station].Call, OffsetDB: site.OffsetDB, OffsetSDDB: site.SDDB,
			Pairs: site.Links, Group: site.Group + 1,
		}
		for _, ch := range site.Channels {
			row.Channels = append(row.Channels, s.net.Channels[ch].Name)
		}
		v.Sites = append(v.Sites, row)
	}
	v.Next = []string{s.try("table STATION --inferred")}
	return v, nil
}

func (s *Session) link(e *mesh.Edge) view.Link {
	l := view.Link{
		From: s.net.Stations[e.From].Call, To: s.net.Stations[e.To].Call,
		Channel: s.net.Channels[e.Channel].Name, FrequencyHz: s.net.Channels[e.Channel].Frequency,
		Decode: e.Decode, Freshness: e.Freshness, Known: e.Known, Reports: e.Reports,
		Unwitnessed: e.Unwitnessed, Misses: e.Misses, Inferred: e.Inferred, Fixed: e.Fixed,
	}
	l.SNRDB, l.SNRSDDB = snr(e)
	l.AgeMinutes = s.age(e)
	return l
}

// snr is an edge's SNR and its standard deviation, nil where it has none.
func snr(e *mesh.Edge) (mean, sd *float64) {
	if !e.HasSNR {
		return nil, nil
	}
	m, d := e.SNR, e.SD
	return &m, &d
}

// age is the age of an edge's newest evidence in minutes, nil where it has none.
func (s *Session) age(e *mesh.Edge) *float64 {
	if e.Newest == 0 {
		return nil
	}
	m := float64(s.at.Unix()-e.Newest) / 60
	return &m
}

// slotStart is the start of the first slot at or after the moment, Unix seconds.
func (s *Session) slotStart() int64 { return s.net.Slots.Start(s.at.Unix()) }

// channel finds a channel by its name.
func (s *Session) channel(name string) (int, error) {
	if i, ok := s.net.FindChannel(name); ok {
		return i, nil
	}
	var names []string
	for i := range s.net.Channels {
		names = append(names, s.net.Channels[i].Name)
	}
	return 0, usagef("no channel %q in the plan; it has %s", name, view.Names(names))
}

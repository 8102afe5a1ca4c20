package app

import (
	"context"
	"fmt"
	"slices"
	"time"

	"farhop/cmd/farhop/internal/view"
)

// stripHours is how many hours a strip shows.
const stripHours = 24

// Strip tells how the hops of the best chain between two stations, and the direct link
// between them, decode at the moment and at each of the hours that follow.
func (s *Session) Strip(ctx context.Context) (*view.Strip, error) {
	if s.req.From == "" || s.req.To == "" {
		return nil, usagef("a strip shows the day of a link or chain: name its ends with --from and --to")
	}
	if !(s.req.Threshold > 0 && s.req.Threshold <= 1) {
		return nil, usagef("--threshold %g: a chance over 0 and up to 1", s.req.Threshold)
	}
	c, err := s.drawChain(ctx)
	if err != nil {
		return nil, err
	}
	stations := c.Stations
	v := &view.Strip{
		Head: s.head(), From: s.net.Stations[stations[0]].Call, To: s.net.Stations[stations[len(stations)-1]].Call,
		Threshold: s.req.Threshold, Chain: []string{}, Hops: []view.StripHop{},
	}
	for h := range stripHours {
		v.Hours = append(v.Hours, s.at.Add(time.Duration(h)*time.Hour).UTC())
	}
	if c.Known {
		v.Chain, v.ChainText = s.names(stations), c.Text
		for i := 1; i < len(stations); i++ {
			s.stripHop(v, stations[i-1], stations[i], true)
		}
	}
	if !c.Known || len(stations) > 2 {
		s.stripHop(v, stations[0], stations[len(stations)-1], false)
	}
	v.Next = []string{s.try(fmt.Sprintf("route %s %s", v.From, v.To))}
	return v, nil
}

// stripHop follows a hop through the hours.
func (s *Session) stripHop(v *view.Strip, a, b int, onChain bool) {
	h := view.StripHop{From: s.net.Stations[a].Call, To: s.net.Stations[b].Call, OnChain: onChain}
	for _, at := range v.Hours {
		h.Hours = append(h.Hours, s.stripHour(a, b, at.Unix()))
	}
	v.Hops = append(v.Hops, h)
}

// stripHour takes the channel that both watch on which the message decodes best, or
// says why there is none.
func (s *Session) stripHour(a, b int, unix int64) view.StripHour {
	slot := s.net.Slots.Start(unix)
	var best view.StripHour
	for ch := range s.net.Channels {
		if !s.net.OpenSlot(a, b, ch, slot) {
			continue
		}
		h := view.StripHour{Channel: s.net.Channels[ch].Name, There: s.stripWay(a, b, ch, unix), Back: s.stripWay(b, a, ch, unix)}
		if best.Channel == "" || h.There.Decode != nil && (best.There.Decode == nil || *h.There.Decode > *best.There.Decode) {
			best = h
		}
	}
	if best.Channel != "" {
		return best
	}
	state := view.StripWindow
	for ch := range s.net.Channels {
		if s.net.InWindow(ch, slot) && slices.Contains(s.net.Stations[a].Channels, ch) && slices.Contains(s.net.Stations[b].Channels, ch) {
			state = view.StripWatch
		}
	}
	if !s.net.OnAir(a, slot) || !s.net.OnAir(b, slot) {
		state = view.StripOffAir
	}
	return view.StripHour{There: view.StripWay{State: state}, Back: view.StripWay{State: state}}
}

func (s *Session) stripWay(from, to, ch int, unix int64) view.StripWay {
	e, ok := s.links.Edge(from, to, ch, unix)
	switch {
	case !ok:
		return view.StripWay{State: view.StripAbsent}
	case !s.usable(&e):
		return view.StripWay{State: view.StripUnknown}
	}
	w := view.StripWay{State: view.StripClosed, Decode: &e.Decode}
	if e.Decode >= s.req.Threshold {
		w.State = view.StripOpen
	}
	return w
}

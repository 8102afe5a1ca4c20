package app

import (
	"slices"

	"farhop/cmd/farhop/internal/view"
	"farhop/mesh"
)

// watchSpans are the parts of a day in which a station listens to the same
// channels, or to none, by their start.
func (s *Session) watchSpans(station int) []view.WatchSpan {
	length := int(s.net.Slots.Seconds())
	var spans []view.WatchSpan
	for second := 0; second < mesh.DaySeconds; second += length {
		channels := []string{}
		for ch := range s.net.Channels {
			if s.net.Listens(station, ch, int64(second)) {
				channels = append(channels, s.net.Channels[ch].Name)
			}
		}
		if n := len(spans); n > 0 && slices.Equal(spans[n-1].Channels, channels) {
			spans[n-1].To = second + length
			continue
		}
		spans = append(spans, view.WatchSpan{From: second, To: second + length, Channels: channels})
	}
	if n := len(spans); n > 1 && slices.Equal(spans[0].Channels, spans[n-1].Channels) {
		spans[n-1].To = spans[0].To // it runs on past midnight
		spans = append(spans[1:n-1:n-1], spans[n-1])
	}
	return spans
}

// neighbours fills in who hears whom through the 24 hours from the full hour on.
func (s *Session) neighbours(sheet *view.Sheet, station int, start int64) {
	sheet.Neighbours, sheet.Silent, sheet.Unsure = []view.Neighbour{}, []string{}, []string{}
	for other := range s.net.Stations {
		if other == station {
			continue
		}
		n := view.Neighbour{
			Call:  s.net.Stations[other].Call,
			Heard: s.earshot(other, station, start), Hears: s.earshot(station, other, start),
		}
		switch {
		case audible(&n.Heard) || audible(&n.Hears):
			sheet.Neighbours = append(sheet.Neighbours, n)
		case unsure(&n.Heard) || unsure(&n.Hears):
			sheet.Unsure = append(sheet.Unsure, n.Call)
		default:
			sheet.Silent = append(sheet.Silent, n.Call)
		}
	}
}

// audibleFrom is the decode chance from which on an hour counts as one in which
// something may be heard.
const audibleFrom = 0.1

func audible(e *view.Earshot) bool {
	return slices.ContainsFunc(e.Hours, func(h view.HourMark) bool { return h.State == view.CellOpen && h.Decode >= audibleFrom })
}

func unsure(e *view.Earshot) bool {
	return slices.ContainsFunc(e.Hours, func(h view.HourMark) bool { return h.State == view.CellUnknown })
}

// earshot is one direction at a moment and through the 24 hours from its full
// hour on, each judged in its middle.
func (s *Session) earshot(from, to int, start int64) view.Earshot {
	var v view.Earshot
	if e, ok := s.heardAt(from, to, start, s.net.Slots.Start(start)); ok && s.usable(&e) {
		v.SNRDB, v.SNRSDDB = snr(&e)
		v.Decode = figure(e.Decode)
	}
	hour := start - start%3600
	for h := range int64(24) {
		mark := view.HourMark{}
		middle := hour + 3600*h + 1800
		for _, at := range []int64{middle, hour + 3600*h, middle + 900} {
			e, ok := s.heardAt(from, to, middle, s.net.Slots.Start(at))
			if !ok {
				continue
			}
			mark.State = view.CellUnknown
			if s.usable(&e) {
				mark = view.HourMark{State: view.CellOpen, Decode: e.Decode}
			}
			break
		}
		v.Hours = append(v.Hours, mark)
	}
	return v
}

// heardAt is the best direction over the channels both watch in a slot, as known
// for a moment: known before unknown, then the better one. False when they share
// none.
func (s *Session) heardAt(from, to int, unix, slot int64) (best mesh.Edge, ok bool) {
	for ch := range s.net.Channels {
		if !s.net.OpenSlot(from, to, ch, slot) {
			continue
		}
		e, exists := s.links.Edge(from, to, ch, unix)
		if !exists {
			continue
		}
		better := s.usable(&e) == s.usable(&best) && e.Decode > best.Decode || s.usable(&e) && !s.usable(&best)
		if !ok || better {
			best, ok = e, true
		}
	}
	return best, ok
}

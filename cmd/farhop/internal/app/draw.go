package app

import (
	"context"
	"fmt"
	"strings"

	"farhop/cmd/farhop/internal/view"
	"farhop/routing/cut"
)

// Draw puts the net at the moment into a picture.
func (s *Session) Draw(ctx context.Context) (*view.Drawing, error) {
	if s.req.Threshold <= 0 || s.req.Threshold > 1 {
		return nil, usagef("--threshold %g: a chance over 0 and up to 1", s.req.Threshold)
	}
	r, err := s.weakPoints(ctx, nil, false)
	if err != nil {
		return nil, err
	}
	v := &view.Drawing{Head: s.head(), Groups: r.Groups}
	s.drawNodes(v, r)
	stale := s.drawLinks(v)
	v.Legend = s.legend(r, stale)
	return v, nil
}

func (s *Session) drawNodes(v *view.Drawing, r *cut.Report) {
	notes := map[int]string{}
	for _, n := range []struct {
		stations []int
		note     string
	}{
		{r.Isolated, "isolated"}, {r.Unknown, "unknown"}, {r.Deaf, "deaf"}, {r.Unheard, "unheard"}, {s.offAir(), "off the air"},
	} {
		for _, i := range n.stations {
			notes[i] = n.note
		}
	}
	for i := range s.net.Stations {
		v.Nodes = append(v.Nodes, view.Node{Call: s.net.Stations[i].Call, Note: notes[i], Alone: notes[i] != ""})
	}
	for _, x := range r.SingleStations {
		v.Nodes[x.Station].Single = true
	}
}

// drawLinks adds the open links, one for both directions of a pair where both
// are open, and returns how many are stale.
func (s *Session) drawLinks(v *view.Drawing) (stale int) {
	n := len(s.net.Stations)
	for a := range n {
		for b := a + 1; b < n; b++ {
			there, back := s.bestLink(a, b), s.bestLink(b, a)
			switch {
			case there != nil && back != nil:
				there.Both = true
				there.Decode = min(there.Decode, back.Decode)
				there.Stale = there.Stale || back.Stale
				if there.Channels != back.Channels {
					there.Channels += " / " + back.Channels
				}
			case there == nil:
				there = back
			}
			if there == nil {
				continue
			}
			if there.Stale {
				stale++
			}
			v.Edges = append(v.Edges, *there)
		}
	}
	return stale
}

// bestLink is the open direction from a to b over its best channel, nil when
// there is none.
func (s *Session) bestLink(a, b int) *view.DrawnLink {
	var best *view.DrawnLink
	slot := s.slotStart()
	for ch := range s.net.Channels {
		e, ok := s.links.Edge(a, b, ch, s.at.Unix())
		usable := ok && (e.Known || e.Inferred && s.req.Inferred || s.req.Unknown)
		if !usable || e.Decode < s.req.Threshold || !s.net.OpenSlot(a, b, ch, slot) {
			continue
		}
		if best != nil && best.Decode >= e.Decode {
			continue
		}
		best = &view.DrawnLink{
			From: a, To: b, Decode: e.Decode, Stated: e.Fixed,
			Stale:    !e.Fixed && s.at.Unix()-e.Newest > int64(view.StaleAfter.Seconds()),
			Channels: s.net.Channels[ch].Name,
		}
	}
	return best
}

func (s *Session) legend(r *cut.Report, stale int) []string {
	lines := []string{
		s.head().Net + ", for " + s.clock.Date(s.at),
		fmt.Sprintf("A line is a link on which a frame decodes with %s or more; the number is that chance in per cent,", view.Percent(s.req.Threshold)),
		"wider and darker is better; one arrowhead: open that way only; both: the weaker way counts.",
		fmt.Sprintf("Dashed: newest evidence over %s old (%d). Frames: stations that reach each other both ways.", view.Age(view.StaleAfter), stale),
		"Double octagon: its loss cuts others off. Dotted box: isolated, deaf, unheard, unknown or off the air.",
		fmt.Sprintf("Left out: links below that chance, and %s.", view.Count(r.UnknownLinks, "unknown direction", "unknown directions")),
	}
	if e := s.head().Evidence; e != nil && e.Newest != nil {
		lines[0] += "; newest evidence " + view.Age(s.at.Sub(*e.Newest)) + " old"
	}
	return append(lines, strings.SplitAfter(view.Caution, "life. ")...)
}

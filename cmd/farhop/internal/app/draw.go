package app

import (
	"context"
	"fmt"
	"strings"

	"farhop/cmd/farhop/internal/view"
	"farhop/observations/locator"
	"farhop/routing/cut"
)

// Draw puts the net at the moment into a picture.
func (s *Session) Draw(ctx context.Context) (*view.Drawing, error) {
	if !(s.req.Threshold > 0 && s.req.Threshold <= 1) {
		return nil, usagef("--threshold %g: a chance over 0 and up to 1", s.req.Threshold)
	}
	r, err := s.weakPoints(ctx, nil, false)
	if err != nil {
		return nil, err
	}
	v := &view.Drawing{
		Head: s.head(), Groups: r.Groups, Threshold: s.req.Threshold, UnknownDirections: r.UnknownLinks, Centre: -1,
	}
	s.drawNodes(v, r)
	if err := s.aim(v); err != nil {
		return nil, err
	}
	s.drawLinks(v)
	if v.Chain, err = s.drawChain(ctx); err != nil {
		return nil, err
	}
	v.Legend = s.legend(r, v.StaleLinks)
	v.Next = []string{s.try("resilience"), s.try("links")}
	return v, nil
}

// aim settles the view and the centre of the map.
func (s *Session) aim(v *view.Drawing) error {
	placed := len(v.Nodes) - len(v.Unplaced())
	switch v.View = s.req.View; v.View {
	case view.MapView:
		if placed == 0 {
			return usagef("no station of the plan has a locator, so there is no map to draw: use --view diagram or matrix")
		}
	case view.DiagramView, view.MatrixView:
	case "":
		v.View = view.DiagramView
		if 2*placed >= len(v.Nodes) && placed > 0 {
			v.View = view.MapView
		}
	default:
		return usagef("--view %q: it is map, diagram, matrix, strip or day", v.View)
	}
	if s.req.Centre == "" {
		return nil
	}
	c, err := s.station(s.req.Centre)
	if err != nil {
		return err
	}
	if !v.Nodes[c].Placed() {
		return usagef("--centre %s: the station has no locator in the plan", v.Nodes[c].Call)
	}
	v.Centre = c
	for i := range v.Nodes {
		if n := &v.Nodes[i]; n.Placed() && i != c {
			n.KM = locator.Distance(s.net.Stations[c].Position, s.net.Stations[i].Position)
			n.Bearing = locator.Bearing(s.net.Stations[c].Position, s.net.Stations[i].Position)
		}
	}
	return nil
}

// drawChain is the best chain between the stations asked for, nil when none was
// asked for.
func (s *Session) drawChain(ctx context.Context) (*view.DrawnChain, error) {
	if s.req.From == "" && s.req.To == "" {
		return nil, nil
	}
	if s.req.From == "" || s.req.To == "" || strings.Contains(s.req.To, ",") {
		return nil, usagef("a chain is drawn between one station --from and one --to")
	}
	routes, err := s.Route(ctx)
	if err != nil {
		return nil, err
	}
	r := routes[0]
	from, _ := s.net.Find(r.From)
	to, _ := s.net.Find(r.To)
	if len(r.Chains) == 0 {
		return &view.DrawnChain{Stations: []int{from, to}, Text: "no chain is known"}, nil
	}
	c := &view.DrawnChain{Known: true}
	for _, call := range r.Chains[0].Stations {
		i, _ := s.net.Find(call)
		c.Stations = append(c.Stations, i)
	}
	c.Text = fmt.Sprintf("%s by %s for %d characters", view.Chance(r.Chains[0].DeliveredByDeadline), s.clock.At(r.Deadline), r.Characters)
	return c, nil
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
		m := &s.net.Stations[i]
		n := view.Node{Call: m.Call, Note: notes[i], Alone: notes[i] != "", Locator: m.Locator}
		if n.Placed() {
			n.Lat, n.Lon = m.Position.Lat, m.Position.Lon
		}
		v.Nodes = append(v.Nodes, n)
	}
	for _, x := range r.SingleStations {
		v.Nodes[x.Station].Single = true
	}
}

// drawLinks fills the cells and adds the open links, one for both directions of
// a pair where both are open.
func (s *Session) drawLinks(v *view.Drawing) {
	n := len(s.net.Stations)
	v.Cells = make([][]view.Cell, n)
	for i := range v.Cells {
		v.Cells[i] = make([]view.Cell, n)
	}
	for a := range n {
		for b := a + 1; b < n; b++ {
			there, cell := s.bestLink(a, b)
			v.Cells[b][a] = cell
			back, cell := s.bestLink(b, a)
			v.Cells[a][b] = cell
			switch {
			case there != nil && back != nil:
				there.Both = true
				there.Back = back.There
				there.Decode = min(there.Decode, back.Decode)
				there.Stale = there.Stale || back.Stale
				there.Inferred = there.Inferred || back.Inferred
				there.Guessed = there.Guessed || back.Guessed
				there.Stated = there.Stated && back.Stated
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
				v.StaleLinks++
			}
			if from, to := &s.net.Stations[there.From], &s.net.Stations[there.To]; from.Locator != "" && to.Locator != "" {
				there.KM = locator.Distance(from.Position, to.Position)
				there.Bearing = locator.Bearing(from.Position, to.Position)
			}
			v.Edges = append(v.Edges, *there)
		}
	}
}

// bestLink is the open direction from a to b over its best channel, nil when
// there is none, and what is known of the direction on the channels both can use now.
func (s *Session) bestLink(a, b int) (*view.DrawnLink, view.Cell) {
	var best *view.DrawnLink
	var cell view.Cell
	slot := s.slotStart()
	for ch := range s.net.Channels {
		e, ok := s.links.Edge(a, b, ch, s.at.Unix())
		if !ok || !s.net.OpenSlot(a, b, ch, slot) {
			continue
		}
		stale := !e.Fixed && s.at.Unix()-e.Newest > int64(view.StaleAfter.Seconds())
		if !(e.Known || e.Inferred && s.req.Inferred || s.req.Unknown) {
			if cell.State == view.CellNone {
				cell.State = view.CellUnknown
			}
			continue
		}
		if e.Decode < s.req.Threshold {
			if cell.State != view.CellOpen && (cell.State != view.CellClosed || e.Decode > cell.Decode) {
				cell = view.Cell{State: view.CellClosed, Decode: e.Decode, Stale: stale}
			}
			continue
		}
		if best != nil && best.Decode >= e.Decode {
			continue
		}
		best = &view.DrawnLink{
			From: a, To: b, Decode: e.Decode, There: e.Decode, Stated: e.Fixed, Stale: stale,
			Inferred: e.Inferred, Guessed: !e.Known, Channels: s.net.Channels[ch].Name,
		}
		cell = view.Cell{State: view.CellOpen, Decode: e.Decode, Stale: stale}
	}
	return best, cell
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

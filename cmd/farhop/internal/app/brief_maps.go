package app

import (
	"context"
	"slices"

	"farhop/cmd/farhop/internal/view"
)

// briefMaps adds maps of the net and of each sheet's next hops, where it is known
// where stations stand.
func (s *Session) briefMaps(ctx context.Context, v *view.Brief) error {
	c := *s
	c.req.View, c.req.From, c.req.To, c.req.Centre = view.DiagramView, "", "", ""
	d, err := c.Draw(ctx)
	if err != nil {
		return err
	}
	if len(d.Unplaced()) == len(d.Nodes) {
		return nil
	}
	d.View = view.MapView
	v.Map = d
	for i := range v.Sheets {
		sheet := &v.Sheets[i]
		own, _ := s.net.Find(sheet.Member.Call)
		if !d.Nodes[own].Placed() {
			continue
		}
		m := *d
		m.Edges = slices.DeleteFunc(slices.Clone(d.Edges), func(e view.DrawnLink) bool { return e.From != own && e.To != own })
		sheet.Map = &m
		for _, x := range sheet.Plans[0].Destinations {
			if x.Next == nil {
				continue
			}
			to, _ := s.net.Find(*x.Next)
			if hop := [2]int{own, to}; !slices.Contains(sheet.Hops, hop) {
				sheet.Hops = append(sheet.Hops, hop)
			}
		}
	}
	return nil
}

package cut

import "farhop/mesh"

// Use says which uncertain links may be edges beside the known ones.
type Use struct {
	Inferred bool // those taken from the opposite direction
	Unknown  bool // those too little is known of
}

// FromMesh returns the links of a snapshot that can be used at its moment: both
// stations are on the air and listen to the channel in the first slot that begins
// at or after it. What the plan closes then is left out; of the rest, links without
// sufficient evidence of their own count as not known. Estimated links on channels
// of one band rest on the same evidence and share one state; links that the plan
// states are each on their own. O(edges).
func FromMesh(g *mesh.Graph, use Use) (*Graph, error) {
	net := g.Net()
	slot := net.Slots.Start(g.Unix())
	var links []Link
	edges := g.Edges()
	for i, e := range edges {
		if !net.OpenSlot(e.From, e.To, e.Channel, slot) {
			continue
		}
		l := Link{
			From: e.From, To: e.To, Channel: e.Channel, Band: e.Channel,
			Decode: e.Decode, Known: e.Known && !e.Inferred, Way: e.Direction,
		}
		for j := i - 1; j >= 0 && edges[j].From == e.From && edges[j].To == e.To; j-- {
			if !e.Fixed && !edges[j].Fixed && e.Direction == edges[j].Direction {
				l.Band = edges[j].Channel
			}
		}
		l.Use = l.Known || e.Inferred && use.Inferred || !e.Known && use.Unknown
		links = append(links, l)
	}
	return New(len(net.Stations), links)
}

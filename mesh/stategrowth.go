package mesh

import "farhop/mesh/link"

// Growth is what is needed to follow one direction of an estimated link on from
// the newest evidence: to see its uncertainty grow, and shrink again by evidence
// that is planned.
type Growth struct {
	Model *link.Model // shared, doesn't change
	State *link.State // a copy, the caller's own
	Band  int         // channels of one band share one state; numbered in plan order
	Raise float64     // dB to raise θ by, as Model.Miss and Model.Expect take it, at the power of the plan asked about
}

// Growth returns the state of a direction on a channel. It is false where Edge
// has nothing to estimate: no such direction, one that the plan states, or no
// observations at all. A pair without evidence of its own starts from the prior.
func (l *Links) Growth(from, to, channel int) (Growth, bool) {
	if from == to || !l.estimated || !l.net.uses(from, channel) || !l.net.uses(to, channel) {
		return Growth{}, false
	}
	if _, stated := l.fixed[direction{int32(from), int32(to), int32(channel)}]; stated {
		return Growth{}, false
	}
	band := l.bands.channel[channel]
	g := Growth{Model: l.model, State: l.prior, Band: band, Raise: -l.gainOf(from)}
	if i := l.table.find(int32(from), int32(to), int32(band)); i >= 0 {
		g.State = l.records[i].state
	}
	g.State = g.State.Clone()
	return g, true
}

package mesh

import (
	"fmt"
	"math"

	"farhop/observations/locator"
)

// Without returns a copy of the net that lacks the given stations, with every
// fixed link and message from or to one of them. It is prepared if the net is.
func (n *Net) Without(stations ...int) *Net {
	c := n.Clone()
	gone := make([]bool, len(n.Stations))
	for _, s := range stations {
		gone[s] = true
	}
	moved := make([]int, len(n.Stations))
	c.Stations = c.Stations[:0]
	for i := range n.Stations {
		moved[i] = len(c.Stations)
		if !gone[i] {
			c.Stations = append(c.Stations, n.Stations[i])
		}
	}
	c.Fixed = c.Fixed[:0]
	for _, f := range n.Fixed {
		if !gone[f.From] && !gone[f.To] {
			f.From, f.To = moved[f.From], moved[f.To]
			c.Fixed = append(c.Fixed, f)
		}
	}
	c.Traffic = c.Traffic[:0]
	for _, m := range n.Traffic {
		if gone[m.From] || m.To != EveryMember && gone[m.To] {
			continue
		}
		m.From = moved[m.From]
		if m.To != EveryMember {
			m.To = moved[m.To]
		}
		c.Traffic = append(c.Traffic, m)
	}
	if n.names.exact != nil {
		c.names = makeNames(c.Stations)
	}
	return c
}

// Replan answers 'what if': it returns what the same evidence says about another
// plan, which must be prepared and have the same slots, channels and link settings.
// The evidence is not judged anew, for it was gathered under the old plan. Stations are
// those of the same call; the ones that only the new plan has have no evidence.
//
//   - A station with another power raises or lowers the SNR of all its links by
//     the ratio, fixed ones included, which the new plan states at the old
//     power. Fixed decode chances stay.
//   - A station with another locator has moved there at the moment of the links:
//     from its newest known place, with the effect that a move has in the evidence.
//
// The old links stay as they are; both share what hasn't changed.
func (l *Links) Replan(n *Net) (*Links, error) {
	if err := l.suits(n); err != nil {
		return nil, err
	}
	r := &Links{
		Counts: l.Counts, net: n, at: l.at, estimated: l.estimated, model: l.model, bands: l.bands, prior: l.prior,
		fixed: make(map[direction]int32), gain: make([]float64, len(n.Stations)),
		table: newLinkTable(len(n.Stations), len(l.bands.list)), presence: newPresence(len(n.Stations), len(l.bands.list)),
	}
	for i, f := range n.Fixed {
		r.fixed[direction{int32(f.From), int32(f.To), int32(f.Channel)}] = int32(i)
	}
	old := make([]int, len(n.Stations)) // index in the old plan, −1 none
	now := make([]int32, len(l.net.Stations))
	for i := range now {
		now[i] = -1
	}
	keep := make([]float64, len(n.Stations)) // share of what is known that a move leaves
	for i := range n.Stations {
		keep[i] = 1
		if old[i] = l.indexOf(n.Stations[i].Call); old[i] < 0 {
			continue
		}
		now[old[i]] = int32(i)
		r.presence.take(i, &l.presence, old[i])
		r.gain[i] = l.gainOf(old[i]) + 10*math.Log10(n.Stations[i].PowerW/l.net.Stations[old[i]].PowerW)
		keep[i] = l.keeps(old[i], &n.Stations[i])
	}
	for k, p := range l.table.pairs {
		from, to := now[p.From], now[p.To]
		if from < 0 || to < 0 {
			continue
		}
		r.table.get(from, to, p.Band)
		r.records = append(r.records, l.records[k].moved(l, keep[from], keep[to]))
	}
	r.account = l.replanned(n, old)
	return r, nil
}

// suits checks that the evidence of the links can be used for a plan.
func (l *Links) suits(n *Net) error {
	if n.Slots.HalfDecodeDB != l.net.Slots.HalfDecodeDB || n.Slots.SpreadDB != l.net.Slots.SpreadDB || n.Link != l.net.Link {
		return fmt.Errorf("mesh: the plan has other link settings than the links were learnt with")
	}
	if len(n.Channels) != len(l.net.Channels) {
		return fmt.Errorf("mesh: the plan has other channels than the links were learnt with")
	}
	for i := range n.Channels {
		if n.Channels[i].Frequency != l.net.Channels[i].Frequency {
			return fmt.Errorf("mesh: channel %s has another frequency than the links were learnt with", n.Channels[i].Name)
		}
	}
	return nil
}

// indexOf finds a planning name in the plan of the links, −1 if it isn't there.
func (l *Links) indexOf(call string) int {
	if i, ok := l.net.Find(call); ok && l.net.Stations[i].Call == call {
		return i
	}
	return -1
}

// keeps is the share of what is known of a station's links that is left at its
// place in another plan.
func (l *Links) keeps(station int, planned *Station) float64 {
	if fold(planned.Locator) == fold(l.net.Stations[station].Locator) || planned.Locator == "" {
		return 1
	}
	place, err := locator.Parse(l.Place(station))
	if err != nil {
		return 1
	}
	return max(0, 1-locator.Distance(place, planned.Position)/l.net.Evidence.MovedKM)
}

// moved is the record after its ends have moved, the record itself if they haven't.
func (r record) moved(l *Links, shares ...float64) record {
	for _, share := range shares {
		if share < 1 {
			r.state = r.state.Clone()
			l.model.Move(r.state, l.at, share)
		}
	}
	return r
}

// replanned is the account of the links with the stations of another plan.
func (l *Links) replanned(n *Net, old []int) *Account {
	if l.account == nil {
		return nil
	}
	c := *l.account
	c.Pairs, c.Moves = nil, nil
	c.Places = make([]string, len(n.Stations))
	now := make(map[int]int)
	for i := range n.Stations {
		c.Places[i] = fold(n.Stations[i].Locator)
		if old[i] < 0 {
			continue
		}
		now[old[i]] = i
		if before := fold(l.net.Stations[old[i]].Locator); c.Places[i] == before || c.Places[i] == "" {
			c.Places[i] = l.account.Places[old[i]]
		}
	}
	for _, m := range l.account.Moves {
		if i, ok := now[m.Station]; ok {
			m.Station = i
			c.Moves = append(c.Moves, m)
		}
	}
	return &c
}

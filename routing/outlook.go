package routing

import (
	"context"
	"slices"
	"time"
)

// Loss is what becomes of a message when a relay of the best chain is off.
type Loss struct {
	Station int
	Then    *Branch // the best chain without it, nil when there is none
}

// losses looks at each relay of the best chain.
func (q *question) losses(ctx context.Context, f *found) ([]Loss, error) {
	var list []Loss
	for _, v := range f.stations[1 : len(f.stations)-1] {
		g := &best{order: q.Order, k: 1}
		s := q.search(q.From, g)
		s.barred[v] = true
		if _, err := s.run(ctx, q.root()); err != nil {
			return nil, err
		}
		loss := Loss{Station: v}
		if len(g.list) > 0 {
			b := g.list[0]
			loss.Then = &Branch{Stations: b.stations, Channels: b.channels, Delivered: b.arrival.Chance()}
		}
		list = append(list, loss)
	}
	return list, nil
}

// Needs is the time a message takes that can't make its deadline.
type Needs struct {
	Deadline  time.Duration // after the moment asked for, by which 80 % of all tries arrive; whole minutes
	Delivered float64       // chance of delivery by then
	Stations  []int         // the chain
	Channels  []int
}

// Figures of the search for a deadline that can be made.
const (
	needsShare  = 0.8  // of all tries
	needsLate   = 0.01 // more time must bring at least so much
	needsTimes  = 4    // how often the deadline is doubled
	needsAtMost = 7 * 24 * time.Hour
)

// needs looks for a deadline that the message would make, by doubling the one
// asked for; nil when 80 % arrive by that, or more time wouldn't help.
func (q *question) needs(ctx context.Context, f *found) (*Needs, error) {
	if f != nil && (f.arrival.Quantile(needsShare) >= 0 || f.arrival.Late < needsLate) {
		return nil, nil
	}
	r := q.Request
	r.Order, r.Relays = Surest, asked(r.Relays)
	for range needsTimes {
		if r.Deadline *= 2; r.Deadline > needsAtMost {
			break
		}
		longer, err := q.planner.question(r)
		if err != nil {
			return nil, err
		}
		g := &best{order: Surest, k: 1}
		if _, err := longer.search(q.From, g).run(ctx, longer.root()); err != nil {
			return nil, err
		}
		if len(g.list) == 0 {
			continue
		}
		b := g.list[0]
		if slot := b.arrival.Quantile(needsShare); slot >= 0 {
			seconds := longer.scene.clock.unix(slot+1) - r.Start
			return &Needs{
				Deadline: time.Duration((seconds+59)/60) * time.Minute, Delivered: b.arrival.Delivered[slot],
				Stations: slices.Clone(b.stations), Channels: slices.Clone(b.channels),
			}, nil
		}
		if b.arrival.Late < needsLate {
			break
		}
	}
	return nil, nil
}

// asked turns relays with defaults filled in back into what a Request holds.
func asked(relays int) int {
	if relays == 0 {
		return DirectOnly
	}
	return relays
}

package routing

import (
	"context"
	"math"
	"time"

	"farhop/mesh"
)

// Without is the best chain by the deadline when a station is off, in the asked
// order; nil when there is none. The search is that of Route. depart is the Unix
// second from which the origin may send, 0 for the start.
func (p *Planner) Without(ctx context.Context, r Request, station int, depart int64) (*Branch, error) {
	q, err := p.question(r)
	if err != nil {
		return nil, err
	}
	q.leave(depart)
	if station < 0 || station >= len(p.net.Stations) {
		return nil, ErrStation
	}
	if station == r.From || station == r.To {
		return nil, nil
	}
	f, err := q.first(ctx, &best{order: q.Order, k: 1}, station)
	if f == nil {
		return nil, err
	}
	return &Branch{Stations: f.stations, Channels: f.channels, Delivered: f.arrival.Chance()}, nil
}

// first is the chain that the goal finds off a station, −1 for none, or nil.
func (q *question) first(ctx context.Context, g *best, off int) (*found, error) {
	s := q.search(q.From, g)
	if off >= 0 {
		s.barred[off] = true
	}
	return g.only(s.run(ctx, q.root()))
}

// only is the one chain kept, nil where a search found none.
func (g *best) only(_ bool, err error) (*found, error) {
	if err != nil || len(g.list) == 0 {
		return nil, err
	}
	return g.list[0], nil
}

// enough is the surest chain among those with a chance that is worth looking for.
type enough struct {
	best
	share float64
}

func (g *enough) hopeless(p *prospect) bool {
	return p.promise+slack < g.share || p.chance()+slack < g.share || g.best.hopeless(p)
}

// Later is a deadline that a message would make.
type Later struct {
	Deadline           time.Duration // after the start: the slot's end by which the share is reached
	Stations, Channels []int         // the chain that does
	Delivered          float64       // by that deadline
}

// WouldMake finds a deadline by which the best chain delivers with a share of all
// tries, leaving at the start: later than the one asked for and at most the given
// time after the start; nil when there is none. It doubles the deadline until the
// surest chain reaches the share, then halves the gap down to a quarter of an hour,
// so an earlier one than told may exist by at most that much. Each search is cut
// short after some effort: on large nets, with long messages, an earlier deadline
// may be overlooked; one that is told holds.
func (p *Planner) WouldMake(ctx context.Context, r Request, share float64, most time.Duration) (*Later, error) {
	r = r.filled()
	low := r.Deadline
	var l *Later
	for low < most && l == nil {
		high := min(2*low, most)
		var err error
		if l, err = p.reaching(ctx, r, share, high); err != nil {
			return nil, err
		}
		if l == nil {
			low = high
		}
	}
	for l != nil && l.Deadline-low > mesh.StateStep {
		middle := (low + (l.Deadline-low)/2).Truncate(time.Minute)
		better, err := p.reaching(ctx, r, share, middle)
		if err != nil {
			return nil, err
		}
		if better == nil {
			low = middle
		} else {
			l = better
		}
	}
	return l, nil
}

// laterEffort bounds the hops that each search for a later deadline tries, times the
// frames of the message: long messages take long to try.
const laterEffort = 10_000

// reaching is the surest chain by a deadline with the time at which it reaches
// the share, nil if it doesn't.
func (p *Planner) reaching(ctx context.Context, r Request, share float64, deadline time.Duration) (*Later, error) {
	q, f, err := p.cursory(ctx, r, share, deadline)
	if f == nil {
		return nil, err
	}
	minutes := q.scene.reached(f.arrival, share)
	if math.IsNaN(minutes) {
		return nil, nil
	}
	return &Later{
		Deadline: time.Duration(math.Round(minutes*60)) * time.Second,
		Stations: f.stations, Channels: f.channels, Delivered: f.arrival.Delivered[f.arrival.Quantile(share)],
	}, nil
}

// Given is the surest chain by another deadline, leaving at the start, nil when
// there is none. The search is cut short after some effort, as that of WouldMake: on
// large nets, with long messages, a surer chain may be overlooked.
func (p *Planner) Given(ctx context.Context, r Request, deadline time.Duration) (*Branch, error) {
	_, f, err := p.cursory(ctx, r.filled(), 0, deadline)
	if f == nil {
		return nil, err
	}
	return &Branch{Stations: f.stations, Channels: f.channels, Delivered: f.arrival.Chance()}, nil
}

// cursory looks for the surest chain by a deadline among those with a chance of a
// share at least, for a filled request; nil when it finds none.
func (p *Planner) cursory(ctx context.Context, r Request, share float64, deadline time.Duration) (*question, *found, error) {
	r.Deadline, r.Depart = deadline, DepartNow
	if r.Relays == 0 {
		r.Relays = DirectOnly // filled before
	}
	q, err := p.question(r)
	if err != nil {
		return nil, nil, err
	}
	g := &enough{best{order: Surest, k: 1}, share}
	s := q.search(q.From, g)
	s.effort = min(s.effort, 1+laterEffort/r.Frames)
	f, err := g.only(s.run(ctx, s.root(q.root().prefix)))
	return q, f, err
}

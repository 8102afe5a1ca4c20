package routing

import (
	"context"
	"math"
	"sync"

	"farhop/routing/delivery"
)

// AllStations as TableRequest.Station asks for every ordered pair.
const AllStations = -1

// TableRequest asks who can reach whom. From, To, Chains, Confirm, Both and Blind
// of the Request are not used.
type TableRequest struct {
	Request
	Station int  // whose table it is, or AllStations
	Outward bool // of a station's table, only what it sends
}

// Row is the best chain for one ordered pair of stations.
type Row struct {
	From, To               int
	Next                   int // first station after From, −1 when To can't be reached
	Relays                 int
	Delivered              float64
	P50Minutes, P80Minutes float64 // NaN when not reached by the deadline
	BackupNext             int     // first station of the best chain with another one, −1 when there is none
	BackupDelivered        float64
	Stations, Channels     []int
	// The best chain with another first station, nil when there is none.
	BackupStations, BackupChannels []int
	Proven                         bool
}

// Table is the answer to a TableRequest.
type Table struct {
	Station  int
	Rows     []Row // a station's: to and from every other, in order; all: by sender and receiver
	Warnings []Warning
}

// Table finds the best chain for every pair asked for.
func (p *Planner) Table(ctx context.Context, t TableRequest) (*Table, error) {
	r := t.filled()
	r.Confirm, r.Both, r.Blind = false, false, 0
	pairs, err := p.pairs(t)
	if err != nil {
		return nil, err
	}
	if len(pairs) == 0 {
		return &Table{Station: t.Station}, nil
	}
	r.From, r.To = pairs[0].From, pairs[0].To
	if err := r.check(p.net); err != nil {
		return nil, err
	}
	s, err := p.scene(r.terms())
	if err != nil {
		return nil, err
	}
	if err := p.rows(ctx, r, s, pairs); err != nil {
		return nil, err
	}
	q := &question{Request: r, planner: p, scene: s}
	return &Table{Station: t.Station, Rows: pairs, Warnings: q.leftOut()}, nil
}

// pairs lists the ordered pairs of a table.
func (p *Planner) pairs(t TableRequest) ([]Row, error) {
	n, station := len(p.net.Stations), t.Station
	if station != AllStations && (station < 0 || station >= n) {
		return nil, ErrStation
	}
	var list []Row
	for v := range n {
		for u := range n {
			switch {
			case v == u:
			case station == AllStations:
				list = append(list, Row{From: v, To: u})
			case v == station && t.Outward:
				list = append(list, Row{From: v, To: u})
			case v == station:
				list = append(list, Row{From: v, To: u}, Row{From: u, To: v})
			}
		}
	}
	return list, nil
}

// rows fills in the rows, destination by destination, on two goroutines.
func (p *Planner) rows(ctx context.Context, r Request, s *scene, list []Row) error {
	by := make([][]*Row, len(p.net.Stations))
	for i := range list {
		by[list[i].To] = append(by[list[i].To], &list[i])
	}
	roots := make([]*stem, len(p.net.Stations))
	start := s.eval.Start()
	if r.Order != Lightest {
		start = start.Within() // nobody asks for airtime
	}
	for i := range list {
		roots[list[i].From] = &stem{prefix: start}
	}
	work := make(chan int)
	var wait sync.WaitGroup
	errs := make([]error, 2)
	for w := range errs {
		wait.Go(func() {
			room := &arena{}
			for to := range work {
				if errs[w] == nil {
					room.reset()
					errs[w] = p.destination(ctx, r, newBounds(s, origin(by[to]), to, r.Relays+1, 0, room), by[to], roots)
				}
			}
		})
	}
	for to := range by {
		if len(by[to]) > 0 {
			work <- to
		}
	}
	close(work)
	wait.Wait()
	return cmpErr(errs[0], errs[1])
}

// origin is the one station that rows are for messages from, −1 for several.
func origin(rows []*Row) int {
	if len(rows) == 1 {
		return rows[0].From
	}
	return -1
}

// destination fills in the rows of one destination.
func (p *Planner) destination(ctx context.Context, r Request, b *bounds, rows []*Row, roots []*stem) error {
	q := &question{Request: r, planner: p, scene: b.scene, bounds: b}
	q.To = b.to
	q.bounds.spent = p.spent
	for _, row := range rows {
		g := &nexts{order: r.Order}
		complete, err := q.search(row.From, g).run(ctx, roots[row.From])
		if err != nil {
			return err
		}
		row.fill(b.scene, g, complete)
	}
	return nil
}

func (r *Row) fill(s *scene, g *nexts, proven bool) {
	r.Next, r.BackupNext, r.P50Minutes, r.P80Minutes, r.Proven = -1, -1, math.NaN(), math.NaN(), proven
	if f := g.first; f != nil {
		r.Next, r.Relays, r.Delivered = f.stations[1], len(f.hops)-1, f.arrival.Chance()
		r.Stations, r.Channels = f.stations, f.channels
		r.P50Minutes, r.P80Minutes = s.reached(f.arrival, 0.5), s.reached(f.arrival, 0.8)
	}
	if f := g.second; f != nil {
		r.BackupNext, r.BackupDelivered = f.stations[1], f.arrival.Chance()
		r.BackupStations, r.BackupChannels = f.stations, f.channels
	}
}

// reached is the time in minutes by which a share of all tries has arrived, NaN
// when it has not by the deadline.
func (s *scene) reached(r *delivery.Result, level float64) float64 {
	slot := r.Quantile(level)
	if slot < 0 {
		return math.NaN()
	}
	return s.clock.minutes(slot)
}

// nexts keeps the first chain in an order, and the first of those whose next
// station is another.
type nexts struct {
	order         Order
	first, second *found
}

func (g *nexts) offer(f *found) {
	switch {
	case g.first == nil:
		g.first = f
	case g.order.compare(f.key, g.first.key) < 0:
		if f.stations[1] != g.first.stations[1] {
			g.second = g.first
		}
		g.first = f
	case f.stations[1] != g.first.stations[1] && (g.second == nil || g.order.compare(f.key, g.second.key) < 0):
		g.second = f
	}
}

func (g *nexts) hopeless(p *prospect) bool {
	if g.first == nil {
		return false
	}
	last := g.first
	if p.next() != last.stations[1] {
		last = g.second
	}
	return last != nil && g.order.beyond(p, last.key)
}

package routing

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// Every row of a table is the best chain of enumeration, and its backup the best
// with another next hop.
func TestTableEqualsEnumeration(t *testing.T) {
	cases, rows := howMany(t, 40), 0
	for seed := range uint64(cases) {
		r := rand.New(rand.NewPCG(seed, 8))
		stations := 3 + r.IntN(3)
		n, all := randomCase(t, r, stations)
		req := caseRequest(r, stations)
		p := New(n, all)
		if seed%2 == 0 {
			p.spent = 1 << 30
		}
		which, outward := []int{AllStations, r.IntN(stations)}[r.IntN(2)], seed%3 == 0
		table, err := p.Table(context.Background(), TableRequest{Request: req, Station: which, Outward: outward})
		if err != nil {
			t.Fatal(err)
		}
		want := stations * (stations - 1)
		switch {
		case which >= 0 && outward:
			want = stations - 1
		case which >= 0:
			want = 2 * (stations - 1)
		}
		if len(table.Rows) != want {
			t.Fatalf("seed %d: %d rows for %d", seed, len(table.Rows), which)
		}
		for _, row := range table.Rows {
			req.From, req.To, req.Confirm = row.From, row.To, false // a table knows no replies
			o := newOracle(t, n, all, req, p.scenes[req.filled().terms()].share)
			if o.compareRow(t, seed, row) {
				rows++
			}
		}
		if t.Failed() {
			t.FailNow()
		}
	}
	if rows < 3*cases {
		t.Fatalf("only %d rows compared", rows)
	}
}

func (o *oracle) compareRow(t *testing.T, seed uint64, row Row) bool {
	all := o.all()
	if slices.ContainsFunc(all, (*judged).onEdge) {
		return false
	}
	slices.SortFunc(all, func(x, y *judged) int { return o.r.Order.compare(x.key, y.key) })
	next, backup := -1, -1
	if len(all) > 0 {
		next = all[0].stations[1]
		if i := slices.IndexFunc(all, func(j *judged) bool { return j.stations[1] != next }); i >= 0 {
			backup = all[i].stations[1]
		}
	}
	if row.Next != next || row.BackupNext != backup || !row.Proven {
		t.Errorf("seed %d: %d to %d by %d, backup %d; enumeration says %d and %d", seed, row.From, row.To, row.Next, row.BackupNext, next, backup)
		return true
	}
	if len(all) == 0 {
		return row.Stations == nil && math.IsNaN(row.P80Minutes)
	}
	best := all[0]
	p80 := math.NaN()
	if s := best.result.Quantile(0.8); s >= 0 {
		p80 = o.clock.minutes(s)
	}
	if !slices.Equal(row.Stations, best.stations) || math.Abs(row.Delivered-best.result.Chance()) > 1e-9 || row.Relays != best.hops-1 ||
		row.P80Minutes != p80 && !(math.IsNaN(p80) && math.IsNaN(row.P80Minutes)) {
		t.Errorf("seed %d: row %+v, enumeration %v %v", seed, row, best.stations, best.result.Chance())
	}
	return true
}

func TestTableBadRequests(t *testing.T) {
	n := openNet(3)
	p := New(n, links{})
	if _, err := p.Table(context.Background(), TableRequest{Request: Request{Frames: 1}, Station: 3}); !errors.Is(err, ErrStation) {
		t.Errorf("no such station: %v", err)
	}
	if _, err := p.Table(context.Background(), TableRequest{Request: Request{}, Station: 0}); !errors.Is(err, ErrFrames) {
		t.Errorf("no frames: %v", err)
	}
	if table, err := New(openNet(1), links{}).Table(context.Background(), TableRequest{Request: Request{Frames: 1}, Station: 0}); err != nil || len(table.Rows) != 0 {
		t.Errorf("a net of one: %v, %v", table, err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := p.Table(ctx, TableRequest{Request: Request{Frames: 1, Start: noon}, Station: AllStations}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

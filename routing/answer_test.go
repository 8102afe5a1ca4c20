package routing

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/meshtest"
)

// planned is a planner over a net whose links are all stated.
func planned(t testing.TB, n *mesh.Net) *Planner {
	t.Helper()
	links, err := mesh.Learn(context.Background(), n, nil, noon)
	if err != nil {
		t.Fatal(err)
	}
	return New(n, links)
}

// ask routes between two stations of a net named by calls.
func ask(t testing.TB, p *Planner, from, to string, r Request) *Answer {
	t.Helper()
	r.From, r.To = station(t, p.net, from), station(t, p.net, to)
	if r.Start == 0 {
		r.Start = noon
	}
	if r.Frames == 0 {
		r.Frames = p.net.Slots.Frames(130)
	}
	a, err := p.Route(context.Background(), r)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func station(t testing.TB, n *mesh.Net, call string) int {
	t.Helper()
	i, ok := n.Find(call)
	if !ok {
		t.Fatalf("no station %s", call)
	}
	return i
}

// calls writes a chain as its call signs.
func calls(n *mesh.Net, stations []int) string {
	s := ""
	for _, v := range stations {
		s += n.Stations[v].Call + " "
	}
	return s
}

// Two hops of 0.83 / 0.8, 130 characters, 40 s slots with a tenth of them busy,
// one hour: figures agreed beforehand, worked out by others.
func TestRouteReferenceFigures(t *testing.T) {
	n := meshtest.Net(t, "A-B:0.83/0.8 B-D:0.83/0.8")
	n.Slots.Busy = 0.1
	for i := range n.Stations {
		n.Stations[i].Supply = &mesh.Supply{BatteryWh: 128, TransmitW: 65}
	}
	a := ask(t, planned(t, n), "A", "D", Request{Deadline: time.Hour})
	if len(a.Chains) != 1 {
		t.Fatalf("%d chains", len(a.Chains))
	}
	c := a.Chains[0]
	for _, f := range []struct {
		name            string
		got, want, slop float64
	}{
		{"frames", float64(a.Request.Frames), 9, 0},
		{"delivered", c.Delivered, 0.943, 0.0005},
		{"mean", c.MeanMinutes, 24.9, 0.05},
		{"50 %", c.P50Minutes, 24.67, 0.005},
		{"80 %", c.P80Minutes, 30.67, 0.005},
		{"90 %", c.P90Minutes, 35.33, 0.005},
		{"confirmed", c.Confirmed, 0.93, 0.005},
		{"airtime", c.AirtimeSeconds, 925, 0.5},
		{"energy", c.EnergyWh, 16.7, 0.05},
	} {
		if !(math.Abs(f.got-f.want) <= f.slop) {
			t.Errorf("%s: %v, want %v", f.name, f.got, f.want)
		}
	}
	if !math.IsNaN(c.P95Minutes) {
		t.Errorf("95 %% time %v, which is not reached", c.P95Minutes)
	}
	if h := c.Hops[0]; h.Edge.Decode != 0.83 || h.Reverse.Decode != 0.8 || h.GiveUp <= noon || h.Then != nil {
		t.Errorf("first hop %+v", h)
	}
	if !slices.Equal(a.Shared, []int{1}) || a.Backup != nil {
		t.Errorf("all chains share %v, backup %v", a.Shared, a.Backup)
	}
}

func TestRouteSumsAgree(t *testing.T) {
	n := meshtest.Net(t, "A-B:0.9/0.8 B-D:0.83/0.7 A-C:0.6 C-D:0.9 A-D:0.2/0.3 B-C:0.9")
	n.Stations[1].Supply = &mesh.Supply{TransmitW: 65}
	a := ask(t, planned(t, n), "A", "D", Request{Chains: 5})
	for _, c := range a.Chains {
		air, last := 0.0, 0.0
		for i, s := range c.StationSeconds {
			air += s
			if wh := c.StationWh[i]; c.Stations[i] == 1 && math.Abs(wh-s*65/3600) > 1e-12 || c.Stations[i] != 1 && !math.IsNaN(wh) {
				t.Errorf("%v: station %d uses %v Wh", c.Stations, c.Stations[i], wh)
			}
		}
		for _, x := range c.Arrival {
			if x < last-1e-15 {
				t.Errorf("%v: the cumulative falls", c.Stations)
			}
			last = x
		}
		if math.Abs(air-c.AirtimeSeconds) > 1e-9 || math.Abs(c.Frames*34-air) > 1e-9 || last != c.Delivered || len(c.Arrival) != a.Slots {
			t.Errorf("%v: airtime %v of %v, delivered %v of %v", c.Stations, air, c.AirtimeSeconds, last, c.Delivered)
		}
		if !math.IsNaN(c.EnergyWh) {
			t.Errorf("%v: energy %v though a supply is not stated", c.Stations, c.EnergyWh)
		}
	}
	if a.Best != 5 || len(a.Chains) != 5 {
		t.Errorf("%d chains of %d", a.Best, len(a.Chains))
	}
}

// When a hop is given up, the message goes on by the best way from its holder that
// avoids the hop and every station that had it before.
func TestRouteThen(t *testing.T) {
	n := meshtest.Net(t, "A-B:0.9 B-D:0.9 B-C:0.9 C-D:0.9 A-C:0.5")
	c := ask(t, planned(t, n), "A", "D", Request{}).Chains[0]
	if got := calls(n, c.Stations); got != "A B D " {
		t.Fatalf("best chain %s", got)
	}
	for i, want := range []string{"A C D ", "B C D "} {
		h := c.Hops[i]
		if h.Then == nil || calls(n, h.Then.Stations) != want {
			t.Errorf("hop %d: then %+v, want %s", i, h.Then, want)
			continue
		}
		o := newOracle(t, n, planned(t, n).links, Request{Frames: 9, Start: noon, Deadline: DefaultDeadline}, 0)
		slot := int((h.GiveUp - noon) / 40)
		r := o.eval.ChainFrom(o.eval.StartAt(slot), o.leg(h.Then.Stations[0], h.Then.Stations[1], 0), o.leg(h.Then.Stations[1], h.Then.Stations[2], 0))
		if math.Abs(r.Chance()-h.Then.Delivered) > 1e-12 {
			t.Errorf("hop %d: then delivers %v, evaluated %v", i, h.Then.Delivered, r.Chance())
		}
	}
}

func TestRouteTies(t *testing.T) {
	// B, C and E do equally well: call signs decide, then channels in plan order.
	n := meshtest.Net(t, "A-B:0.9 B-D:0.9 A-E:0.9 E-D:0.9 A-C:0.9@night C-D:0.9@night A-C:0.9@day C-D:0.9@day")
	a := ask(t, planned(t, n), "A", "D", Request{Chains: 4})
	var got []string
	for _, c := range a.Chains {
		s := calls(n, c.Stations)
		for _, h := range c.Hops {
			s += n.Channels[h.Channel].Name + " "
		}
		got = append(got, s)
	}
	want := []string{"A B D day day ", "A C D day day ", "A C D day night ", "A C D night day "}
	if !slices.Equal(got[:4], want) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
}

func TestRouteBadRequests(t *testing.T) {
	p := planned(t, meshtest.Net(t, "A-B:0.9 B-C:0.9"))
	good := Request{From: 0, To: 2, Frames: 3, Start: noon}
	for _, c := range []struct {
		name string
		bend func(*Request)
		want error
	}{
		{"good", func(*Request) {}, nil},
		{"no such origin", func(r *Request) { r.From = -1 }, ErrStation},
		{"no such destination", func(r *Request) { r.To = 3 }, ErrStation},
		{"same", func(r *Request) { r.To = 0 }, ErrSame},
		{"no frames", func(r *Request) { r.Frames = 0 }, ErrFrames},
		{"deadline before start", func(r *Request) { r.Deadline = -time.Second }, ErrDeadline},
		{"too many relays", func(r *Request) { r.Relays = 99 }, ErrRelays},
		{"fewer than no chains", func(r *Request) { r.Chains = -1 }, ErrCount},
	} {
		r := good
		c.bend(&r)
		if _, err := p.Route(context.Background(), r); !errors.Is(err, c.want) {
			t.Errorf("%s: error %v, want %v", c.name, err, c.want)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := p.Route(ctx, good); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

func TestRouteEmptyAnswers(t *testing.T) {
	p := planned(t, meshtest.Net(t, "A-B:0.9 C-D:0.9 B-C:-/0.9"))
	if a := ask(t, p, "A", "D", Request{}); len(a.Chains) != 0 || !a.Proven || a.AnyRelay != nil || a.Shared != nil {
		t.Errorf("an answer over a link that is not there: %+v", a)
	}
	a := ask(t, p, "A", "B", Request{Deadline: 30 * time.Second})
	if len(a.Chains) != 0 || len(a.Warnings) != 1 || a.Warnings[0].Code != WarnNoSlots {
		t.Errorf("no slot ends by the deadline: %+v", a)
	}
	if a := ask(t, p, "A", "B", Request{Deadline: 5 * time.Minute}); len(a.Chains) != 0 {
		t.Errorf("9 frames in 7 slots: %+v", a.Chains)
	}
	if a := ask(t, p, "D", "A", Request{Relays: 1}); len(a.Chains) != 0 {
		t.Errorf("two relays where one is allowed: %+v", a.Chains)
	}
	if a := ask(t, p, "D", "A", Request{Relays: 2}); len(a.Chains) != 1 {
		t.Errorf("%d chains with two relays", len(a.Chains))
	}
	if a := ask(t, p, "A", "B", Request{Relays: DirectOnly}); len(a.Chains) != 1 {
		t.Errorf("%d direct chains", len(a.Chains))
	}
}

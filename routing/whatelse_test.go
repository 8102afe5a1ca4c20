package routing

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"
	"time"

	"farhop/mesh/meshtest"
)

// Holds are the exact curves of the chain's beginnings, and what is keyed adds up
// to the airtime.
func TestExpectAgreesWithRoute(t *testing.T) {
	n := meshtest.Net(t, "A-B:0.83/0.8 B-C:-12dB±3/-13dB±3 C-D:0.9/0.6")
	n.Slots.Busy = 0.1
	p := planned(t, n)
	r := Request{Deadline: 6 * time.Hour}
	a := ask(t, p, "A", "D", r)
	c := &a.Chains[0]
	list, err := p.Expect(a.Request, c.Stations, []int{0, 0, 0}, 0)
	if err != nil {
		t.Fatal(err)
	}
	if len(list) != len(c.Arrival) {
		t.Fatalf("%d slots, the chain has %d", len(list), len(c.Arrival))
	}
	keyed := make([]float64, len(c.Stations))
	for s := range list {
		e := &list[s]
		if math.Abs(e.Delivered()-c.Arrival[s]) > 1e-12 || e.Unix != noon+int64(40*s) {
			t.Fatalf("slot %d at %d: delivered %v, the chain says %v", s, e.Unix, e.Delivered(), c.Arrival[s])
		}
		for i, x := range e.Holds[1:] {
			if x > e.Holds[i]+1e-9 {
				t.Fatalf("slot %d: station %d holds it with %v, the one before with %v", s, i+1, x, e.Holds[i])
			}
		}
		for _, k := range e.Keys {
			keyed[k.Station] += k.Chance
		}
	}
	for i, seconds := range c.StationSeconds {
		if want := seconds / n.Slots.Keyed.Seconds(); math.Abs(keyed[i]-want) > 0.02*want+0.05 {
			t.Errorf("station %d keys %.3f frames slot by slot, %.3f in all", i, keyed[i], want)
		}
	}
	if k := list[0].Keys; len(k) != 1 || k[0].Station != 0 || k[0].Act != Sends || math.Abs(k[0].Chance-0.9) > 1e-9 {
		t.Errorf("first slot: %+v, want the origin sending unless the slot is busy", k)
	}
	if last := list[len(list)-1]; last.State != Finished || last.Turn != 2 {
		t.Errorf("last slot: %+v", last)
	}
}

func TestExpectTellsClosedSlots(t *testing.T) {
	n := meshtest.Net(t, "A-B:0.9")
	n.Channels[0].Windows = windows(t, "12:00-12:02", "12:20-13:00")
	if issues := n.Prepare(); len(issues) > 0 {
		t.Fatal(issues)
	}
	p := planned(t, n)
	a := ask(t, p, "A", "B", Request{Frames: 9, Deadline: time.Hour})
	list, err := p.Expect(a.Request, a.Chains[0].Stations, []int{0}, 0)
	if err != nil {
		t.Fatal(err)
	}
	for s, e := range list {
		if closed := s >= 3 && s < 30; (e.State == Closed) != closed || closed && len(e.Keys) > 0 {
			t.Errorf("slot %d: %+v", s, e)
		}
	}
	later, err := p.Expect(a.Request, a.Chains[0].Stations, []int{0}, noon+1200)
	if err != nil || len(later[0].Keys) != 0 || len(later[30].Keys) != 1 {
		t.Errorf("leaving at 12:20: %v, %+v", err, later[30])
	}
	if _, err := p.Expect(a.Request, []int{1, 0}, []int{5}, 0); !errors.Is(err, ErrChain) {
		t.Errorf("a channel that isn't there: %v", err)
	}
}

func TestExpectBlind(t *testing.T) {
	p := planned(t, meshtest.Net(t, "A-B:0.9/-"))
	a := ask(t, p, "A", "B", Request{Frames: 2, Blind: 3})
	list, err := p.Expect(a.Request, a.Chains[0].Stations, []int{0}, 0)
	if err != nil {
		t.Fatal(err)
	}
	for s, e := range list {
		if sends := len(e.Keys) == 1 && e.Keys[0].Chance == 1; sends != (s < 6) {
			t.Errorf("slot %d: %+v, want 3 × 2 frames", s, e.Keys)
		}
	}
}

// Without a station is what a search on the net without it finds.
func TestWithoutAgreesWithASmallerNet(t *testing.T) {
	n := meshtest.Net(t, "A-B:0.9 B-D:0.9 A-C:0.8 C-D:0.7 B-C:0.6")
	p := planned(t, n)
	ctx := context.Background()
	for _, off := range []string{"B", "C"} {
		r := Request{From: station(t, n, "A"), To: station(t, n, "D"), Frames: 6, Start: noon, Deadline: time.Hour}
		got, err := p.Without(ctx, r, station(t, n, off), 0)
		if err != nil {
			t.Fatal(err)
		}
		small := planned(t, n.Without(station(t, n, off)))
		want := ask(t, small, "A", "D", Request{Frames: 6, Deadline: time.Hour}).Chains[0]
		if calls(n, got.Stations) != calls(small.net, want.Stations) || got.Delivered != want.Delivered {
			t.Errorf("without %s: %+v, the smaller net says %v %v", off, got, want.Stations, want.Delivered)
		}
	}
	line := planned(t, meshtest.Net(t, "A-B:0.9 B-C:0.9"))
	if b, err := line.Without(ctx, Request{From: 0, To: 2, Frames: 3, Start: noon}, 1, 0); b != nil || err != nil {
		t.Errorf("without the only relay: %+v, %v", b, err)
	}
	if _, err := line.Without(ctx, Request{From: 0, To: 2, Frames: 3, Start: noon}, 9, 0); !errors.Is(err, ErrStation) {
		t.Errorf("a station that isn't there: %v", err)
	}
}

// The deadline told is one by which the share is reached, and a quarter of an hour
// earlier it isn't.
func TestWouldMake(t *testing.T) {
	ctx := context.Background()
	for _, c := range []struct {
		net     string
		windows []string
		ask     time.Duration
		most    time.Duration
		none    bool
	}{
		{net: "A-B:0.8 B-C:0.8", ask: 8 * time.Minute, most: 48 * time.Hour},
		{net: "A-B:0.8", windows: []string{"05:00-06:00"}, ask: 4 * time.Hour, most: 48 * time.Hour},
		{net: "A-B:0.8", windows: []string{"05:00-06:00"}, ask: 4 * time.Hour, most: 12 * time.Hour, none: true},
		{net: "A-B:0.02", ask: time.Hour, most: 48 * time.Hour, none: true},
		{net: "A-B:0.8", ask: 48 * time.Hour, most: 48 * time.Hour, none: true},
		{net: "A B", ask: time.Hour, most: 48 * time.Hour, none: true},
	} {
		n := meshtest.Net(t, c.net)
		if c.windows != nil {
			n.Channels[0].Windows = windows(t, c.windows...)
			if issues := n.Prepare(); len(issues) > 0 {
				t.Fatal(issues)
			}
		}
		p := planned(t, n)
		r := Request{From: 0, To: len(n.Stations) - 1, Frames: 9, Start: noon, Deadline: c.ask}
		l, err := p.WouldMake(ctx, r, 0.8, c.most)
		if err != nil {
			t.Fatal(err)
		}
		if (l == nil) != c.none {
			t.Fatalf("%s by %v: %+v", c.net, c.ask, l)
		}
		if c.none {
			continue
		}
		chance := func(d time.Duration) float64 {
			r.Deadline = d
			a, err := p.Route(ctx, r)
			if err != nil {
				t.Fatal(err)
			}
			if len(a.Chains) == 0 {
				return 0
			}
			return a.Chains[0].Delivered
		}
		if got := chance(l.Deadline); got < 0.8 || math.Abs(got-l.Delivered) > 1e-9 {
			t.Errorf("%s by %v: %v, told %v", c.net, l.Deadline, got, l.Delivered)
		}
		if earlier := chance(l.Deadline - 15*time.Minute); l.Deadline-15*time.Minute > c.ask && earlier >= 0.8 {
			t.Errorf("%s: %v would do, told %v", c.net, l.Deadline-15*time.Minute, l.Deadline)
		}
		if !slices.Equal(l.Stations, []int{0, 1, 2}[:len(n.Stations)]) {
			t.Errorf("%s: chain %v", c.net, l.Stations)
		}
	}
	p := planned(t, meshtest.Net(t, "A-B:0.5"))
	if _, err := p.WouldMake(ctx, Request{From: 0, To: 0, Frames: 1, Start: noon}, 0.8, 48*time.Hour); !errors.Is(err, ErrSame) {
		t.Errorf("to itself: %v", err)
	}
}

// Given a longer deadline, the surest chain is that of Route by it.
func TestGivenIsRouteByThen(t *testing.T) {
	p := planned(t, meshtest.Net(t, "A-B:0.7 B-C:0.6 A-C:0.2 C-D:0.5/0.3 B-D:0.4"))
	r := Request{From: 0, To: 3, Frames: 6, Start: noon, Deadline: 4 * time.Minute}
	a, err := p.Route(context.Background(), r)
	if err != nil || len(a.Chains) > 0 {
		t.Fatalf("%v: %d chains in 4 minutes", err, len(a.Chains))
	}
	b, err := p.Given(context.Background(), r, 5*time.Hour)
	if err != nil || b == nil {
		t.Fatalf("%v: nothing in 5 hours", err)
	}
	r.Deadline = 5 * time.Hour
	if a, err = p.Route(context.Background(), r); err != nil {
		t.Fatal(err)
	}
	if best := a.Chains[0]; !slices.Equal(b.Stations, best.Stations) || math.Abs(b.Delivered-best.Delivered) > 1e-12 {
		t.Errorf("given 5 hours %v %.6f, by then %v %.6f", b.Stations, b.Delivered, best.Stations, best.Delivered)
	}
	r.Relays = DirectOnly
	if b, err = p.Given(context.Background(), r, 5*time.Hour); err != nil || b != nil {
		t.Errorf("%v: %+v without a link", err, b)
	}
}

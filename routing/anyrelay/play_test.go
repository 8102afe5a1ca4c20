package anyrelay

import (
	"context"
	"errors"
	"math"
	"runtime"
	"slices"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
)

func windows(tb testing.TB, list ...string) mesh.Windows {
	w, err := mesh.ParseWindows(list)
	if err != nil {
		tb.Fatal(err)
	}
	return w
}

const net4 = "A-D:0.3/0.5 A-B:0.8 B-D:0.9/0.8 A-C:0.9 C-D:0.8 B-C:0.4/0.6 A-E:0.9 E-D:0.5 E-B:0.2 E-C:0.8/0.3"

// TestPlayedAgainstExact plays what can be worked out.
func TestPlayedAgainstExact(t *testing.T) {
	for i, c := range []asked{
		{name: "three", net: net4, orders: "A:D,B,C B:D C:D,B", frames: 4, deadline: time.Hour},
		{name: "busy, windows for all, short of time", net: net4, orders: "A:D,B,C B:D C:D,B", frames: 7, deadline: 50 * time.Minute, change: func(n *mesh.Net) {
			n.Slots.Busy, n.Slots.Rounds = 0.2, 3
			n.Channels[0].Windows = windows(t, "18:00-18:10", "18:20-18:55")
		}},
		{name: "two acknowledgment frames", net: net4, orders: "A:D,B,C,E B:D C:D,B E:D,C", frames: 3, deadline: time.Hour, change: func(n *mesh.Net) {
			n.Slots.Ack, n.Slots.Turnaround, n.Slots.Rounds = 2, 0, 2
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := c.plan(t)
			x := expect(t, p, Options{})
			if !x.Exact {
				t.Fatal("not exact")
			}
			m := expect(t, p, Options{Played: true, Runs: 60_000, Seed: uint64(i)})
			for _, f := range []struct {
				what   string
				played Estimate
				exact  float64
			}{
				{"delivered", m.Delivered, x.Delivered.Value},
				{"frames", m.Frames, x.Frames.Value},
				{"duplicates", m.Duplicates, x.Duplicates.Value},
				{"needless", m.Needless, x.Needless.Value},
			} {
				agrees(t, f.what, f.played, f.exact, m.Runs, 4)
			}
			for slot := range x.Arrival {
				if math.Abs(m.Arrival[slot]-x.Arrival[slot]) > 2.7/math.Sqrt(float64(m.Runs)) { // once in a million
					t.Fatalf("by slot %d: played %.4f, exact %.4f", slot, m.Arrival[slot], x.Arrival[slot])
				}
			}
			if x.Delivered.Value < m.Low-0.002 || x.Delivered.Value > m.High+0.002 {
				t.Errorf("interval %v to %v far off %v", m.Low, m.High, x.Delivered.Value)
			}
		})
	}
}

// falling are estimated links, with a net-wide deviation, that fall by the hour.
type falling struct{ Source }

func (f falling) Edge(from, to, channel int, unix int64) (mesh.Edge, bool) {
	e, ok := f.Source.Edge(from, to, channel, unix)
	if !ok {
		return e, false
	}
	e.Fixed, e.Known = false, true
	e.Direction = link.Direction{Kind: link.Gaussian, Margin: 6*e.Direction.Decode - 0.3*float64(unix-evening)/900, SD: 5, Common: 3, Noise: 2}
	return e, true
}

// TestPlayedAgainstStage plays the general case twice, by two programs.
func TestPlayedAgainstStage(t *testing.T) {
	for i, c := range []struct {
		asked
		estimated bool
	}{
		{asked: asked{name: "Gaussian", net: "A-D:-18dB±4 A-B:-13dB±4/-14dB±5 B-D:-13dB±3 A-C:-12dB±6 C-D:-14dB±4 B-C:-17dB±5", orders: "A:D,B,C B:D C:D,B", frames: 5, deadline: time.Hour}},
		{asked: asked{name: "hours of stations, busy", net: net4, orders: "A:D,B,C,E B:D C:D,B E:D,C", frames: 5, deadline: 3 * time.Hour, change: func(n *mesh.Net) {
			n.Slots.Busy, n.Slots.Rounds = 0.15, 4
			n.Stations[1].OnAir = windows(t, "18:05-18:12", "19:00-24:00")
			n.Stations[3].OnAir = windows(t, "18:10-18:20", "19:10-21:00")
			n.Channels[0].Windows = windows(t, "18:02-18:30", "19:05-24:00")
		}}},
		{asked: asked{name: "estimated, net-wide", net: net4, orders: "A:D,B,C B:D C:D,B", frames: 6, deadline: 90 * time.Minute}, estimated: true},
		{asked: asked{name: "dense", net: net4, orders: "A:D,B,C,E B:D C:D,B E:D,C", frames: 9, deadline: time.Hour, change: func(n *mesh.Net) {
			n.Slots.Ack, n.Slots.Turnaround = 0, 0
		}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := c.plan(t)
			if c.estimated {
				p.Links = falling{p.Links}
			}
			const runs = 5_000
			s := manyTimes(p, int(p.Deadline/p.Net.Slots.Length), runs, uint64(i))
			m := expect(t, p, Options{Played: true, Runs: 60_000})
			both := math.Sqrt(1 + 60_000.0/runs) // the other's luck counts as well
			agrees(t, "delivered", m.Delivered, s.delivered, m.Runs, 4*both)
			agrees(t, "frames", m.Frames, s.frames, m.Runs, 4*both)
			agrees(t, "duplicates", m.Duplicates, s.duplicates, m.Runs, 4*both)
			agrees(t, "needless", m.Needless, s.needless, m.Runs, 4*both)
			so := 0.0
			for slot, share := range m.Arrival {
				if so += s.arrivals[slot]; math.Abs(share-so) > 2.9/math.Sqrt(runs) {
					t.Fatalf("by slot %d: played %.4f, by the other %.4f", slot, share, so)
				}
			}
		})
	}
}

// What doesn't suit the exact way is played, and says so.
func TestExactOrPlayed(t *testing.T) {
	for _, c := range []struct {
		asked
		exact bool
	}{
		{asked{name: "sure", net: net4, orders: "A:D,B,C B:D C:D,B", frames: 7}, true},
		{asked{name: "Gaussian", net: "A-D:-12dB±3", orders: "A:D", frames: 7}, false},
		{asked{name: "different hours", net: net4, orders: "A:D,B,C B:D C:D,B", frames: 7, change: func(n *mesh.Net) {
			n.Stations[1].OnAir = windows(t, "18:00-20:00")
		}}, false},
		{asked{name: "too much", net: net4, orders: "A:D,B,C,E B:D C:D,B E:D,B,C", frames: 60}, false},
	} {
		c.deadline = 2 * time.Hour
		r := expect(t, c.plan(t), Options{Runs: 500})
		if r.Exact != c.exact || r.Exact == (r.Runs > 0) || r.Exact == (r.Frames.StandardError > 0) {
			t.Errorf("%s: exact %v, %d runs, ± %v", c.name, r.Exact, r.Runs, r.Frames.StandardError)
		}
		if !(r.Low <= r.Delivered.Value && r.Delivered.Value <= r.High) {
			t.Errorf("%s: %v outside %v to %v", c.name, r.Delivered.Value, r.Low, r.High)
		}
	}
}

func TestSeedDecides(t *testing.T) {
	p := asked{net: "A-D:-18dB±4 A-B:-13dB±4 B-D:-13dB±3", orders: "A:D,B B:D", frames: 5, deadline: time.Hour}.plan(t)
	o := Options{Runs: 3_000, Seed: 9}
	first := expect(t, p, o)
	before := runtime.GOMAXPROCS(1)
	again := expect(t, p, o)
	runtime.GOMAXPROCS(before)
	if first.Delivered != again.Delivered || first.Frames != again.Frames || !slices.Equal(first.Arrival, again.Arrival) {
		t.Error("the number of processors changes the counts")
	}
	o.Seed++
	if other := expect(t, p, o); slices.Equal(first.Arrival, other.Arrival) {
		t.Error("another seed gives the same counts")
	}
}

// A station that is never on the air keeps the message waiting for good, and the
// play ends.
func TestNeverOpen(t *testing.T) {
	p := asked{net: "A-D:0.9 A-B:0.9 B-D:0.9", orders: "A:D,B B:D", frames: 3, deadline: time.Hour, change: func(n *mesh.Net) {
		n.Channels[0].Windows = windows(t, "03:00-03:10")
		n.Stations[0].OnAir = windows(t, "05:00-06:00")
	}}.plan(t)
	r := expect(t, p, Options{Runs: 300})
	if r.Delivered.Value != 0 || r.Frames.Value != 0 || !math.IsNaN(r.Minutes(0.5)) {
		t.Errorf("%+v", r)
	}
}

func TestRefused(t *testing.T) {
	good := asked{net: "A-D:0.9 A-B:0.9 B-D:0.9", orders: "A:D,B B:D", frames: 3, deadline: time.Hour}.plan(t)
	for _, c := range []struct {
		change func(*Plan)
		want   error
	}{
		{func(p *Plan) { p.Links = nil }, ErrNet},
		{func(p *Plan) { p.Frames = 0 }, ErrFrames},
		{func(p *Plan) { p.Deadline = -1 }, ErrDeadline},
		{func(p *Plan) { p.Orders = nil }, ErrOrders},
		{func(p *Plan) { p.Orders = p.Orders[:1] }, ErrOrders},
		{func(p *Plan) { p.To = p.Orders[1].Station }, ErrOrders},
		{func(p *Plan) { p.Orders = append(slices.Clone(p.Orders), p.Orders[1]) }, ErrOrders},
		{func(p *Plan) { p.Orders = slices.Clone(p.Orders); p.Orders[1].Cost = 1e6 }, ErrOrders},
		{func(p *Plan) { p.Orders = slices.Clone(p.Orders); p.Orders[1].Station = 99 }, ErrOrders},
	} {
		p := good
		c.change(&p)
		if _, err := Expect(context.Background(), p, Options{}); !errors.Is(err, c.want) {
			t.Errorf("error %v, want %v", err, c.want)
		}
	}
	if _, err := Expect(context.Background(), good, Options{Runs: -1}); !errors.Is(err, ErrRuns) {
		t.Errorf("error %v", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Expect(ctx, good, Options{Played: true}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

func BenchmarkExpect(b *testing.B) {
	c := asked{net: net4, orders: "A:D,B,C B:D C:D,B", frames: 7, deadline: time.Hour}
	for _, o := range []Options{{}, {Played: true, Runs: 20_000}} {
		name := "7frames/3relays/exact"
		if o.Played {
			name = "7frames/3relays/20000runs"
		}
		b.Run(name, func(b *testing.B) {
			p := c.plan(b)
			b.ReportAllocs()
			for b.Loop() {
				expect(b, p, o)
			}
		})
	}
}

package anyrelay

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"farhop/mesh"
)

func rounds(n int) func(*mesh.Net) {
	return func(net *mesh.Net) { net.Slots.Rounds = n }
}

// equal compares an exact result with the sum over every way.
func equal(t *testing.T, r *Result, w *sums) {
	t.Helper()
	if !r.Exact || math.Abs(w.weight-1) > 1e-9 {
		t.Fatalf("exact %v, ways sum up to %v", r.Exact, w.weight)
	}
	slack := 1e-9 + 50*r.Lost
	for _, f := range []struct {
		what      string
		got, want float64
	}{
		{"delivered", r.Delivered.Value, w.delivered},
		{"frames", r.Frames.Value, w.frames},
		{"duplicates", r.Duplicates.Value, w.duplicates},
		{"needless", r.Needless.Value, w.needless},
	} {
		if math.Abs(f.got-f.want) > slack {
			t.Errorf("%s %.12f, over every way %.12f", f.what, f.got, f.want)
		}
	}
	so := 0.0
	for slot, share := range r.Arrival {
		if so += w.arrivals[slot]; math.Abs(share-so) > slack {
			t.Fatalf("by slot %d: %.12f, over every way %.12f", slot, share, so)
		}
	}
}

// TestEveryWay holds the exact figures against every way the frames of a small net
// can fare, which is to say against every set of stations that can have it.
func TestEveryWay(t *testing.T) {
	for _, c := range []asked{
		{name: "one hop", net: "A-D:0.7/0.6", orders: "A:D", frames: 2, change: rounds(3)},
		{name: "two relays, each once", net: "A-D:0.3 A-B:0.8 B-D:0.9 A-C:0.7 C-D:0.6/0.5 B-C:0.4", orders: "A:D,B,C B:D C:D,B", frames: 1, change: rounds(1)},
		{name: "they hear nobody", net: "A-D:0.3/0 A-B:0.8/0 B-D:0.9/0 A-C:0.7/0 C-D:0.6/0", orders: "A:D,B,C B:D C:D", frames: 1, change: rounds(1)},
		{name: "a relay, two frames", net: "A-B:0.8/0.5 B-D:0.6/0.7", orders: "A:B B:D", frames: 2, change: rounds(2)},
		{name: "no acknowledgment frames", net: "A-B:0.8/0.5 B-D:0.6/0.7 A-D:0.2/0.9", orders: "A:D,B B:D", frames: 1, change: func(n *mesh.Net) {
			n.Slots.Ack, n.Slots.Turnaround, n.Slots.Rounds = 0, 0, 2
		}},
		{name: "in a row", net: "A-B:0.8 B-C:0.7/0.4 C-D:0.6 A-C:0.2/0.3", orders: "A:C,B C:D B:C", frames: 1, change: rounds(1)},
		{name: "turns close together", net: "A-B:0.8/0.3 A-C:0.9/0.5 B-D:0.5 C-D:0.6 C-B:0.5/0.7", orders: "A:B,C B:D C:D,B", frames: 2, change: func(n *mesh.Net) {
			n.Slots.Ack, n.Slots.Turnaround, n.Slots.Rounds = 0, 0, 1
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.deadline = time.Hour
			p := c.plan(t)
			equal(t, expect(t, p, Options{}), everyWay(p, 90))
		})
	}
}

// randomAsked draws a small net with orders.
func randomAsked(r *rand.Rand, relays int) asked {
	calls := strings.Split("BCE", "")[:relays]
	chance := func() string { return fmt.Sprintf("%.1f", float64(r.IntN(11))/10) }
	a := asked{frames: 1, deadline: time.Hour, net: "A D ", orders: "A:D"}
	a.net += fmt.Sprintf("A-D:%s/%s ", chance(), chance())
	for i, b := range calls {
		a.net += fmt.Sprintf("A-%s:%s/%s %s-D:%s/%s ", b, chance(), chance(), b, chance(), chance())
		for _, before := range calls[:i] {
			a.net += fmt.Sprintf("%s-%s:%s/%s ", before, b, chance(), chance())
		}
		a.orders += "," + b
	}
	for i, b := range calls {
		a.orders += " " + b + ":D"
		for _, before := range calls[:i] {
			if r.IntN(2) == 0 {
				a.orders += "," + before
			}
		}
	}
	return a
}

func TestEveryWayAtRandom(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 8))
	for i := range 60 {
		a := randomAsked(r, 1+i%2)
		ack, turnaround, times := r.IntN(2), r.IntN(2), 1
		if i%2 == 0 {
			times = 1 + r.IntN(2)
			a.frames = 3 - times
		}
		a.change = func(n *mesh.Net) { n.Slots.Ack, n.Slots.Turnaround, n.Slots.Rounds = ack, turnaround, times }
		t.Run(fmt.Sprintf("%d %s", i, a.net), func(t *testing.T) {
			p := a.plan(t)
			equal(t, expect(t, p, Options{}), everyWay(p, 90))
		})
	}
}

// A message over a single hop is there if every frame decodes in one of the
// sendings: (1 − (1 − p)ᴿ)ᶠ, whatever is acknowledged.
func TestOneHop(t *testing.T) {
	for _, p := range []float64{0.2, 0.5, 0.83, 1} {
		for _, f := range []int{1, 4, 9} {
			c := asked{net: fmt.Sprintf("A-D:%v/0.6", p), orders: "A:D", frames: f, deadline: 4 * time.Hour}
			want := math.Pow(1-math.Pow(1-p, 6), float64(f))
			if got := expect(t, c.plan(t), Options{}).Delivered.Value; math.Abs(got-want) > 1e-5 {
				t.Errorf("p %v, %d frames: %.9f, want %.9f", p, f, got, want)
			}
		}
	}
}

// By hand: B and C have the frame for sure and cannot hear each other, so C is a
// duplicate whenever B sent on, and both are silent after D's acknowledgment.
func TestByHand(t *testing.T) {
	c := asked{net: "A-B:1/1 A-C:1/1 B-D:1/1 C-D:1/1", orders: "A:B,C B:D C:D", frames: 3, deadline: time.Hour}
	r := expect(t, c.plan(t), Options{})
	// A keys slots 0–2, B slots 6–8 after three slots, D acknowledges in slot 12. C's turn is
	// slot 10: it has heard nobody and keys 10–12; D, keying in slot 12, misses its last
	// frame, acknowledges it in slot 16.
	if !r.Exact || r.Duplicates.Value != 1 || r.Needless.Value != 1 || r.Frames.Value != 3+3+1+3+1 {
		t.Errorf("%+v", r)
	}
	if r.Minutes(1) != 6 { // the end of slot 8
		t.Errorf("there after %v minutes", r.Minutes(1))
	}
}

package routing

import (
	"math"
	"testing"
	"time"

	"farhop/mesh/meshtest"
)

func TestWithoutRelays(t *testing.T) {
	n := meshtest.Net(t, "A-B:0.95 B-C:0.9 C-D:0.9 B-E:0.7 E-D:0.7")
	p := planned(t, n)
	a := ask(t, p, "A", "D", Request{})
	if got := calls(n, a.Chains[0].Stations); got != "A B C D " || len(a.Without) != 2 {
		t.Fatalf("best %s, without %+v", got, a.Without)
	}
	if w := a.Without[0]; w.Station != station(t, n, "B") || w.Then != nil {
		t.Errorf("without B: %+v", w)
	}
	w := a.Without[1]
	if w.Station != station(t, n, "C") || w.Then == nil || calls(n, w.Then.Stations) != "A B E D " || w.Then.Delivered != a.Chains[1].Delivered {
		t.Errorf("without C: %+v", w.Then)
	}
}

// A message that is too long for its deadline is told which one it would make, and
// makes it.
func TestNeeds(t *testing.T) {
	p := planned(t, meshtest.Net(t, "A-B:0.9 B-C:0.8"))
	for _, c := range []struct {
		frames   int
		deadline time.Duration
		chains   int
	}{{40, 20 * time.Minute, 0}, {20, 35 * time.Minute, 1}} {
		r := Request{Frames: c.frames, Deadline: c.deadline}
		a := ask(t, p, "A", "C", r)
		if len(a.Chains) != c.chains || a.Needs == nil {
			t.Fatalf("%d frames: %d chains, needs %+v", c.frames, len(a.Chains), a.Needs)
		}
		r.Deadline = a.Needs.Deadline
		longer := ask(t, p, "A", "C", r)
		if d := longer.Chains[0].Delivered; d < needsShare || longer.Needs != nil || math.Abs(d-a.Needs.Delivered) > 0.02 {
			t.Errorf("%d frames: %v promised %v, gives %v, needs %+v", c.frames, r.Deadline, a.Needs.Delivered, d, longer.Needs)
		}
	}
	// Where the links are too poor, time does not help.
	weak := planned(t, meshtest.Net(t, "A-B:0.2"))
	if a := ask(t, weak, "A", "B", Request{Frames: 30}); a.Needs != nil {
		t.Errorf("a link that never will: %+v", a.Needs)
	}
	if a := ask(t, p, "A", "C", Request{Frames: 5}); a.Needs != nil {
		t.Errorf("a message with time to spare: %+v", a.Needs)
	}
}

// The chance to be able to send on rises to that of having got there.
func TestReady(t *testing.T) {
	c := ask(t, planned(t, meshtest.Net(t, "A-B:0.9 B-C:0.8")), "A", "C", Request{Frames: 5}).Chains[0]
	ready := c.Hops[0].Ready
	if c.Hops[1].Ready != nil || len(ready) != len(c.Arrival) || ready[7] != 0 || ready[8] < 0.5 || ready[8] > 0.6 {
		t.Fatalf("ready %v", ready[:10])
	}
	for s, x := range c.Arrival {
		if s > 0 && (ready[s] < ready[s-1] || x > ready[s]+1e-12) {
			t.Errorf("slot %d: arrived %v, ready %v", s, x, ready[s])
		}
	}
}

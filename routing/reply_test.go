package routing

import (
	"context"
	"math"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/meshtest"
	"farhop/routing/delivery"
)

// With A = 1, G = 0, one frame, certain links and nothing busy, every step can be
// counted: frame 0, acknowledgment 1, relay's frame 2, acknowledgment 3, then the
// reply's two frames 4 and 5, acknowledgment 6, and on the last hop 7 and 8.
func TestConfirmCountsSlots(t *testing.T) {
	n := meshtest.Net(t, "A-B:1 B-D:1")
	n.Slots.Turnaround = 0
	p := planned(t, n)
	for slots, want := range map[int]float64{8: 0, 9: 1} {
		a := ask(t, p, "A", "D", Request{Frames: 1, Confirm: true, Deadline: time.Duration(slots) * 40 * time.Second})
		if c := a.Chains[0]; c.Confirmed != want || c.Delivered != 1 {
			t.Errorf("%d slots: delivered %v, confirmed %v, want %v", slots, c.Delivered, c.Confirmed, want)
		}
		// 2 + 2 message and acknowledgment, 3 + 3 for the reply.
		if c := a.Chains[0]; math.Abs(c.Frames-10) > 1e-9 {
			t.Errorf("%d slots: %v frames, want 10", slots, c.Frames)
		}
	}
	c := ask(t, p, "A", "D", Request{Frames: 1, Deadline: 4 * 40 * time.Second}).Chains[0]
	if c.Confirmed != 1 || math.Abs(c.Frames-4) > 1e-9 {
		t.Errorf("without a reply: confirmed %v, %v frames", c.Confirmed, c.Frames)
	}
}

func TestConfirmAgainstEvaluator(t *testing.T) {
	n := meshtest.Net(t, "A-B:0.9/0.7 B-D:0.8/0.6 A-D:0.3/0.5")
	p := planned(t, n)
	r := Request{Frames: 6, Start: noon, Deadline: time.Hour, Confirm: true, Order: Lightest}
	o := newOracle(t, n, p.links, r.filled(), 0)
	plan := delivery.Plan{
		Protocol: delivery.Protocol{Frames: 2, Ack: n.Slots.Ack, Turnaround: n.Slots.Turnaround, Rounds: n.Slots.Rounds},
		Slot:     n.Slots.Length, Deadline: time.Hour,
	}
	back, err := delivery.NewEvaluator(plan)
	if err != nil {
		t.Fatal(err)
	}
	ro := &oracle{net: n, links: p.links, r: r, eval: back, legs: map[[3]int]delivery.LegID{}, clock: o.clock}
	there := o.eval.Chain(o.leg(0, 1, 0), o.leg(1, 2, 0))
	reply := back.ChainFrom(there.Reply(back), ro.leg(2, 1, 0), ro.leg(1, 0, 0))
	for _, c := range ask(t, p, "A", "D", r).Chains {
		if len(c.Hops) != 2 {
			continue
		}
		if math.Abs(c.Confirmed-reply.Chance()) > 1e-12 || math.Abs(c.Frames-there.Airtime()-reply.Airtime()) > 1e-9 {
			t.Errorf("confirmed %v with %v frames, want %v with %v", c.Confirmed, c.Frames, reply.Chance(), there.Airtime()+reply.Airtime())
		}
		if c.Confirmed >= there.ConfirmedChance() {
			t.Errorf("the whole reply is surer (%v) than the last acknowledgment (%v)", c.Confirmed, there.ConfirmedChance())
		}
		return
	}
	t.Error("no chain of two hops")
}

// A station that hears but isn't heard gets N sendings: (1 − (1 − p)^N)^F.
func TestBlind(t *testing.T) {
	n := meshtest.Net(t, "A-B:1 B-D:0.7/-")
	p := planned(t, n)
	plain := ask(t, p, "A", "D", Request{Frames: 4})
	if c := plain.Chains[0]; math.Abs(c.Delivered-math.Pow(0.7, 4)) > 1e-9 || c.Hops[1].Blind {
		t.Errorf("without blind sending: %v", c.Delivered)
	}
	if !hasWarning(plain, WarnNoReverse) {
		t.Errorf("no warning that answers have no link: %v", plain.Warnings)
	}
	a := ask(t, p, "A", "D", Request{Frames: 4, Blind: 3, Confirm: true})
	c := a.Chains[0]
	if want := math.Pow(1-math.Pow(0.3, 3), 4); math.Abs(c.Delivered-want) > 1e-9 {
		t.Errorf("delivered %v, want %v", c.Delivered, want)
	}
	if !c.Hops[1].Blind || c.Hops[0].Blind || c.Confirmed != 0 || hasWarning(a, WarnNoReverse) || len(c.Hops) != 2 {
		t.Errorf("chain %+v, warnings %v", c, a.Warnings)
	}
	// A to B: 4 frames and the answer; B to D: 12 frames, whatever comes.
	if want := []float64{4 * 34, 13 * 34, 0}; math.Abs(c.StationSeconds[0]-want[0])+math.Abs(c.StationSeconds[1]-want[1])+c.StationSeconds[2] > 1e-6 {
		t.Errorf("keyed %v s, want %v", c.StationSeconds, want)
	}
	// Where the destination is heard, everything is as without.
	if c := ask(t, p, "A", "B", Request{Frames: 4, Blind: 3}).Chains[0]; c.Hops[0].Blind || c.Confirmed == 0 {
		t.Errorf("a station that is heard gets blind sendings: %+v", c)
	}
}

func hasWarning(a *Answer, code Code) bool {
	for _, w := range a.Warnings {
		if w.Code == code {
			return true
		}
	}
	return false
}

// rising is a link that is closed until a time and then decodes surely.
func rising(from int64) func(int64) mesh.Edge {
	return func(unix int64) mesh.Edge {
		e := estimated(-20, 0, 0, 1)(unix)
		if unix >= from {
			e = estimated(20, 0, 0, 1)(unix)
		}
		return e
	}
}

func TestHold(t *testing.T) {
	n := openNet(3)
	all := links{
		{0, 1, 0}: rising(noon + 5400), {1, 0, 0}: certain(1), {1, 2, 0}: certain(1), {2, 1, 0}: certain(1),
		{0, 2, 0}: certain(0.35), {2, 0, 0}: certain(1),
	}
	r := Request{From: 0, To: 2, Frames: 9, Start: noon, Deadline: 4 * time.Hour}
	now, err := New(n, all).Route(context.Background(), r)
	if err != nil {
		t.Fatal(err)
	}
	if c := now.Chains[0]; len(c.Stations) != 2 || now.Hold != nil {
		t.Errorf("now: %v, hold %+v: the chain itself gains nothing by waiting", c.Stations, now.Hold)
	}
	r.Depart = DepartBest
	a, err := New(n, all).Route(context.Background(), r)
	if err != nil {
		t.Fatal(err)
	}
	h := a.Hold
	if h == nil || h.Until < noon+5400 || h.Until >= noon+5440 || h.Then < 0.999 || math.Abs(h.Now-now.Chains[0].Delivered) > 1e-12 {
		t.Fatalf("hold %+v", h)
	}
	c := a.Chains[0]
	if len(c.Stations) != 3 || c.Delivered != h.Then || c.P50Minutes != h.ThenP50 || c.P50Minutes < 90 || c.Hops[0].Edge.Decode < 0.99 {
		t.Errorf("chain %+v", c)
	}
}

// With nothing to be had now, the answer says from when on there is.
func TestHoldWhereNothingGoesNow(t *testing.T) {
	all := links{{0, 1, 0}: rising(noon + 3600), {1, 0, 0}: rising(noon + 3600)}
	a, err := New(openNet(2), all).Route(context.Background(), Request{From: 0, To: 1, Frames: 2, Start: noon})
	if err != nil {
		t.Fatal(err)
	}
	if a.Hold == nil || a.Hold.Then < 0.999 || a.Hold.Until < noon+3600 || a.Hold.Until > noon+3640 {
		t.Errorf("hold %+v", a.Hold)
	}
}

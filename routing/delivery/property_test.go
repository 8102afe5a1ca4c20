package delivery

import (
	"fmt"
	"math"
	"testing"
	"time"

	"farhop/mesh/link"

	"pgregory.net/rapid"
)

func drawDirection(t *rapid.T, common float64, name string) link.Direction {
	switch rapid.IntRange(0, 5).Draw(t, name+" kind") {
	case 0:
		return link.Direction{}
	case 1:
		return certain(rapid.Float64Range(0, 1).Draw(t, name+" decode"))
	}
	sd := rapid.Float64Range(0, 9).Draw(t, name+" deviation")
	return gaussian(rapid.Float64Range(-6, 12).Draw(t, name+" margin"), sd, min(common, sd), rapid.Float64Range(0.5, 5).Draw(t, name+" noise"))
}

// drawLeg is a leg with a window that comes back, and a link that changes.
func drawLeg(t *rapid.T, common float64, name string) Leg {
	period := rapid.IntRange(1, 400).Draw(t, name+" period")
	open := rapid.IntRange(0, period).Draw(t, name+" open")
	f, r := drawDirection(t, common, name+" forward"), drawDirection(t, common, name+" reverse")
	drift := rapid.Float64Range(-0.5, 0.5).Draw(t, name+" drift")
	return Leg{
		Open: func(s int) bool { return s%period < open },
		Directions: func(quarter int) (link.Direction, link.Direction) {
			a, b := f, r
			a.Margin += drift * math.Sin(float64(quarter))
			b.Margin -= drift * math.Sin(float64(quarter))
			return a, b
		},
	}
}

func drawPlan(t *rapid.T) Plan {
	p := Plan{Slot: slot, Deadline: rapid.SampledFrom([]time.Duration{0, 20 * slot, time.Hour, 5 * time.Hour}).Draw(t, "deadline")}
	p.Offset = time.Duration(rapid.IntRange(0, 39).Draw(t, "offset")) * time.Second
	p.Protocol = Protocol{
		Frames: rapid.IntRange(1, 30).Draw(t, "frames"), Ack: rapid.IntRange(0, 3).Draw(t, "ack"),
		Turnaround: rapid.IntRange(0, 2).Draw(t, "turnaround"), Rounds: rapid.IntRange(1, 9).Draw(t, "rounds"),
		Block: rapid.SampledFrom([]int{0, 0, 1, 4, 7, 10}).Draw(t, "block"), Busy: rapid.SampledFrom([]float64{0, 0.1, 0.6}).Draw(t, "busy"),
	}
	if rapid.Bool().Draw(t, "net-wide") {
		p.Common = 0.5
	}
	return p
}

// Nothing is lost or made: delivered, given up and late add up to 1, where the
// chances to give up come from other sums than those to arrive. What is true of
// any chain is checked on the way.
func TestChancesAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawPlan(t)
		common := 0.0
		if p.Common > 0 {
			common = 3
		}
		e, err := NewEvaluator(p)
		if err != nil {
			t.Fatal(err)
		}
		var legs []LegID
		for i := range rapid.IntRange(1, 3).Draw(t, "hops") {
			legs = append(legs, e.NewLeg(drawLeg(t, common, fmt.Sprint("leg ", i))))
		}
		r := e.Chain(legs...)
		if sum := r.Chance() + r.GivenUp + r.Late; !(math.Abs(sum-1) <= 1e-9) {
			t.Fatalf("delivered %g + given up %g + late %g = 1 %+g", r.Chance(), r.GivenUp, r.Late, sum-1)
		}
		checkCurves(t, e, r)
		checkSteps(t, e, r, legs)
	})
}

func checkCurves(t *rapid.T, e *Evaluator, r *Result) {
	if len(r.Delivered) != e.Slots() || len(r.Confirmed) != e.Slots() {
		t.Fatalf("%d and %d slots, want %d", len(r.Delivered), len(r.Confirmed), e.Slots())
	}
	before := 0.0
	for i, v := range r.Delivered {
		if v < before-1e-12 || v > 1+1e-12 || r.Confirmed[i] > v+1e-9 {
			t.Fatalf("slot %d: delivered %g after %g, confirmed %g", i, v, before, r.Confirmed[i])
		}
		before = v
	}
	near := func(what string, a, b float64) {
		if !(math.Abs(a-b) <= 1e-9) {
			t.Fatalf("%s: %g and %g", what, a, b)
		}
	}
	near("chance by deviate", e.mean(r.ByDeviate), r.Chance())
	near("arrivals of the last hop", r.Hops[len(r.Hops)-1].Done, r.Chance()+r.Late-e.mean(r.last.idle))
	for i, h := range r.Hops {
		if h.Done > h.Started+1e-9 || i > 0 && h.Started > r.Hops[i-1].Done+1e-9 {
			t.Fatalf("hop %d: %+v after %+v", i, h, r.Hops[max(i-1, 0)])
		}
	}
}

// checkSteps goes the same way hop by hop, as a search does.
func checkSteps(t *rapid.T, e *Evaluator, r *Result, legs []LegID) {
	p, within := e.Start(), e.Start().Within()
	for _, id := range legs[:len(legs)-1] {
		p, within = e.Extend(p, id), e.Extend(within, id)
		if p.Chance() < r.Chance()-1e-9 {
			t.Fatalf("prefix %g below the chain's %g", p.Chance(), r.Chance())
		}
	}
	last := legs[len(legs)-1]
	a, b := e.Finish(p, last), e.Finish(within, last)
	for i, v := range r.Delivered {
		if math.Abs(a.Delivered[i]-v) > 1e-12 || math.Abs(b.Delivered[i]-v) > 1e-9 {
			t.Fatalf("slot %d: chain %g, steps %g, within the deadline %g", i, v, a.Delivered[i], b.Delivered[i])
		}
	}
	if math.Abs(a.Airtime()-r.Airtime()) > 1e-9 || b.Airtime() > r.Airtime()+1e-9 {
		t.Fatalf("airtime %g, steps %g, within the deadline %g", r.Airtime(), a.Airtime(), b.Airtime())
	}
}

// The chances to give up and to succeed on a hop are a partition too when the
// time of giving up is asked for.
func TestGivingUpAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawPlan(t)
		p.Protocol.Frames = min(p.Protocol.Frames, 12)
		p.Common = 0
		e, err := NewEvaluator(p)
		if err != nil {
			t.Fatal(err)
		}
		l := drawLeg(t, 0, "leg")
		l.Open = always
		id := e.NewLeg(l)
		up := e.GivenUp(e.Start(), id)
		sum := total(up.by.of) + up.by.beyond[0] + e.Reach(id, 0)[0]
		if math.Abs(sum-1) > 1e-9 {
			t.Fatalf("given up %g + reached %g = 1 %+g", total(up.by.of), e.Reach(id, 0)[0], sum-1)
		}
		if h := e.Chain(id).Hops[0]; math.Abs(h.Done-e.Reach(id, 0)[0]) > 1e-9 {
			t.Fatalf("reach %g, done %g", e.Reach(id, 0)[0], h.Done)
		}
	})
}

// A frame that decodes more often, or an acknowledgment read more often, can't
// make a message later: bounds of a search rest on it.
func TestBetterLinksAreNeverLater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pr := drawPlan(t).Protocol
		b := newBlocks(&pr, false)
		p := rapid.Float64Range(0, 0.99).Draw(t, "p")
		q := rapid.Float64Range(0, 0.99).Draw(t, "q")
		cumulative := func(p, q float64) func(int) float64 {
			var w bench
			b.set(&w, p, 1-p, kindDone)
			first, of := b.answer(&w, q, kindDone)
			return func(n int) float64 { return total(of[:min(max(n-first+1, 0), len(of))]) }
		}
		base := cumulative(p, q)
		for _, better := range []func(int) float64{cumulative(p+(1-p)/3, q), cumulative(p, q+(1-q)/3)} {
			for n := 1; n < 400; n += 3 {
				if better(n) < base(n)-1e-11 {
					t.Fatalf("by slot %d: %g fell to %g", n, base(n), better(n))
				}
			}
		}
	})
}

package delivery

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"sync"
	"testing"
	"time"

	"farhop/mesh/link"
)

// The longest message, 5,000 characters of 18 a frame and a header: 279 frames,
// in one block or in blocks of 10.
func TestLongMessages(t *testing.T) {
	for _, block := range []int{0, 10} {
		t.Run(fmt.Sprint("blocks of ", block), func(t *testing.T) {
			pr := Protocol{Frames: 279, Ack: 1, Turnaround: 1, Rounds: 6, Block: block, Busy: 0.1}
			plan := Plan{Protocol: pr, Slot: slot, Deadline: 24 * time.Hour}
			legs := []Leg{fixedLeg(0.75, 0.9), steady(gaussian(6, 4, 0, 3), gaussian(9, 4, 0, 3))}
			if block > 0 { // a Gaussian one takes a second
				legs[1] = fixedLeg(0.9, 0.8)
			}
			e, ids := evaluator(t, plan, legs...)
			r := e.Chain(ids...)
			near(t, "sum", r.Chance()+r.GivenUp+r.Late, 1, 1e-9)
			c := scenario{plan: plan, legs: legs}
			sim := c.play(1000, 9)
			sim.share(t, "delivered", r.Chance(), int(total(asFloats(sim.has))))
			sim.share(t, "confirmed", r.ConfirmedChance(), int(total(asFloats(sim.read))))
			sim.share(t, "given up", r.GivenUp, sim.givenUp)
			for j := range r.Frames {
				sim.mean(t, fmt.Sprint("frames of station ", j), r.Frames[j], sim.sum[j], sim.square[j])
			}
			sim.quantile(t, 0.5, r.Quantile(0.5))
		})
	}
}

func asFloats(of []int) []float64 {
	out := make([]float64, len(of))
	for i, v := range of {
		out[i] = float64(v)
	}
	return out
}

// Given ζ a blind hop of N sendings of F frames delivers with chance
// (1 − (1 − p)^N)^F; its times are checked by play.
func TestBlind(t *testing.T) {
	plan := Plan{Protocol: Protocol{Frames: 4, Ack: 1, Turnaround: 1, Rounds: 6, Busy: 0.2}, Slot: slot, Deadline: 20 * slot}
	e, ids := evaluator(t, plan, fixedLeg(0.6, 0), fixedLeg(0.9, 0.9), steady(gaussian(2, 3, 0, 2), link.Direction{}))
	r := e.Blind(e.Start(), ids[0], 3)
	near(t, "delivered at all", r.Chance()+r.Late, math.Pow(1-math.Pow(0.4, 3), 4), 1e-12)
	near(t, "sum", r.Chance()+r.GivenUp+r.Late, 1, 1e-12)
	near(t, "sender's frames", r.Frames[0], 12, 1e-12)
	near(t, "receiver's frames", r.Frames[1], 0, 0)

	const runs = 30000
	sim := &played{runs: runs, has: make([]int, e.Slots())}
	rng := rand.New(rand.NewPCG(8, 8))
	there := 0
	for range runs {
		at, got := -1, map[int]bool{}
		for n := 0; n < 12 && len(got) < 4; {
			if at++; rng.Float64() < 0.2 {
				continue
			}
			if rng.Float64() < 0.6 {
				got[n%4] = true
			}
			n++
		}
		if len(got) == 4 && at < len(sim.has) {
			sim.has[at]++
			there++
		}
	}
	sim.share(t, "delivered", r.Chance(), there)
	for _, level := range []float64{0.3, 0.5, 0.7} {
		sim.quantile(t, level, r.Quantile(level))
	}

	sum, whole := 0.0, 0.0
	for z := -8.0; z <= 8; z += 0.01 {
		w := math.Exp(-z * z / 2)
		sum += w * math.Pow(1-math.Pow(1-link.Phi((2+3*z)/2), 5), 4)
		whole += w
	}
	r = e.Blind(e.Extend(e.Start(), ids[1]), ids[2], 5)
	near(t, "delivered at all", r.Hops[0].Done/r.Hops[0].Started, sum/whole, 1e-5)
	if r = e.Blind(e.Start(), ids[0], 0); r.Chance() != 0 || r.Airtime() != 0 {
		t.Errorf("nothing sent: delivered %g, %g frames", r.Chance(), r.Airtime())
	}
}

// What an evaluator answers doesn't depend on what it was asked before, nor on
// who asks at the same time.
func TestSharedHopsChangeNothing(t *testing.T) {
	plan := Plan{Protocol: Protocol{Frames: 9, Ack: 1, Turnaround: 1, Rounds: 6, Busy: 0.1}, Slot: slot, Deadline: 3 * time.Hour, Common: benchShare}
	legs := []Leg{estimated(8), estimated(5), fixedLeg(0.8, 0.7), steady(certain(0.7), gaussian(3, 6, 3, 4))}
	chains := [][]int{{0, 1}, {1, 0}, {2, 1, 3}, {3}, {0, 1, 2, 3}}
	alone := make([]*Result, len(chains))
	ask := func(e *Evaluator, ids []LegID, chain []int) *Result {
		var of []LegID
		for _, i := range chain {
			of = append(of, ids[i])
		}
		r := e.Chain(of...)
		r.last = nil
		return r
	}
	for i, c := range chains {
		e, ids := evaluator(t, plan, legs...)
		alone[i] = ask(e, ids, c)
	}
	e, ids := evaluator(t, plan, legs...)
	var group sync.WaitGroup
	for g := range 2 {
		group.Go(func() {
			for n := range 2 * len(chains) {
				i := (n + 3*g) % len(chains)
				if r := ask(e, ids, chains[i]); !reflect.DeepEqual(r, alone[i]) {
					t.Errorf("chain %v differs: %g and %g", chains[i], r.Chance(), alone[i].Chance())
				}
			}
		})
	}
	group.Wait()
}

// The figures a search takes its bounds from are those the chains are made of.
func TestBoundsAreOfTheHops(t *testing.T) {
	plan := Plan{Protocol: Protocol{Frames: 5, Ack: 1, Turnaround: 1, Rounds: 4, Busy: 0.1}, Slot: slot, Deadline: 6 * time.Hour, Common: benchShare}
	late := estimated(5)
	late.Open = hours(1, 2)
	e, ids := evaluator(t, plan, estimated(5), late, fixedLeg(0, 1))
	r := e.Chain(ids[0])
	reach := e.Reach(ids[0], 0)
	near(t, "reach", e.mean(reach), r.Hops[0].Done, 1e-12)
	near(t, "weights", total(e.Weights()), 1, 1e-12)
	relay := e.Extend(e.Start(), ids[0])
	for j := range e.Weights() {
		first, of := e.Times(ids[0], 0, j, false)
		near(t, "times", total(of), reach[j], 1e-9)
		near(t, "by deadline", total(of), r.ByDeviate[j], 1e-9)
		if first < 5 {
			t.Errorf("5 frames in %d slots", first)
		}
		first, of = e.Times(ids[0], 0, j, true)
		row := relay.Row(j)
		for i, v := range of {
			near(t, fmt.Sprint("relay after ", first+i), row[first+i], v, 1e-12)
		}
	}
	if got := e.FirstOpen(ids[1], 0); got != 90 {
		t.Errorf("first open slot %d, want 90", got)
	}
	if got := e.OpenSlots(ids[1], 95); !reflect.DeepEqual(got, []int32{90, 91, 92, 93, 94}) {
		t.Errorf("open slots %v", got)
	}
	if got := e.Extend(e.Start(), ids[2]); got.Earliest() != -1 || got.Chance() != 0 {
		t.Errorf("a relay that never has the message starts at %d with %g", got.Earliest(), got.Chance())
	}
	shut, never := evaluator(t, plan, Leg{Open: func(int) bool { return false }, Directions: late.Directions})
	if r := shut.Chain(never...); math.Abs(r.Late-1) > 1e-12 || shut.FirstOpen(never[0], 0) != -1 || r.Hops[0].GiveUpAt != -1 || r.Airtime() != 0 {
		t.Errorf("a leg that never opens: %+v", r)
	}
}

// Two chains of the same net share its deviate, so that together they do worse
// than two that are independent.
func TestPairsShareTheDeviate(t *testing.T) {
	plan := Plan{Protocol: Protocol{Frames: 5, Ack: 1, Turnaround: 1, Rounds: 4}, Slot: slot, Deadline: 2 * time.Hour, Common: benchShare}
	link := func(margin float64) Leg { return steady(gaussian(margin, 7.5, 3, 4), gaussian(margin, 7, 3, 4)) }
	e, ids := evaluator(t, plan, link(2), link(1))
	a, b := e.Chain(ids[0]), e.Chain(ids[1])
	both := e.Pair(ids[:1], ids[1:], true)
	if apart := 1 - (1-a.Chance())*(1-b.Chance()); both >= apart-0.01 || both <= a.Chance() {
		t.Errorf("together %g, if independent %g, the first alone %g", both, apart, a.Chance())
	}
	after := e.Pair(ids[:1], ids[1:], false)
	if after <= a.Chance() || after > both+1e-9 {
		t.Errorf("the second after the first %g, both at once %g", after, both)
	}
}

// Under another deadline nothing is different from an evaluator of its own, whether
// what is known of hops can be shared or not.
func TestUnderAnotherPlan(t *testing.T) {
	plan := Plan{Protocol: Protocol{Frames: 7, Ack: 1, Turnaround: 1, Rounds: 4, Busy: 0.1}, Slot: slot, Deadline: 2 * time.Hour}
	first, ids := evaluator(t, plan, estimated(4), estimated(3))
	first.Chain(ids...)
	for name, change := range map[string]func(*Plan){
		"later":    func(p *Plan) { p.Deadline *= 3 },
		"sooner":   func(p *Plan) { p.Deadline /= 2 },
		"longer":   func(p *Plan) { p.Protocol.Frames = 9 },
		"net-wide": func(p *Plan) { p.Common = 0.2 },
	} {
		t.Run(name, func(t *testing.T) {
			p := plan
			change(&p)
			under, err := first.Under(p)
			if err != nil {
				t.Fatal(err)
			}
			own, ids := evaluator(t, p, estimated(4), estimated(3))
			legs := []LegID{under.NewLeg(estimated(4)), under.NewLeg(estimated(3))}
			got, want := under.Chain(legs...), own.Chain(ids...)
			if len(got.Delivered) != len(want.Delivered) || !slices.Equal(got.Frames, want.Frames) || !slices.Equal(got.Delivered, want.Delivered) {
				t.Errorf("%g delivered with %v frames, want %g with %v", got.Chance(), got.Frames, want.Chance(), want.Frames)
			}
		})
	}
	plan.Protocol.Rounds, plan.Deadline = 0, -1
	if _, err := first.Under(plan); err == nil {
		t.Error("a plan that makes no sense is taken")
	}
}

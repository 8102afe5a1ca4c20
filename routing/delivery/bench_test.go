package delivery

import (
	"math"
	"testing"
	"time"

	"farhop/mesh/link"
)

func estimated(margin float64) Leg {
	return Leg{Open: always, Directions: func(quarter int) (f, r link.Direction) {
		drift := 0.4 * math.Sin(float64(quarter)/9)
		return gaussian(margin+drift, 7.5, 3, 4), gaussian(margin-1+drift, 7, 3, 4)
	}}
}

func messagePlan(frames, rounds, block int, share float64) Plan {
	return Plan{
		Protocol: Protocol{Frames: frames, Ack: 1, Turnaround: 1, Rounds: rounds, Block: block, Busy: 0.1},
		Slot:     slot, Deadline: 24 * time.Hour, Common: share,
	}
}

var benchShare = Share(gaussian(0, 7, 3, 4))

// One hop of 40 frames and 8 rounds, no net-wide deviate. 'points' is the plain
// rule of 48 nodes without tables, 'first' a hop with all tables still to make,
// message included, 'next' any hop after some others.
func BenchmarkHop(b *testing.B) {
	plan := messagePlan(40, 8, 0, 0)
	d := pair{gaussian(6, 7.5, 3, 4), gaussian(5, 7, 3, 4)}
	b.Run("frames=40/rounds=8/points=48", func(b *testing.B) {
		e := newEvaluator(plan, false)
		w := &averager{}
		f, r := lineOf(d.forward, 0), lineOf(d.reverse, 0)
		b.ReportAllocs()
		for b.Loop() {
			w.begin(e, kindDone)
			w.own(0, f, r, 5.5/23.9)
			w.take(&w.figures)
		}
	})
	b.Run("frames=40/rounds=8/first", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			var figures [figureCount][]float64
			newEvaluator(plan, false).average(d, kindDone, &figures)
		}
	})
	for _, c := range []struct {
		name  string
		plan  Plan
		share float64
	}{
		{"frames=40/rounds=8/next", plan, 0},
		{"frames=40/rounds=8/next/net-wide", messagePlan(40, 8, 0, benchShare), benchShare},
		{"frames=9/rounds=6/next", messagePlan(9, 6, 0, 0), 0},
		{"frames=9/rounds=6/next/net-wide", messagePlan(9, 6, 0, benchShare), benchShare},
		{"frames=279/rounds=6/next", messagePlan(279, 6, 0, 0), 0},
		{"frames=279/rounds=6/blocks=10/next", messagePlan(279, 6, 10, 0), 0},
		{"frames=35/rounds=6/blocks=10/next", messagePlan(35, 6, 10, 0), 0},
	} {
		b.Run(c.name, func(b *testing.B) {
			e := newEvaluator(c.plan, false)
			var figures [figureCount][]float64
			b.ReportAllocs()
			for b.Loop() {
				e.average(d, kindDone, &figures)
			}
		})
	}
}

// A chain of four hops over a day of 40 s slots, from nothing ('cold') and once
// the hops are known ('warm').
func BenchmarkChain(b *testing.B) {
	fixed := []Leg{fixedLeg(0.83, 0.8), fixedLeg(0.7, 0.6), fixedLeg(0.6, 0.9), fixedLeg(0.9, 0.5)}
	links := []Leg{estimated(8), estimated(5), estimated(6.5), estimated(9)}
	windows := append([]Leg(nil), links...)
	for i, h := range [][2]float64{{0, 6}, {0.5, 2}, {3, 5}, {1, 8}} {
		windows[i].Open = hours(h[0], h[1])
	}
	for _, c := range []struct {
		name string
		plan Plan
		legs []Leg
	}{
		{"fixed/frames=9", messagePlan(9, 6, 0, 0), fixed},
		{"fixed/frames=40", messagePlan(40, 8, 0, 0), fixed},
		{"estimated/frames=9", messagePlan(9, 6, 0, benchShare), links},
		{"estimated/frames=40", messagePlan(40, 8, 0, benchShare), links},
		{"windows/frames=9", messagePlan(9, 6, 0, benchShare), windows},
		{"windows/frames=40", messagePlan(40, 8, 0, benchShare), windows},
		{"estimated/frames=279", messagePlan(279, 6, 0, benchShare), links},
		{"estimated/frames=35/blocks=10", messagePlan(35, 6, 10, benchShare), links},
		{"estimated/frames=279/blocks=10", messagePlan(279, 6, 10, benchShare), links},
	} {
		run := func(e *Evaluator) []LegID {
			var ids []LegID
			for _, l := range c.legs {
				ids = append(ids, e.NewLeg(l))
			}
			return ids
		}
		b.Run(c.name+"/cold", func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				e := newEvaluator(c.plan, false)
				e.Chain(run(e)...)
			}
		})
		b.Run(c.name+"/warm", func(b *testing.B) {
			e := newEvaluator(c.plan, false)
			ids := run(e)
			e.Chain(ids...)
			b.ReportAllocs()
			for b.Loop() {
				e.Chain(ids...)
			}
		})
	}
}

// One more hop for a search: a prefix extended, and finished.
func BenchmarkStep(b *testing.B) {
	e := newEvaluator(messagePlan(9, 6, 0, benchShare), false)
	first, second := e.NewLeg(estimated(6)), e.NewLeg(estimated(7))
	p := e.Extend(e.Start().Within(), first)
	e.Finish(e.Extend(p, second), first)
	b.Run("extend", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			e.Extend(p, second)
		}
	})
	b.Run("finish", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			e.Finish(p, second)
		}
	})
}

func BenchmarkHistories(b *testing.B) {
	for _, c := range []struct {
		name           string
		frames, rounds int
	}{{"frames=9/rounds=6", 9, 6}, {"frames=40/rounds=8", 40, 8}, {"frames=279/rounds=6", 279, 6}, {"frames=40/rounds=12", 40, 12}} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				newHistories(c.frames, c.rounds, false)
			}
		})
	}
}

package delivery

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// What a course keys slot by slot adds up to the mean frames of each station,
// which are worked out another way.
func TestCourseAddsUpToFrames(t *testing.T) {
	for seed := range uint64(60) {
		dice := rand.New(rand.NewPCG(seed, 21))
		plan := Plan{Slot: slot, Deadline: 2 * time.Hour, Protocol: Protocol{
			Frames: 1 + dice.IntN(12), Ack: dice.IntN(3), Turnaround: dice.IntN(3), Rounds: 1 + dice.IntN(6),
			Block: dice.IntN(6), Busy: 0.4 * dice.Float64(),
		}}
		var legs []Leg
		tolerance := 1e-4
		for range 1 + dice.IntN(3) {
			if dice.IntN(2) == 0 {
				legs = append(legs, fixedLeg(dice.Float64(), dice.Float64()))
				continue
			}
			tolerance = 0.02
			l := steady(gaussian(6*dice.Float64()-2, 1+4*dice.Float64(), 1, 2), gaussian(4*dice.Float64()-1, 1+4*dice.Float64(), 1, 2))
			plan.Common = max(plan.Common, shareOf(l))
			if dice.IntN(2) == 0 {
				l.Open = func(s int) bool { return s%97 > 40 }
			}
			legs = append(legs, l)
		}
		e, ids := evaluator(t, plan, legs...)
		want := e.Chain(ids...).Frames
		got := make([]float64, len(ids)+1)
		p := e.Start()
		for i, id := range ids {
			c := e.Course(p, id, i == len(ids)-1)
			sender, receiver := c.Total()
			got[i] += sender
			got[i+1] += receiver
			for s, v := range c.Sends {
				if at := v + c.Polls[s]; v < 0 || at > 1+1e-6 || c.Answers[s] > 1+1e-6 || !legs[i].Open(s) && at > 0 {
					t.Fatalf("seed %d, hop %d, slot %d: sends %v polls %v answers %v", seed, i, s, v, c.Polls[s], c.Answers[s])
				}
			}
			if i < len(ids)-1 {
				p = e.Extend(p, id)
			}
		}
		for i := range want {
			if math.Abs(got[i]-want[i]) > tolerance*max(1, want[i]) {
				t.Errorf("seed %d, station %d: the course keys %.6f frames, the chain %.6f (%+v)", seed, i, got[i], want[i], plan)
			}
		}
	}
}

// With certain frames and acknowledgments the course is known: F frames, the
// turnaround, the acknowledgment, the turnaround, and so the next hop.
func TestCourseOfCertainHops(t *testing.T) {
	e, ids := evaluator(t, Plan{Slot: slot, Deadline: time.Hour, Protocol: Protocol{Frames: 3, Ack: 1, Turnaround: 1, Rounds: 4}},
		fixedLeg(1, 1), fixedLeg(1, 1))
	second := e.Course(e.Extend(e.Start(), ids[0]), ids[1], true)
	for s := range second.Sends {
		sends, answers := 0.0, 0.0
		if s >= 6 && s < 9 {
			sends = 1
		}
		if s == 10 {
			answers = 1
		}
		near(t, "sends", second.Sends[s], sends, 1e-12)
		near(t, "answers", second.Answers[s], answers, 1e-12)
		near(t, "polls", second.Polls[s], 0, 1e-12)
	}
	if len(second.Sends) < 11 {
		t.Fatalf("the course ends after %d slots", len(second.Sends))
	}
	blind := e.BlindCourse(e.Start(), ids[0], 2)
	if sender, receiver := blind.Total(); sender != 6 || receiver != 0 {
		t.Errorf("two sendings of 3 frames key %v and %v frames", sender, receiver)
	}
}

// Long messages are told from rounded chances, which must not show.
func TestCourseOfALongMessage(t *testing.T) {
	l := steady(gaussian(3, 4, 2, 2.5), gaussian(2, 4, 2, 2.5))
	e, ids := evaluator(t, Plan{Slot: slot, Deadline: 12 * time.Hour, Common: shareOf(l), Protocol: Protocol{
		Frames: 60, Ack: 1, Turnaround: 1, Rounds: 5, Block: 20,
	}}, l)
	want := e.Chain(ids...).Frames
	sender, receiver := e.Course(e.Start(), ids[0], true).Total()
	near(t, "frames of the sender", sender, want[0], 0.01*want[0])
	near(t, "frames of the receiver", receiver, want[1], 0.01*want[1])
}

func BenchmarkCourse113Frames6Rounds(b *testing.B) {
	l := steady(gaussian(3, 4, 3, 3), gaussian(2, 5, 3, 3))
	e, ids := evaluator(b, Plan{Slot: slot, Deadline: 12 * time.Hour, Common: shareOf(l), Protocol: Protocol{
		Frames: 113, Ack: 1, Turnaround: 1, Rounds: 6, Busy: 0.1,
	}}, l)
	e.Finish(e.Start(), ids[0])
	b.ReportAllocs()
	for b.Loop() {
		e.Course(e.Start(), ids[0], true)
	}
}

func BenchmarkCourse9Frames6Rounds(b *testing.B) {
	l := steady(gaussian(3, 4, 3, 3), gaussian(2, 5, 3, 3))
	e, ids := evaluator(b, Plan{Slot: slot, Deadline: 4 * time.Hour, Common: shareOf(l), Protocol: Protocol{
		Frames: 9, Ack: 1, Turnaround: 1, Rounds: 6, Busy: 0.1,
	}}, l)
	b.ReportAllocs()
	for b.Loop() {
		e.Course(e.Start(), ids[0], true)
	}
}

// shareOf is the larger of the net-wide shares of a leg's directions.
func shareOf(l Leg) float64 {
	forward, reverse := l.Directions(0)
	return max(Share(forward), Share(reverse))
}

package simulate_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/routing/simulate"
)

// evening is 2026-03-02 18:00 UTC, a slot boundary.
var evening = time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC).Unix()

// tried is a chain A → B → … in order of call signs, the only one of its net.
type tried struct {
	name     string
	net      string
	frames   int
	late     int64 // start, seconds after the evening's
	deadline time.Duration
	change   func(*mesh.Net)
	links    simulate.Source // nil = the plan's
	confirm  bool
	runs     int // 0 = 100,000
}

// TestAgainstExact holds the exact computation against the simulation.
func TestAgainstExact(t *testing.T) {
	for i, c := range []tried{
		{name: "one hop", net: "A-B:0.83/0.8", frames: 9, deadline: time.Hour},
		{name: "two hops, busy", net: "A-B:0.83/0.8 B-C:0.83/0.8", frames: 9, deadline: time.Hour, change: busy(0.1), runs: 200_000},
		{name: "weak answers", net: "A-B:0.7/0.2 B-C:0.6/0.3", frames: 5, deadline: 2 * time.Hour},
		{name: "no answers", net: "A-B:0.8/- B-C:0.9/-", frames: 1, deadline: time.Hour},
		{name: "blocks, busy", net: "A-B:0.8/0.6 B-C:0.7/0.75 C-D:0.9", frames: 11, deadline: 3 * time.Hour, change: func(n *mesh.Net) {
			n.Slots.Block, n.Slots.Busy, n.Slots.Rounds = 4, 0.25, 4
		}},
		{name: "windows, busy", net: "A-B:0.8/0.7 B-C:0.6 C-D:0.9", frames: 8, late: 7, deadline: 5 * time.Hour, change: func(n *mesh.Net) {
			n.Slots.Busy = 0.15
			n.Channels[0].Windows = parsed("18:02-18:20", "18:31-18:47", "19:00-19:05", "20:30-23:00")
			n.Stations[2].OnAir = parsed("00:00-19:03", "20:50-24:00")
		}},
		{name: "tight deadline", net: "A-B:0.6/0.7 B-C:0.6/0.7", frames: 4, late: 39, deadline: 15 * time.Minute},
		{name: "another exchange", net: "A-B:0.75/0.85 B-C:0.65/0.9", frames: 6, deadline: time.Hour, change: func(n *mesh.Net) {
			n.Slots.Ack, n.Slots.Turnaround, n.Slots.Rounds = 2, 0, 5
		}},
		{name: "no acknowledgment frames", net: "A-B:0.5/0.1 B-C:0.4/0.1", frames: 3, deadline: time.Hour, change: func(n *mesh.Net) {
			n.Slots.Ack, n.Slots.Turnaround, n.Slots.Rounds = 0, 0, 5
		}},
		{name: "one round", net: "A-B:0.9/0.8 B-C:0.95/0.8", frames: 3, deadline: time.Hour, change: func(n *mesh.Net) { n.Slots.Rounds = 1 }},
		{name: "long message", net: "A-B:0.7/0.8", frames: 120, deadline: 6 * time.Hour, change: busy(0.1), runs: 30_000},
		{name: "Gaussian", net: "A-B:-12dB±4/-14dB±5 B-C:-14dB±3/-13dB±6 C-D:-10dB±8", frames: 9, deadline: 2 * time.Hour},
		{name: "Gaussian, windows, busy, blocks", net: "A-B:-12dB±4/-14dB±5 B-C:-14dB±3/-13dB±6 C-D:-10dB±8", frames: 9, late: 100, deadline: 4 * time.Hour, change: func(n *mesh.Net) {
			n.Slots.Busy, n.Slots.Block = 0.1, 4
			n.Channels[0].Windows = parsed("18:10-18:40", "19:30-19:50", "20:10-22:00")
		}},
		{name: "reply", net: "A-B:0.8/0.6 B-C:-13dB±4/-15dB±5", frames: 6, deadline: 90 * time.Minute, change: busy(0.1), confirm: true},
		{name: "reply in blocks", net: "A-B:0.8/0.6 B-C:0.7/0.8", frames: 4, deadline: 90 * time.Minute, change: func(n *mesh.Net) { n.Slots.Block = 1 }, confirm: true},
		{name: "a disturbed evening", net: "A B C D", frames: 6, late: 11, deadline: 3 * time.Hour, links: drifting{}, confirm: true},
		{name: "a long message", net: "A B C", frames: 90, late: 11, deadline: 5 * time.Hour, links: drifting{}, confirm: true},
		{name: "a disturbed evening, windows, busy", net: "A B C", frames: 12, deadline: 4 * time.Hour, links: drifting{}, change: func(n *mesh.Net) {
			n.Slots.Busy, n.Slots.Block = 0.2, 5
			n.Channels[0].Windows = parsed("18:10-18:50", "19:40-20:00", "20:40-22:00")
		}},
	} {
		t.Run(c.name, func(t *testing.T) { c.compare(t, uint64(i)+1) })
	}
}

// TestAgainstExactAtRandom does the same with chains and exchanges drawn at
// random.
func TestAgainstExactAtRandom(t *testing.T) {
	dice := rand.New(rand.NewPCG(3, 1))
	for i := range 40 {
		c := tried{frames: 1 + dice.IntN(14), late: dice.Int64N(86400), deadline: time.Duration(600+dice.IntN(12_000)) * time.Second, confirm: dice.IntN(3) == 0, runs: 12_000}
		for h := range 1 + dice.IntN(3) {
			if dice.IntN(2) == 0 {
				c.net += fmt.Sprintf("%c-%c:%.2f/%.2f ", 'A'+h, 'B'+h, 0.4+0.6*dice.Float64(), dice.Float64())
			} else {
				c.net += fmt.Sprintf("%c-%c:%.1fdB±%.1f/%.1fdB±%.1f ", 'A'+h, 'B'+h, -18+8*dice.Float64(), 7*dice.Float64(), -18+8*dice.Float64(), 7*dice.Float64())
			}
		}
		c.change = func(n *mesh.Net) {
			n.Slots.Ack, n.Slots.Turnaround, n.Slots.Rounds = dice.IntN(3), dice.IntN(3), 1+dice.IntN(8)
			n.Slots.Busy, n.Slots.Block = dice.Float64()*0.4, dice.IntN(8)
			n.Slots.Length = []time.Duration{15 * time.Second, 40 * time.Second, 2 * time.Minute}[dice.IntN(3)]
			n.Slots.Keyed = n.Slots.Length / 2
			if hour := int((evening+c.late)/3600) % 24; dice.IntN(2) == 0 {
				n.Channels[0].Windows = parsed(fmt.Sprintf("%02d:10-%02d:25", hour, hour), fmt.Sprintf("%02d:40-%02d:%02d", hour, (hour+1+dice.IntN(3))%24, dice.IntN(60)))
			}
		}
		t.Run(fmt.Sprintf("%d/%s", i, c.net), func(t *testing.T) { c.compare(t, uint64(i)) })
	}
}

// TestAgainstRoute asks the way an operator does: which chain, and what does it
// promise.
func TestAgainstRoute(t *testing.T) {
	for i, c := range []tried{
		{net: "A-B:0.83/0.8 B-C:0.83/0.8", frames: 9, deadline: time.Hour, change: busy(0.1)},
		{net: "A-B:-12dB±4/-14dB±5 B-C:-14dB±3/-13dB±6 C-D:-10dB±8", frames: 9, late: 100, deadline: 4 * time.Hour, change: func(n *mesh.Net) {
			n.Slots.Busy, n.Slots.Block = 0.1, 4
			n.Channels[0].Windows = parsed("18:10-18:40", "19:30-19:50", "20:10-22:00")
		}},
		{net: "A B C D", frames: 6, late: 11, deadline: 3 * time.Hour, links: drifting{}},
		{net: "A B C", frames: 90, deadline: 5 * time.Hour, links: drifting{}},
	} {
		s := c.scenario(t)
		want := asked(t, s)
		r, err := simulate.Run(context.Background(), s, simulate.Options{Runs: 50_000, Seed: uint64(i), Workers: 2})
		if err != nil {
			t.Fatal(err)
		}
		within(t, "delivered", r.Delivered, want.Delivered)
		within(t, "confirmed", r.Confirmed, want.Confirmed)
		keyed := s.Net.Slots.Keyed.Seconds()
		within(t, "airtime", r.Airtime, want.AirtimeSeconds/keyed)
		for i, m := range r.Stations {
			within(t, "frames of "+s.Net.Stations[i].Call, m, want.StationSeconds[i]/keyed)
		}
		curves(t, "arrived", r.Arrivals, want.Arrival, r.Runs)
		// The mean of so many times, none longer than the deadline.
		if most := 2 * c.deadline.Minutes() / math.Sqrt(float64(r.Delivered.Count)); math.Abs(r.MeanMinutes-want.MeanMinutes) > most {
			t.Errorf("mean: played %v, exact %v minutes", r.MeanMinutes, want.MeanMinutes)
		}
	}
}

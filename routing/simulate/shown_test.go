package simulate_test

import (
	"context"
	"fmt"
	"math"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/routing/simulate"
)

// TestPromises plays what the planner promises 200,000 times, with everything that
// can happen to a message by itself and together, and with a reply and without:
// delivered, confirmed and airtime within three standard errors, the 50, 80 and 90 %
// times to one slot.
func TestPromises(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	const (
		fixed    = "A-B:0.8/0.6 B-C:0.7/0.75"
		gaussian = "A-B:-12dB±4/-14dB±5 B-C:-14dB±3/-13dB±6"
	)
	hours := []string{"18:05-18:30", "19:00-20:30"}
	for i, c := range []tried{
		{name: "fixed", net: fixed, frames: 9, deadline: 90 * time.Minute},
		{name: "windows", net: fixed, frames: 9, deadline: 3 * time.Hour, change: func(n *mesh.Net) { n.Channels[0].Windows = parsed(hours...) }},
		{name: "busy", net: fixed, frames: 9, deadline: 90 * time.Minute, change: busy(0.2)},
		{name: "blocks", net: fixed, frames: 9, deadline: 2 * time.Hour, change: blocksOf(4, 6)},
		{name: "Gaussian", net: gaussian, frames: 9, deadline: 90 * time.Minute},
		{name: "a disturbed evening", net: "A B C", frames: 9, deadline: 90 * time.Minute, links: drifting{}},
		{name: "all of it", net: gaussian, frames: 9, late: 100, deadline: 4 * time.Hour, change: func(n *mesh.Net) {
			n.Slots.Block, n.Slots.Busy = 4, 0.1
			n.Channels[0].Windows = parsed(hours...)
		}},
	} {
		for _, c.confirm = range []bool{false, true} {
			t.Run(fmt.Sprintf("%s/reply=%t", c.name, c.confirm), func(t *testing.T) { c.promised(t, uint64(i)+11) })
		}
	}
}

// promised compares one scenario with the planner's answer.
func (c tried) promised(t *testing.T, seed uint64) {
	s := c.scenario(t)
	want := asked(t, s)
	r, err := simulate.Run(context.Background(), s, simulate.Options{Runs: 200_000, Seed: seed, Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range []struct {
		what    string
		counted interface{ Away(float64) float64 }
		said    float64
	}{
		{"delivered", r.Delivered, want.Delivered},
		{"confirmed", r.Confirmed, want.Confirmed},
		{"airtime", r.Airtime, want.AirtimeSeconds / s.Net.Slots.Keyed.Seconds()},
	} {
		if away := f.counted.Away(f.said); !(math.Abs(away) <= 3) {
			t.Errorf("%s: played %+v, promised %.6g: %.1f standard errors", f.what, f.counted, f.said, away)
		}
	}
	for level, minutes := range map[float64]float64{0.5: want.P50Minutes, 0.8: want.P80Minutes, 0.9: want.P90Minutes} {
		slot := -1
		for i := range r.Arrivals {
			if math.Abs(r.Minutes(i)-minutes) < 1e-9 {
				slot = i
			}
		}
		if slot < 0 != math.IsNaN(minutes) || !r.Agrees(level, slot, 3) {
			t.Errorf("%v of all tries: played slot %d, promised slot %d, %v minutes", level, r.Quantile(level), slot, minutes)
		}
	}
}

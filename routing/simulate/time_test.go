package simulate

import (
	"math"
	"testing"
	"time"

	"farhop/mesh"
)

// TestWindows plays sure links through windows, by hand.
func TestWindows(t *testing.T) {
	const day = 2160 // slots of 40 s
	cases := []struct {
		name            string
		windows         []string
		late            int64 // start, seconds after 18:00
		frames          int
		arrive, confirm int
	}{
		{"always", nil, 0, 3, 2, 4},
		{"opens later", []string{"19:00-20:00"}, 0, 3, 92, 94},
		{"closes between frames", []string{"18:02-18:04", "19:00-20:00"}, 0, 4, 90, 92},
		{"closes before the acknowledgment", []string{"18:02-18:04", "19:00-20:00"}, 0, 3, 5, 91},
		{"a slot must lie in it whole", []string{"18:01-18:03", "19:00-20:00"}, 0, 3, 90, 92},
		{"next day", []string{"17:00-17:02"}, 0, 1, day - 90, day - 88},
		{"next day but one", []string{"17:00-17:02"}, 0, 4, 2*day - 90, 2*day - 88},
		{"across midnight", []string{"23:58-00:02"}, 0, 4, 6*90 + 0, 6*90 + 2},
		{"start inside a slot", []string{"18:02-18:04", "19:00-20:00"}, 1, 4, 89, 91},
		{"start in the window", []string{"18:02-18:04", "19:00-20:00"}, 160, 4, 87, 89},
	}
	for _, c := range cases {
		s := scene(t, chain(1, 1, 1), c.frames, 72*time.Hour, func(n *mesh.Net) {
			if c.windows != nil {
				n.Channels[0].Windows = windows(t, c.windows...)
			}
		})
		s.Start += c.late
		r := playing(t, s, 2, 1)
		if r.Arrivals[c.arrive] != 2 || r.Confirmations[c.confirm] != 2 {
			t.Errorf("%s: arrives in slot %d, not %d; confirmed %v", c.name, r.Quantile(1), c.arrive, r.Confirmations[c.confirm])
		}
	}
}

// TestWatches: a hop needs both stations on the air and on its channel.
func TestWatches(t *testing.T) {
	s := scene(t, chain(2, 1, 1), 1, 24*time.Hour, func(n *mesh.Net) {
		n.Stations[0].OnAir = windows(t, "00:00-18:30")
		n.Stations[1].OnAir = windows(t, "18:20-23:00")
		n.Stations[2].OnAir = windows(t, "20:00-24:00")
	})
	r := playing(t, s, 2, 1)
	if r.Arrivals[180] != 2 { // A to B in slot 30, B to C at 20:00
		t.Errorf("arrives in slot %d", r.Quantile(1))
	}
	s.Net.Stations[2].OnAir = windows(t, "00:00-18:00") // B and C never meet
	r = playing(t, s, 2, 1)
	if r.Late.Count != 2 || r.Hops[0].Done.Count != 2 || r.Hops[1].Begun.Count != 0 || r.Airtime.Value != 2 {
		t.Errorf("two stations that never meet: %+v", r)
	}
}

// TestDeadline: a slot counts if it ends by the deadline.
func TestDeadline(t *testing.T) {
	for _, c := range []struct {
		late     int64
		deadline time.Duration
		slots    int
		arrived  int
	}{
		{0, 120 * time.Second, 3, 2},
		{0, 119 * time.Second, 2, 0},
		{0, 119*time.Second + 999*time.Millisecond, 2, 0},
		{1, 120 * time.Second, 2, 0},
		{1, 159 * time.Second, 3, 2},
		{39, 120 * time.Second, 2, 0},
		{39, 121 * time.Second, 3, 2},
		{1, time.Second, 0, 0},
	} {
		s := scene(t, chain(1, 1, 1), 3, c.deadline, nil)
		s.Start += c.late
		r := playing(t, s, 2, 1)
		if len(r.Arrivals) != c.slots || r.Delivered.Count != c.arrived || r.Late.Count != 2-c.arrived {
			t.Errorf("%v, %d s late: %d slots, delivered %v, late %v", c.deadline, c.late, len(r.Arrivals), r.Delivered, r.Late)
		}
		if minutes := float64((40-c.late)%40+120) / 60; c.arrived > 0 && math.Abs(r.MeanMinutes-minutes) > 1e-12 {
			t.Errorf("%v, %d s late: %v minutes, not %v", c.deadline, c.late, r.MeanMinutes, minutes)
		}
		if c.arrived == 0 && !math.IsNaN(r.MeanMinutes) {
			t.Errorf("a mean of nothing: %v", r.MeanMinutes)
		}
	}
}

// TestPastTheDeadline: what is keyed past the deadline counts, and giving up
// then is giving up.
func TestPastTheDeadline(t *testing.T) {
	s := scene(t, "A-B:1/- B-C:0", 2, time.Minute, nil)
	r := playing(t, s, 4, 1)
	if r.GivenUp.Count != 4 || r.Stations[1].Value != 1+2+5 || r.Hops[0].Done.Count != 4 {
		t.Errorf("%+v", r)
	}
}

// TestBusy: busy slots are waited out by frames, turnarounds and acknowledgments
// alike.
func TestBusy(t *testing.T) {
	const busy = 0.3
	s := scene(t, chain(1, 1, 1), 3, 10*time.Hour, func(n *mesh.Net) { n.Slots.Busy = busy })
	r := playing(t, s, 50_000, 1)
	in := 1.0 // the chance that 3 of the first slots are usable: 3 of 3, 4, 5
	for i, c := range []float64{1, 3, 6} {
		in = c * math.Pow(1-busy, 3) * math.Pow(busy, float64(i))
		at := Share{r.Arrivals[2+i], r.Runs}
		within(t, "arrival", at, in)
	}
	within(t, "confirmed after five usable slots", Share{r.Confirmations[4], r.Runs}, math.Pow(1-busy, 5))
	within(t, "or six slots", Share{r.Confirmations[5], r.Runs}, 5*math.Pow(1-busy, 5)*busy)
	if r.Airtime.Value != 4 || r.Airtime.StandardError != 0 {
		t.Errorf("busy slots were keyed: %+v", r.Airtime)
	}
}

// TestBusyAtTheEdge: when the last slot of a window is busy the frame waits for
// the next window, not for the next slot.
func TestBusyAtTheEdge(t *testing.T) {
	s := scene(t, chain(1, 1, 1), 1, 2*time.Hour, func(n *mesh.Net) {
		n.Slots.Busy = 0.3
		n.Channels[0].Windows = windows(t, "18:02-18:04", "19:00-20:00")
	})
	r := playing(t, s, 50_000, 1)
	chance := 0.7
	for _, slot := range []int{3, 4, 5, 90, 91} {
		within(t, "arrival", Share{r.Arrivals[slot], r.Runs}, chance)
		chance *= 0.3
	}
	if r.By(89) != r.By(5) {
		t.Error("arrived between the windows")
	}
}

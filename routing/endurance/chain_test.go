package endurance

import (
	"math"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/meshtest"
	"farhop/routing/timetable"
)

// A station that keys for a message reaches its reserve as in a timetable that
// reserves the same slots for it, and as division says.
func TestCheckerAgreesWithTimetable(t *testing.T) {
	for seed := range uint64(20) {
		n, tt := randomCase(t, seed)
		for _, x := range tt.Reservations[:6] {
			slots := int(math.Ceil(x.Sent))
			alone := *tt
			alone.Reservations = []timetable.Reservation{{From: x.From, To: []int{3}, Start: x.Start, Slots: slots, Sent: x.Sent}}
			o := Options{Charge: 0.5}
			r, err := Run(n, &alone, o)
			if err != nil {
				t.Fatal(err)
			}
			c, err := NewChecker(n, tt.First-5, time.Duration(tt.Slots)*40*time.Second+5*time.Second, o)
			if err != nil {
				t.Fatal(err)
			}
			got := c.Passing([]Use{{Station: x.From, From: x.Start + 17, KeyedSeconds: x.Sent * n.Slots.Keyed.Seconds()}})
			want := r.Stations[x.From]
			if math.IsNaN(want.ReserveHours) != (len(got) == 0) {
				t.Fatalf("seed %d: %+v, want %+v", seed, got, want)
			}
			if len(got) > 0 && (got[0].At != tt.First+int64(math.Round(want.ReserveHours*3600)) || got[0].IdleAt != Moment(tt.First, want.IdleReserveHours)) {
				t.Errorf("seed %d: %+v, want %+v", seed, got, want)
			}
		}
	}
}

// 100 Wh above the reserve under a receiver of 10 W last ten hours; an hour of
// keying at 50 W in place of it takes 40 Wh more, four hours of them.
func TestCheckerByArithmetic(t *testing.T) {
	n := meshtest.Net(t, "A-B:0.9 B-C:0.9")
	n.Stations[1].Supply = &mesh.Supply{BatteryWh: 125, Reserve: 0.2, ReceiveW: 10, TransmitW: 50}
	start := int64(1773600000)
	keyed := time.Hour.Seconds()
	for _, c := range []struct {
		horizon time.Duration
		at      float64 // hours, 0 = not
		idle    float64
	}{{5 * time.Hour, 0, 0}, {8 * time.Hour, 6, 0}, {11 * time.Hour, 6, 10}} {
		k, err := NewChecker(n, start, c.horizon, Options{})
		if err != nil {
			t.Fatal(err)
		}
		got := k.Passing([]Use{{0, start, keyed}, {1, start, keyed}, {2, start, keyed}})
		switch {
		case c.at == 0 && len(got) > 0:
			t.Errorf("%v: %+v", c.horizon, got)
		case c.at > 0 && (len(got) != 1 || got[0].Station != 1 || got[0].At != start+int64(c.at*3600) || (got[0].IdleAt != 0) != (c.idle > 0) || c.idle > 0 && got[0].IdleAt != start+int64(c.idle*3600)):
			t.Errorf("%v: %+v, want at %g h, idle %g h", c.horizon, got, c.at, c.idle)
		}
	}
	if _, err := NewChecker(n, start, time.Hour, Options{Charge: 2}); err == nil {
		t.Error("a charge of 2 is taken")
	}
}

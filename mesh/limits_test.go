package mesh

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

// A stretch touches windows when any of its seconds lies in one.
func TestTouchesSecondBySecond(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var spans []Span
		for range rapid.IntRange(0, 3).Draw(t, "spans") {
			spans = append(spans, Span{rapid.IntRange(0, DaySeconds-1).Draw(t, "start"), rapid.IntRange(1, 40_000).Draw(t, "seconds")})
		}
		w := merge(spans)
		at, length := rapid.IntRange(0, DaySeconds-1).Draw(t, "at"), rapid.IntRange(1, 3600).Draw(t, "length")
		want := false
		for k := range length {
			want = want || w.Holds((at+k)%DaySeconds, 1)
		}
		if got := w.Touches(at, length); got != want {
			t.Fatalf("%v touches %d seconds from %d: %v, want %v", w, length, at, got, want)
		}
	})
}

// limited is a net with quiet hours for all and for MILL, and noise.
func limited(t *testing.T) *Net {
	n := smallNet()
	n.Limits = DefaultLimits()
	n.Limits.DutyLimit, n.Limits.ClearHz = 0.5, 120
	n.Limits.Quiet, _ = ParseWindows([]string{"12:00-12:06"})
	n.Stations[2].Quiet, _ = ParseWindows([]string{"09:00-09:30"})
	n.Stations[2].DutyLimit = 0.2
	n.Channels[0].OffsetsHz, n.Channels[0].NoisyHz = []int{800, 1200, 1600}, []int{1250}
	n.Stations[2].Noisy = []Noise{{Channel: 0, OffsetHz: 1500}}
	return prepared(t, n)
}

func TestQuietHours(t *testing.T) {
	n := limited(t)
	harbor, mill := 0, 1
	at := func(clock string) int64 {
		v, err := time.Parse("2006-01-02 15:04:05", "2026-03-02 "+clock)
		if err != nil {
			t.Fatal(err)
		}
		return v.Unix()
	}
	for _, c := range []struct {
		clock         string
		harbor, mills bool
	}{
		{"08:59:20", false, false},
		{"09:00:00", false, true},
		{"09:29:20", false, true},
		{"09:30:00", false, false},
		{"11:59:20", false, false},
		{"12:00:00", true, true},
		{"12:05:20", true, true},
		{"12:06:00", false, false},
	} {
		if got := n.Quiet(harbor, at(c.clock)); got != c.harbor {
			t.Errorf("%s: HARBOR quiet %v", c.clock, got)
		}
		if got := n.Quiet(mill, at(c.clock)); got != c.mills || n.MaySend(mill, at(c.clock)) == c.mills {
			t.Errorf("%s: MILL quiet %v", c.clock, got)
		}
		if got := n.OpenSlot(harbor, mill, 0, at(c.clock)); got != !c.mills || !n.Listens(mill, 0, at(c.clock)) {
			t.Errorf("%s: open %v", c.clock, got)
		}
	}
	if n.Duty(harbor) != 0.5 || n.Duty(mill) != 0.2 {
		t.Errorf("duty limits %g and %g", n.Duty(harbor), n.Duty(mill))
	}
	// MILL sounds every 45 minutes after 00:07; the one at 09:07 falls in its quiet hours.
	if n.SoundsOn(mill, 0, at("09:07:20")) || !n.SoundsOn(mill, 0, at("08:22:00")) {
		t.Error("it sounds in its quiet hours, or not at all")
	}
}

func TestOffsetClear(t *testing.T) {
	n := limited(t)
	for _, c := range []struct {
		station, hz int
		want        bool
	}{{0, 800, true}, {0, 1200, false}, {0, 1600, true}, {1, 800, true}, {1, 1200, false}, {1, 1600, false}, {1, 1620, true}} {
		if got := n.OffsetClear(c.station, 0, c.hz); got != c.want {
			t.Errorf("%s at %d Hz: %v", n.Stations[c.station].Call, c.hz, got)
		}
	}
	if !n.OffsetClear(1, 1, 1500) {
		t.Error("a noise on another channel counts")
	}
}

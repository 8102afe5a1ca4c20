package mesh

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// at is the Unix time of a time of day on an ordinary Monday.
func at(hour, minute, second int) int64 {
	return time.Date(2026, 3, 2, hour, minute, second, 0, time.UTC).Unix()
}

func TestMidway(t *testing.T) {
	s := DefaultSlots() // 40 s, G and A of 1
	for _, tt := range []struct {
		frames, block int
		busy          float64
		want          time.Duration
	}{
		{1, 0, 0, 4 * 40 * time.Second},
		{9, 0, 0, 8 * time.Minute},
		{9, 0, 0.25, 640 * time.Second}, // 12 slots, and 4 that others take
		{42, 10, 0, 38 * time.Minute},   // 5 blocks: 57 slots
		{87, 0, 0.5, 2 * time.Hour},
		{math.MaxInt32, 1, 0.99, 1e9 * time.Second},
	} {
		s.Block, s.Busy = tt.block, tt.busy
		if got := s.Midway(tt.frames); got != tt.want {
			t.Errorf("Midway(%d), blocks of %d, busy %g = %v, want %v", tt.frames, tt.block, tt.busy, got, tt.want)
		}
	}
}

func TestFrames(t *testing.T) {
	s := DefaultSlots() // 18 characters, 1 header, 40 s
	tests := []struct {
		characters, header int
		identify           time.Duration
		want               int
	}{
		{130, 1, 0, 9}, // ⌈130/18⌉ + 1
		{18, 1, 0, 2},
		{19, 1, 0, 3},
		{1, 1, 0, 2},
		{0, 1, 0, 1},
		{0, 0, 0, 1},
		{-5, 2, 0, 2},
		{130, 1, 10 * time.Minute, 9},          // 6 min on the air
		{18 * 14, 1, 10 * time.Minute, 15 + 1}, // 10 min sharp
		{18*30 - 1, 0, 10 * time.Minute, 30 + 2},
		{5000, 1, 10 * time.Minute, 279 + 18},
		{math.MaxInt, 1, time.Nanosecond, math.MaxInt32},
	}
	for _, tt := range tests {
		s.Header, s.Identify = tt.header, tt.identify
		if got := s.Frames(tt.characters); got != tt.want {
			t.Errorf("Frames(%d), header %d, identify %v = %d, want %d", tt.characters, tt.header, tt.identify, got, tt.want)
		}
	}
}

func TestSlotBoundaries(t *testing.T) {
	s := DefaultSlots()
	midnight := at(0, 0, 0)
	for _, tt := range []struct{ in, start, holding int64 }{
		{midnight, midnight, midnight},
		{midnight + 1, midnight + 40, midnight},
		{midnight - 1, midnight, midnight - 40},
		{-1, 0, -40},
		{-40, -40, -40},
	} {
		if got := s.Start(tt.in); got != tt.start {
			t.Errorf("Start(%d) = %d, want %d", tt.in, got, tt.start)
		}
		if got := s.Holding(tt.in); got != tt.holding {
			t.Errorf("Holding(%d) = %d, want %d", tt.in, got, tt.holding)
		}
	}
	if s.PerDay() != 2160 {
		t.Errorf("PerDay = %d", s.PerDay())
	}
}

func TestWatch(t *testing.T) {
	n := smallNet() // day 06–18, night 17–07
	n.Stations[1].OnAir = mustWindows(t, "05:00-22:00")
	prepared(t, n)
	const harbor, mill, summit, day, night = 0, 1, 2, 0, 1
	tests := []struct {
		name       string
		station    int
		slot       int64
		watch      int // −1 none
		day, night bool
	}{
		{"day before night in its list", harbor, at(6, 30, 0), day, true, false},
		{"night before the day opens", harbor, at(5, 59, 20), night, false, true},
		{"the slot that crosses into the day", harbor, at(5, 59, 40), night, false, true},
		{"off the air", harbor, at(4, 59, 20), -1, false, false},
		{"off the air in the middle of the slot", harbor, at(21, 59, 40), -1, false, false},
		{"all channels in window", mill, at(17, 30, 0), night, true, true},
		{"all, day only", mill, at(12, 0, 0), day, true, false},
		{"only the day channel", summit, at(12, 0, 0), day, true, false},
		{"its only channel is closed", summit, at(20, 0, 0), -1, false, false},
	}
	for _, tt := range tests {
		c, ok := n.WatchOf(tt.station, tt.slot)
		if !ok {
			c = -1
		}
		if c != tt.watch {
			t.Errorf("%s: watch %d, want %d", tt.name, c, tt.watch)
		}
		if d, g := n.Listens(tt.station, day, tt.slot), n.Listens(tt.station, night, tt.slot); d != tt.day || g != tt.night {
			t.Errorf("%s: listens to day %v, night %v, want %v, %v", tt.name, d, g, tt.day, tt.night)
		}
	}
	// HARBOR watches day at 17:30, MILL hears both.
	if !n.OpenSlot(harbor, mill, day, at(17, 30, 0)) || n.OpenSlot(harbor, mill, night, at(17, 30, 0)) {
		t.Error("a hop is open where both listen, and only there")
	}
	if n.OpenSlot(harbor, harbor, day, at(12, 0, 0)) {
		t.Error("a station has no hop to itself")
	}
}

func TestSoundingSlots(t *testing.T) {
	n := prepared(t, smallNet()) // MILL sounds on day (06–18) every 45 min after 7
	var got []string
	for k := range n.Slots.PerDay() {
		slot := at(0, 0, 0) + k*40
		if c, ok := n.Sounds(1, slot); ok && c == 0 {
			got = append(got, time.Unix(slot, 0).UTC().Format("15:04:05"))
		}
	}
	// Due at 06:07 + n·45 min; a slot starts every 40 s, so those due at an odd time wait.
	want := []string{
		"06:07:20", "06:52:00", "07:37:20", "08:22:00", "09:07:20", "09:52:00", "10:37:20", "11:22:00",
		"12:07:20", "12:52:00", "13:37:20", "14:22:00", "15:07:20", "15:52:00", "16:37:20", "17:22:00",
	}
	if len(got) != len(want) {
		t.Fatalf("soundings %v, want %v", got, want)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("sounding %d at %s, want %s", i, got[i], want[i])
		}
	}
}

// TestSoundingsEachOnce holds every schedule against a list of due times: each
// is followed by exactly one slot, the next.
func TestSoundingsEachOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		length := rapid.SampledFrom([]int{7200, 120, 90, 40, 60, 86400}).Draw(t, "length")
		every := rapid.IntRange(length, DaySeconds).Draw(t, "every")
		after := rapid.IntRange(0, every-1).Draw(t, "after")
		s := Sounding{Every: time.Duration(every) * time.Second, After: time.Duration(after) * time.Second}
		want := make(map[int]bool)
		for due := after; due < DaySeconds; due += every {
			want[(due+length-1)/length*length%DaySeconds] = true
		}
		for second := 0; second < DaySeconds; second += length {
			if got := s.due(second, length); got != want[second] {
				t.Fatalf("every %d after %d, slots of %d s: due at %d is %v", every, after, length, second, got)
			}
		}
	})
}

package view

import (
	"strings"
	"testing"
	"time"
)

func TestPromise(t *testing.T) {
	for _, c := range []struct {
		p    Promise
		want string
	}{
		{Promise{17.6, 8.8, 19.4}, "+18 (9 to 19)"},
		{Promise{8.2, 8.1, 8.4}, "+8"},
		{Promise{3, -0.4, 5}, "+3 (0 to 5)"},
	} {
		if got := c.p.String(); got != c.want {
			t.Errorf("%+v: %q, want %q", c.p, got, c.want)
		}
	}
}

func TestWattsAndDB(t *testing.T) {
	for got, want := range map[string]string{
		Watts(0.5): "0.5 W", Watts(4): "4 W", Watts(12.6): "13 W", Watts(1500): "1,500 W", DB(-0.2): "0 dB", DB(-12.6): "-13 dB",
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestHoursVerdict(t *testing.T) {
	day := time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)
	v := &Resilience{Head: Head{Clock: Clock{Day: day}}}
	for h := range 24 {
		row := Hour{At: day.Add(time.Duration(h) * time.Hour), OnAir: 5, LargestGroup: 5}
		if h >= 6 && h < 9 {
			row.LargestGroup = 3 - h%2
		}
		v.Hours = append(v.Hours, row)
	}
	want := "All that are on the air are in one group at 21 of 24 hours. Most parted at 3 Mar 01:00Z: 2 of 5 in the largest group."
	if got := hoursVerdict(v.Hours, v.Clock); got != want {
		t.Errorf("%q, want %q", got, want)
	}
	v.Hours = v.Hours[:6]
	if got := hoursVerdict(v.Hours, v.Clock); !strings.Contains(got, "at every hour") {
		t.Errorf("%q", got)
	}
}

// A pair of which nothing is known has a dash, not a figure.
func TestHoursKeepUnknown(t *testing.T) {
	v := &Resilience{Hours: []Hour{{OnAir: 3, UnknownLinks: 6}}}
	var d Document
	v.hours(&d)
	row := d.Blocks[len(d.Blocks)-1].Table.Rows[0]
	if row[6] != "6" || row[7] != "-" {
		t.Errorf("row %q", row)
	}
}

// Help tells of many stations briefly, and of the rest how many they are.
func TestHelpIsShort(t *testing.T) {
	v := &Resilience{Head: Head{Evidence: &Evidence{}}}
	for range mostHelped + 3 {
		v.Help = append(v.Help, Help{Station: "MILL", State: "deaf", Because: "noise.", Try: "another aerial."})
	}
	var d Document
	v.help(&d)
	if n := len(d.Blocks); n != 1+mostHelped+1 || !strings.HasPrefix(d.Blocks[n-1].Text, "And 3 more") {
		t.Errorf("%d blocks, the last %q", n, d.Blocks[n-1].Text)
	}
	if got, want := d.Blocks[1].Text, "MILL, deaf: noise. Nobody has reported it. It has reported nobody. Try: another aerial."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestBeforeAndAfter(t *testing.T) {
	r := &Route{}
	if r.comparison() != "" {
		t.Error("a comparison although nothing was assumed")
	}
	r.Before = &Unassumed{Stations: []string{"HARBOR", "MILL"}, DeliveredByDeadline: 0.4}
	want := "Without the assumptions: HARBOR → MILL, delivered by the deadline with 40 %.\nWith them: no chain."
	if got := r.comparison(); got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

package view

import (
	"strings"
	"testing"
	"time"
)

func TestEarshotStrip(t *testing.T) {
	e := Earshot{Hours: []HourMark{
		{State: CellNone, Decode: 0.9},
		{State: CellUnknown, Decode: 0.9},
		{State: CellOpen, Decode: 0},
		{State: CellOpen, Decode: 0.099},
		{State: CellOpen, Decode: 0.5},
		{State: CellOpen, Decode: 0.8999},
		{State: CellOpen, Decode: 0.95},
		{State: CellOpen, Decode: 1},
	}}
	if got, want := e.strip(), "-?005899"; got != want {
		t.Errorf("strip %q, want %q", got, want)
	}
	if got := ruler(22); got != "22.01.04.07.10.13.16.19." {
		t.Errorf("ruler %q", got)
	}
}

func TestStaleWords(t *testing.T) {
	c := Clock{Day: time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC), Zone: time.FixedZone("", -3*3600)}
	at := time.Date(2026, 3, 2, 4, 15, 0, 0, time.UTC)
	for _, x := range []struct {
		stale Stale
		want  string
	}{
		{Stale{}, "STALE NOW"},
		{Stale{NextHop: 3, Ahead: 48}, "more than 48 h"},
		{Stale{NextHop: 3, Ahead: 48, At: &at}, "STALE AFTER 2026-03-02 04:15Z (01:15 local)"},
	} {
		if got := x.stale.say(c); !strings.Contains(got, x.want) {
			t.Errorf("%+v: %q lacks %q", x.stale, got, x.want)
		}
	}
}

// A whole day, a window past midnight and a station that is never on.
func TestWatchTable(t *testing.T) {
	v := Brief{Channels: []BriefChannel{{Name: "day", FrequencyHz: 7131000, OffsetsHz: []int{800}}, {Name: "night", FrequencyHz: 3651500}}}
	s := Sheet{Watch: []WatchSpan{{From: 3600, To: 80000, Channels: []string{"day", "night"}}, {From: 80000, To: 3600, Channels: []string{}}}}
	table := v.watchTable(&s)
	if got := strings.Join(table.Rows[0], "|"); got != "01:00Z|22:13:20Z|day and night|7131 and 3651.5|800 / " {
		t.Errorf("%q", got)
	}
	if got := strings.Join(table.Rows[1], "|"); got != "22:13:20Z|01:00Z|off the air||" {
		t.Errorf("%q", got)
	}
	v.Clock.Zone = time.FixedZone("", -3*3600)
	if got := v.watchTable(&s).Rows[0][2]; got != "22:00-19:13" {
		t.Errorf("local %q", got)
	}
}

func TestBatteryWords(t *testing.T) {
	v := Brief{Batteries: &Endurance{Charge: 1}, Slots: SlotScheme{KeyedSeconds: 30}}
	at := time.Date(2026, 3, 2, 4, 15, 0, 0, time.UTC)
	s := Sheet{Battery: &BatteryLimit{SpareWh: 10, SpareFrames: 20, Station: StationBattery{CapacityWh: 100, LowestCharge: 0.3, Reserve: 0.2}}}
	if got := v.sayBattery(&s); !strings.Contains(got, "key 20 frames (10 min) beyond the plan") {
		t.Errorf("%q", got)
	}
	s.Battery.Station.ReserveAt = &at
	if got := v.sayBattery(&s); !strings.Contains(got, "You reach the reserve at") || strings.Contains(got, "beyond") {
		t.Errorf("%q", got)
	}
	s.Battery.Station.EmptyAt = &at
	if got := v.sayBattery(&s); !strings.HasSuffix(got, " It is flat at 2 Mar 04:15Z.") {
		t.Errorf("%q", got)
	}
	if got := v.sayBattery(&Sheet{}); !strings.Contains(got, "No battery is stated") {
		t.Errorf("%q", got)
	}
}

package view

import (
	"math"
	"strings"
	"testing"
	"time"
)

func TestChance(t *testing.T) {
	for _, c := range []struct {
		p    float64
		want string
	}{
		{1, "almost certain, over 99 in 100"},
		{0.97, "almost certain, about 97 in 100"},
		{0.8, "likely, about 8 in 10"},
		{0.75, "likely, about 8 in 10"},
		{0.6, "more likely than not, about 6 in 10"},
		{0.5, "an even chance, about 5 in 10"},
		{0.3, "less likely than not, about 3 in 10"},
		{0.1, "unlikely, about 1 in 10"},
		{0.02, "very unlikely, about 2 in 100"},
		{0, "no real hope, under 1 in 100"},
		{math.NaN(), "unknown"},
	} {
		if got := Chance(c.p); got != c.want {
			t.Errorf("Chance(%v) = %q, want %q", c.p, got, c.want)
		}
	}
}

// A share that isn't certain is never shown as 100 %, nor a possible one as 0 %.
func TestPercentKeepsDoubt(t *testing.T) {
	for _, c := range []struct {
		p    float64
		want string
	}{
		{1, "100 %"}, {0.9999, "99+ %"}, {0.994, "99 %"}, {0.5, "50 %"}, {0.004, "<1 %"}, {0, "0 %"}, {math.NaN(), "?"},
	} {
		if got := Percent(c.p); got != c.want {
			t.Errorf("Percent(%v) = %q, want %q", c.p, got, c.want)
		}
	}
}

// Nor is a share of draws, though all or none of them were so.
func TestDrawnPercents(t *testing.T) {
	for p, want := range map[float64]string{1: "99+", 0.9: "90", 0: "<1"} {
		if got := DrawnPercents(p); got != want {
			t.Errorf("DrawnPercents(%v) = %q, want %q", p, got, want)
		}
	}
	low, high := 0.97, 1.0
	for _, c := range []struct {
		pair PairReach
		want string
	}{
		{PairReach{Reach: 1}, "100 %"},
		{PairReach{Reach: 1, ReachLow: &low, ReachHigh: &high}, "99+ % (97 to 99+)"},
		{PairReach{Reach: 0.97, ReachLow: &low, ReachHigh: &low}, "97 %"},
	} {
		if got := c.pair.reach(); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

func TestClock(t *testing.T) {
	day := time.Date(2026, 3, 2, 22, 0, 0, 0, time.UTC)
	utc := Clock{Day: day}
	local := Clock{Day: day, Zone: time.FixedZone("-03:00", -3*3600)}
	at := func(h, m, s int) time.Time { return time.Date(2026, 3, 2, h, m, s, 0, time.UTC) }
	for _, c := range []struct{ got, want string }{
		{utc.At(at(23, 10, 0)), "23:10Z"},
		{utc.At(at(23, 10, 40)), "23:10:40Z"},
		{utc.At(at(25, 10, 0)), "3 Mar 01:10Z"},
		{local.At(at(23, 10, 0)), "23:10Z (20:10 local)"},
		{utc.Short(at(25, 10, 1)), "01:11Z"},
		{utc.Short(at(47, 0, 0)), "3 Mar 23:00Z"},
		{utc.Slot(at(25, 10, 1)), "01:10:01Z"},
		{local.Slot(at(25, 10, 0)), "01:10Z"},
		{utc.Slot(at(47, 0, 40)), "3 Mar 23:00:40Z"},
		{utc.Slot(at(21, 0, 40)), "21:00:40Z"},
		{utc.After(day, 90.5), "23:31Z"},
		{utc.Date(day), "2026-03-02 22:00Z"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

func TestAgeAndGrouping(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{Age(30 * time.Second), "30 s"},
		{Age(99 * time.Minute), "99 min"},
		{Age(5*time.Hour + 40*time.Minute), "6 h"},
		{Age(73 * time.Hour), "3 d"},
		{Grouped(1234567), "1,234,567"},
		{Grouped(-1234), "-1,234"},
		{Grouped(12), "12"},
		{Whole(-0.3), "0"},
		{Whole(-12.6), "-13"},
		{Count(1, "report", "reports"), "1 report"},
		{Count(1000, "report", "reports"), "1,000 reports"},
		{Names([]string{"A", "B", "C"}), "A, B and C"},
		{Names(nil), "none"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

// The sentence about the evidence accounts for every report read.
func TestEvidenceSentence(t *testing.T) {
	e := Evidence{Read: 20, Used: 10, Duplicate: 1, OutsideWindow: 5, AfterMoment: 2, OutsideNet: 3, Rejected: 1}
	want := "20 reports read: 10 used, 1 duplicate, 3 before the time window, 2 after the moment, set apart, 3 outside the net, 1 rejected."
	if got := e.String(); got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestHeadSaysMomentAndAgeFirst(t *testing.T) {
	at := time.Date(2026, 3, 2, 22, 0, 0, 0, time.UTC)
	newest := at.Add(-5 * time.Minute)
	h := Head{At: at, Clock: Clock{Day: at}, Evidence: &Evidence{Newest: &newest}, Caution: Caution}
	d := h.open("Title")
	first, _, _ := strings.Cut(d.Blocks[0].Text, "\n")
	if want := "For 2026-03-02 22:00Z; the newest evidence is 5 min old."; first != want {
		t.Errorf("first line %q, want %q", first, want)
	}
	h.close(&d)
	if last := d.Blocks[len(d.Blocks)-1].Notes; last[len(last)-1] != Caution {
		t.Error("the caution doesn't end the answer")
	}
}

// Of many stations that reach their reserve the first are named, and the rest counted.
func TestEnduranceSummary(t *testing.T) {
	v := &Endurance{Planned: 1, Listed: 2, Head: Head{Clock: Clock{Day: time.Date(2026, 3, 16, 0, 0, 0, 0, time.UTC)}}}
	for i := range 11 {
		at := time.Date(2026, 3, 16, 20-i, 0, 0, 0, time.UTC)
		v.Stations = append(v.Stations, StationBattery{Call: string(rune('A' + i)), ReserveAt: &at})
	}
	got := v.Summary()
	if want := "With 1 of 2 messages planned: the reserve is reached by K at 10:00Z, J at 11:00Z, "; !strings.HasPrefix(got, want) {
		t.Errorf("%q doesn't begin with %q", got, want)
	}
	if !strings.HasSuffix(got, "D at 17:00Z and 3 more stations.") {
		t.Errorf("it ends %q", got)
	}
	v.Stations[4].EmptyAt = v.Stations[3].ReserveAt
	if got := v.Summary(); !strings.HasSuffix(got, "3 more stations. Flat: E at 17:00Z.") {
		t.Errorf("it ends %q", got)
	}
}

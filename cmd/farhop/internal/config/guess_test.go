package config

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"gopkg.in/yaml.v3"
	"pgregory.net/rapid"

	"farhop/mesh"
	"farhop/observations"
)

func TestGuessSlot(t *testing.T) {
	times := func(n int, step, after int64) []observations.Report {
		out := make([]observations.Report, n)
		for i := range out {
			out[i].Time = march + int64(i)*step + after
		}
		return out
	}
	stray := times(2000, 40, 0)
	stray[7].Time++
	minutes := append(times(980, 120, 0), times(20, 40, 0)...) // mostly sent every second minute
	rough := append(times(970, 30, 0), times(30, 7, 1)...)
	for _, c := range []struct {
		name    string
		reports []observations.Report
		want    int64
	}{
		{"exact", times(100, 40, 0), 40},
		{"one stray", stray, 40},
		{"soundings on whole minutes", minutes, 40},
		{"a poor clock", rough, 30},
		{"end of slot", times(100, 120, 3), 120},
		{"few", times(4, 15, 0), 40},
		{"no grid", times(100, 7, 0), 40},
		{"before 1970", times(100, 40, -march-4000), 40},
	} {
		if got := guessSlot(c.reports, 0); got.seconds != c.want || got.given || got.why == "" {
			t.Errorf("%s: %+v, want %d", c.name, got, c.want)
		}
	}
	if got := guessSlot(times(100, 40, 0), 15*time.Second); got.seconds != 15 || !got.given {
		t.Errorf("given: %+v", got)
	}
}

func TestDayWindows(t *testing.T) {
	for _, c := range []struct {
		counts map[int]int
		want   string
	}{
		{map[int]int{}, ""},
		{map[int]int{12: 5}, "11:00-14:00"},
		{map[int]int{0: 5}, "23:00-02:00"},
		{map[int]int{23: 5}, "22:00-01:00"},
		{map[int]int{22: 5}, "21:00-24:00"},
		{map[int]int{3: 5, 15: 5}, "02:00-05:00 14:00-17:00"},
		{map[int]int{22: 5, 1: 5}, "21:00-03:00"},
		{map[int]int{12: 500, 3: 1}, "11:00-14:00"}, // a stray one
		{map[int]int{1: 5, 4: 5, 7: 5, 10: 5, 13: 5, 16: 5, 19: 5, 22: 5}, ""},
	} {
		var hours [24]int
		for h, n := range c.counts {
			hours[h] = n
		}
		list := dayWindows(marked(hours, 200), 2)
		if got := strings.Join(list, " "); got != c.want {
			t.Errorf("%v: %q, want %q", c.counts, got, c.want)
		}
		w, err := mesh.ParseWindows(list)
		if err != nil {
			t.Error(err)
		}
		for h := range c.counts {
			if list != nil && c.counts[h] > 1 && !w.Holds(h*3600, 3600) {
				t.Errorf("%v do not hold hour %d", list, h)
			}
		}
	}
}

// Whatever hours are active, the windows hold each of them.
func TestDayWindowsHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var hours [24]int
		for h := range hours {
			hours[h] = rapid.IntRange(0, 1).Draw(t, "hour")
		}
		list := dayWindows(marked(hours, 200), 0)
		w, err := mesh.ParseWindows(list)
		if err != nil {
			t.Fatal(err)
		}
		for h, n := range hours {
			near := n + hours[(h+1)%24] + hours[(h+23)%24]
			if list != nil && w.Holds(h*3600, 3600) != (near > 0) {
				t.Fatalf("hour %d of %v in %v", h, hours, list)
			}
		}
	})
}

func TestGuessSoundings(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	// heard gives the starts of the slots of schedules over some days, each heard with a chance.
	heard := func(days int64, slot int64, chance float64, list ...schedule) []int64 {
		var at []int64
		for _, s := range list {
			for d := range days {
				for due := s.after; due < 86400; due += s.every {
					if rng.Float64() < chance {
						at = append(at, march+d*86400+(due+slot-1)/slot*slot)
					}
				}
			}
		}
		slices.Sort(at)
		return slices.Compact(at)
	}
	traffic := func(days, slot int64, chance float64) []int64 {
		var at []int64
		for t := march; t < march+days*86400; t += slot {
			if rng.Float64() < chance {
				at = append(at, t)
			}
		}
		return at
	}
	mix := func(a, b []int64) []int64 {
		all := append(slices.Clone(a), b...)
		slices.Sort(all)
		return slices.Compact(all)
	}
	hourly := []schedule{{every: 3600, after: 720}}
	for _, c := range []struct {
		name string
		at   []int64
		slot int64
		want []schedule
	}{
		{"every hour", heard(10, 40, 0.5, hourly...), 40, hourly},
		{"every 20 minutes, weak", heard(20, 120, 0.4, schedule{every: 1200, after: 480}), 120, []schedule{{every: 1200, after: 480}}},
		{"inside slots", heard(10, 40, 0.9, schedule{every: 2700, after: 420}), 40, []schedule{{every: 2700, after: 420}}},
		{
			"twice an hour, unevenly", heard(10, 40, 0.9, schedule{every: 3600, after: 440}, schedule{every: 3600, after: 1200}), 40,
			[]schedule{{every: 3600, after: 440}, {every: 3600, after: 1200}},
		},
		{"once a day", heard(10, 40, 1, schedule{every: 86400, after: 36000}), 40, []schedule{{every: 86400, after: 36000}}},
		{"with traffic", mix(heard(10, 40, 0.95, hourly...), traffic(10, 40, 0.08)), 40, hourly},
		{"traffic only", traffic(10, 40, 0.1), 40, nil},
		{"always sending", traffic(10, 40, 0.95), 40, nil},
		{"too few", heard(1, 40, 1, schedule{every: 18000, after: 0}), 40, nil},
	} {
		got := guessSoundings(c.at, c.slot)
		for i := range got {
			got[i].hits = 0
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

func TestLowSNRAndMedian(t *testing.T) {
	snrs := make([]float32, 1000)
	for i := range snrs {
		snrs[i] = float32((i*7919)%1000)/10 - 60 // −60 … 39.9, each once
	}
	if got := lowSNR(snrs); got != -55 {
		t.Errorf("5 %% point %v, want -55", got)
	}
	if got := lowSNR(snrs[:199]); got != 0 {
		t.Errorf("too few give %v", got)
	}
	for _, c := range []struct {
		counts map[float64]int
		want   float64
	}{{nil, 0}, {map[float64]int{5: 1}, 5}, {map[float64]int{5: 2, 10: 1}, 5}, {map[float64]int{5: 1, 10: 1, 20: 1}, 10}, {map[float64]int{5: 1, 20: 5}, 20}} {
		if got := median(c.counts); got != c.want {
			t.Errorf("median of %v is %v, want %v", c.counts, got, c.want)
		}
	}
}

// Any text comes back through YAML as it was.
func TestScalar(t *testing.T) {
	check := func(t interface{ Fatalf(string, ...any) }, s string) {
		var n yaml.Node
		if err := yaml.Unmarshal([]byte(scalar(s)), &n); err != nil || n.Content[0].Value != s || n.Content[0].ShortTag() != "!!str" {
			t.Fatalf("%q is written as %s", s, scalar(s))
		}
	}
	for _, s := range []string{"", "HARBOR", "NULL", "no", "Y", "1E5", "0x1", "80m", "~", "a: b", "#", "-", "\n", "é", "\x00", "True", "INF", "a b"} {
		check(t, s)
	}
	rapid.Check(t, func(t *rapid.T) { check(t, rapid.String().Draw(t, "text")) })
}

package link

import (
	"compress/gzip"
	"encoding/csv"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"time"
)

// heard is one report of the real sets.
type heard struct {
	unix int64
	snr  float64
}

// readReal reads a set beside the repository, grouped by what key makes of a
// line's receiver and frequency in MHz. It skips the test where there is none.
func readReal(t *testing.T, name string, key func(receiver string, mhz int) string) map[string][]heard {
	t.Helper()
	path := filepath.Join("..", "..", "..", "shared", "data", name)
	f, err := os.Open(path)
	if err != nil {
		t.Skipf("no real reports here (%s is absent)", path)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	lines, err := csv.NewReader(z).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := map[string]int{}
	for i, title := range lines[0] {
		column[title] = i
	}
	links := map[string][]heard{}
	for _, line := range lines[1:] {
		at, err := time.Parse(time.RFC3339, line[column["time"]])
		if err != nil {
			t.Fatal(err)
		}
		snr, err := strconv.ParseFloat(line[column["snr_db"]], 64)
		if err != nil {
			t.Fatal(err)
		}
		hz, err := strconv.Atoi(line[column["frequency_hz"]])
		if err != nil {
			t.Fatal(err)
		}
		k := key(line[column["receiver"]], hz/1_000_000)
		links[k] = append(links[k], heard{at.Unix(), snr})
	}
	return links
}

// score is a running Brier score of the model and of the link's base rate.
type score struct{ n, model, base float64 }

// replay forecasts every scored slot of one link with evidence no younger than the
// horizon, in order of time.
func replay(m *Model, reports []heard, slots []int64, horizon, from int64, every int, to *score) {
	snr := map[int64]float64{}
	for _, r := range reports {
		if old, ok := snr[r.unix]; !ok || r.snr > old {
			snr[r.unix] = r.snr
		}
	}
	s := m.NewState()
	decodes, taken := 0.0, 0
	for i, slot := range slots {
		if slot < from || i%every != 0 {
			continue
		}
		for ; taken < len(slots) && slots[taken] <= slot-horizon; taken++ {
			if y, ok := snr[slots[taken]]; ok {
				m.Report(s, slots[taken], y, true)
				decodes++
			} else {
				m.Miss(s, slots[taken], 0)
			}
		}
		seen := 0.0
		if _, ok := snr[slot]; ok {
			seen = 1
		}
		square := func(chance float64) float64 {
			chance = min(max(chance, 0.001), 0.999)
			return (chance - seen) * (chance - seen)
		}
		to.n++
		to.model += square(m.Forecast(s, slot).Decode)
		to.base += square((decodes + 0.5) / (float64(taken) + 1))
	}
}

// slotsOf lists the slots in which anyone was heard, or with a step all of that step
// from the first to the last but for stretches of over 8 h without any report.
func slotsOf(links map[string][]heard, step int64) []int64 {
	seen := map[int64]bool{}
	for _, list := range links {
		for _, r := range list {
			seen[r.unix] = true
		}
	}
	slots := slices.Sorted(maps.Keys(seen))
	if step == 0 {
		return slots
	}
	all := slots[:1:1]
	for _, next := range slots[1:] {
		if last := all[len(all)-1]; next-last <= 8*3600 {
			for unix := last + step; unix < next; unix += step {
				all = append(all, unix)
			}
		}
		all = append(all, next)
	}
	return all
}

func TestBeatsBaseRateOnRealReports(t *testing.T) {
	m := model(t, nil)
	sets := []struct {
		file  string
		key   func(receiver string, mhz int) string
		step  int64
		every int
		share float64 // of the base rate's Brier score that must not be exceeded
	}{
		{"beacon-2023.csv.gz", func(receiver string, _ int) string { return receiver }, 0, 1, 0.8},
		{"link-2025.csv.gz", func(_ string, mhz int) string { return strconv.Itoa(mhz) }, 120, 5, 0.65},
	}
	for _, set := range sets {
		t.Run(set.file, func(t *testing.T) {
			links := readReal(t, set.file, set.key)
			slots := slotsOf(links, set.step)
			from := slots[0] + (slots[len(slots)-1]-slots[0])*3/10
			for _, minutes := range []int64{15, 60, 180, 720, 1440} {
				var total score
				for _, name := range slices.Sorted(maps.Keys(links)) {
					if list := links[name]; len(list) >= 50 {
						replay(m, list, slots, minutes*60, from, set.every, &total)
					}
				}
				model, base := total.model/total.n, total.base/total.n
				t.Logf("%5d min: %6.0f forecasts, Brier score of base rate %.4f, of the model %.4f", minutes, total.n, base, model)
				if !(total.n > 10_000) {
					t.Fatalf("only %v forecasts", total.n)
				}
				if !(model < set.share*base) || math.IsNaN(base) {
					t.Errorf("%d min: the model's %.4f is above %v of the base rate's %.4f", minutes, model, set.share, base)
				}
			}
		})
	}
}

package backtest

import (
	"context"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
	"farhop/mesh/meshtest"
	"farhop/observations"
)

// realSet is one of the sets of real reports, and how its sender sends.
type realSet struct {
	file         string
	channels     []uint32
	every, after time.Duration
}

var realSets = []realSet{
	{"beacon-2023.csv.gz", []uint32{10_140_200}, 20 * time.Minute, 8 * time.Minute},
	{
		"link-2025.csv.gz",
		[]uint32{1_838_100, 3_570_100, 7_040_100, 10_140_200, 14_097_100, 18_106_100, 21_096_100, 24_926_100, 28_126_100},
		2 * time.Minute, 0,
	},
}

// read makes a plan for a set, in which everybody listens on all channels, and
// lays out its evidence. It skips the test where the set is absent.
func (r realSet) read(tb testing.TB, change func(*link.Settings)) (*mesh.Net, *mesh.History) {
	tb.Helper()
	path := meshtest.Shared(tb, "data", r.file)
	ctx := context.Background()
	log, err := observations.Read(ctx, []observations.Input{{Path: path}}, observations.Options{Newest: true})
	if err != nil {
		tb.Fatal(err)
	}
	n := &mesh.Net{Slots: mesh.DefaultSlots(), Link: link.Defaults(), CommonDB: mesh.DefaultCommonDB}
	n.Slots.Length, n.Slots.Keyed, n.Slots.HalfDecodeDB, n.Slots.SpreadDB = 2*time.Minute, 110*time.Second, n.Link.HalfDecodeDB, n.Link.SpreadDB
	if change != nil {
		change(&n.Link)
	}
	var soundings []mesh.Sounding
	for i, hz := range r.channels {
		n.Channels = append(n.Channels, mesh.Channel{Name: string(rune('a' + i)), Frequency: hz})
		soundings = append(soundings, mesh.Sounding{Channel: i, Every: r.every, After: r.after})
	}
	power := map[string]float64{}
	for _, p := range log.Reports {
		power[log.Call(p.Sender)] = float64(p.Power)
	}
	seen := map[string]bool{}
	for _, s := range log.Sites {
		if seen[s.Call] {
			continue
		}
		seen[s.Call] = true
		st := mesh.Station{Call: s.Call, PowerW: 1, Watch: mesh.WatchAll}
		if w, ok := power[s.Call]; ok {
			st.PowerW, st.Soundings = w, soundings
		}
		n.Stations = append(n.Stations, st)
	}
	if issues := n.Prepare(); len(issues) > 0 {
		tb.Fatal(issues)
	}
	h, err := mesh.Gather(ctx, n, log, log.Moment)
	if err != nil {
		tb.Fatal(err)
	}
	return n, h
}

var realHorizons = []time.Duration{15 * time.Minute, time.Hour, 3 * time.Hour, 12 * time.Hour, 24 * time.Hour}

func TestRealReports(t *testing.T) {
	for _, set := range realSets {
		t.Run(set.file, func(t *testing.T) {
			n, h := set.read(t, nil)
			r, err := Run(context.Background(), n, h, Options{Horizons: realHorizons, MinReports: 50, ScoreFrom: From(h), Seed: 1, Resamples: 500})
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%d reports (%d unwitnessed), %d misses, %d pairs, %d links scored", r.Reports, r.Unwitnessed, r.Misses, r.Pairs, r.Links)
			for _, z := range r.Horizons {
				t.Logf("%6v: %d forecasts, %.3f decoded", z.Ahead, z.Forecasts, z.Seen)
				for m := range z.Models {
					d := z.Differences[m]
					t.Logf("   %-16s Brier %.4f, log loss %.4f, calibration %.4f; model better by %+.4f (%+.4f … %+.4f)",
						Names[m], z.Models[m].Brier, z.Models[m].LogLoss, z.Models[m].CalibrationError, -d.Value, -d.High, -d.Low)
				}
			}
		})
	}
}

func TestRealDeliveries(t *testing.T) {
	for _, try := range []struct {
		set    int
		frames int
		within time.Duration
	}{
		{0, 3, 2 * time.Hour},
		{1, 6, 24 * time.Minute},
		{1, 10, 30 * time.Minute},
	} {
		n, h := realSets[try.set].read(t, nil)
		r, err := Deliver(context.Background(), n, h, DeliveryOptions{
			Options: Options{Horizons: []time.Duration{0, time.Hour, 3 * time.Hour}, MinReports: 50, ScoreFrom: From(h), Seed: 1, Resamples: 500},
			Frames:  try.frames, Within: try.within,
		})
		if err != nil {
			t.Fatal(err)
		}
		for _, z := range r.Horizons {
			t.Logf("%s %d frames in %v, %v ahead: %d tries of %.1f slots, %.3f delivered", realSets[try.set].file, try.frames, try.within, z.Ahead, z.Tries, z.Slots, z.Delivered)
			for m := range z.Models {
				t.Logf("   %-16s Brier %.4f, log loss %.4f, calibration %.4f", DeliveryNames[m], z.Models[m].Brier, z.Models[m].LogLoss, z.Models[m].CalibrationError)
			}
			for _, b := range z.Models[Shared].Bins {
				t.Logf("        %.2f %.2f %d", b.Forecast, b.Seen, b.N)
			}
		}
	}
}

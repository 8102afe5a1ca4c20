package backtest

import (
	"context"
	"testing"
	"time"

	"farhop/mesh/meshtest"
)

var realHorizons = []time.Duration{15 * time.Minute, time.Hour, 3 * time.Hour, 12 * time.Hour, 24 * time.Hour}

func TestRealReports(t *testing.T) {
	for _, set := range meshtest.RealSets {
		t.Run(set, func(t *testing.T) {
			n, h := meshtest.RealHistory(t, set)
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
		set    string
		frames int
		within time.Duration
	}{
		{"beacon-2023", 3, 2 * time.Hour},
		{"link-2025", 6, 24 * time.Minute},
		{"link-2025", 10, 30 * time.Minute},
	} {
		n, h := meshtest.RealHistory(t, try.set)
		r, err := Deliver(context.Background(), n, h, DeliveryOptions{
			Options: Options{Horizons: []time.Duration{0, time.Hour, 3 * time.Hour}, MinReports: 50, ScoreFrom: From(h), Seed: 1, Resamples: 500},
			Frames:  try.frames, Within: try.within,
		})
		if err != nil {
			t.Fatal(err)
		}
		for _, z := range r.Horizons {
			t.Logf("%s %d frames in %v, %v ahead: %d tries of %.1f slots, %.3f delivered", try.set, try.frames, try.within, z.Ahead, z.Tries, z.Slots, z.Delivered)
			for m := range z.Models {
				t.Logf("   %-16s Brier %.4f, log loss %.4f, calibration %.4f", DeliveryNames[m], z.Models[m].Brier, z.Models[m].LogLoss, z.Models[m].CalibrationError)
			}
			for _, b := range z.Models[Shared].Bins {
				t.Logf("        %.2f %.2f %d", b.Forecast, b.Seen, b.N)
			}
		}
	}
}

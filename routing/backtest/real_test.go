package backtest

import (
	"context"
	"testing"
	"time"

	"farhop/mesh/meshtest"
)

var realHorizons = []time.Duration{15 * time.Minute, time.Hour, 3 * time.Hour, 12 * time.Hour, 24 * time.Hour}

// ceilings are the Brier scores by horizon that the built-in settings must not
// exceed: what was measured when they were last tuned, and a little.
var ceilings = map[string][]float64{
	"beacon-2023": {0.0606, 0.0684, 0.0771, 0.0843, 0.0857},
	"link-2025":   {0.0717, 0.0855, 0.0904, 0.0901, 0.0893},
}

// With the built-in settings the model beats every simple rule on the real sets at
// every horizon, and means what it says.
func TestRealReports(t *testing.T) {
	for _, set := range meshtest.RealSets {
		t.Run(set, func(t *testing.T) {
			n, h := meshtest.RealHistory(t, set)
			r, err := Run(context.Background(), n, h, Options{Horizons: realHorizons, MinReports: 50, ScoreFrom: From(h), Seed: 1, Resamples: 500})
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%d reports (%d unwitnessed), %d misses, %d pairs, %d links scored", r.Reports, r.Unwitnessed, r.Misses, r.Pairs, r.Links)
			for k, z := range r.Horizons {
				t.Logf("%6v: %d forecasts, %.3f decoded", z.Ahead, z.Forecasts, z.Seen)
				for way, s := range z.Models {
					d := z.Differences[way]
					t.Logf("   %-16s Brier %.4f, log loss %.4f, calibration %.4f; model better by %+.4f (%+.4f to %+.4f)",
						Names[way], s.Brier, s.LogLoss, s.CalibrationError, 0-d.Value, 0-d.High, 0-d.Low)
					if way != Model && !(d.Value < 0 && z.Models[Model].LogLoss < s.LogLoss) {
						t.Errorf("%v ahead the model loses to %s", z.Ahead, Names[way])
					}
				}
				m := z.Models[Model]
				if m.Brier > ceilings[set][k] || m.CalibrationError > 0.02 || z.Forecasts < 20_000 {
					t.Errorf("%v ahead: Brier %.4f, calibration error %.4f, %d forecasts", z.Ahead, m.Brier, m.CalibrationError, z.Forecasts)
				}
			}
		})
	}
}

// The links above are survivors. Over all receivers of the beacon, most of which heard
// it hardly ever, the model beats every simple rule too, and gives next to nothing to
// those that never heard it in the part that is scored.
func TestRealPairs(t *testing.T) {
	n, h := meshtest.RealHistory(t, "beacon-2023")
	r, err := Run(context.Background(), n, h, Options{Horizons: realHorizons, ScoreFrom: From(h), Seed: 1, Resamples: 500})
	if err != nil {
		t.Fatal(err)
	}
	if r.Links != 119 || r.Pairs != 119 {
		t.Errorf("%d of %d pairs scored", r.Links, r.Pairs)
	}
	for _, z := range r.Horizons {
		t.Logf("%6v: %d forecasts, %.4f decoded", z.Ahead, z.Forecasts, z.Seen)
		m := z.Models[Model]
		for way, s := range z.Models {
			d := z.Differences[way]
			t.Logf("   %-16s Brier %.5f, log loss %.5f, calibration %.4f; model better by %+.5f (%+.5f to %+.5f)",
				Names[way], s.Brier, s.LogLoss, s.CalibrationError, 0-d.Value, 0-d.High, 0-d.Low)
			if way != Model && !(m.Brier < s.Brier && m.LogLoss < s.LogLoss) {
				t.Errorf("%v ahead the model loses to %s", z.Ahead, Names[way])
			}
		}
		if m.CalibrationError > 0.02 || z.Forecasts < 100_000 {
			t.Errorf("%v ahead: calibration error %.4f, %d forecasts", z.Ahead, m.CalibrationError, z.Forecasts)
		}
		var deaf part // the links that decoded nothing
		for _, l := range z.Links {
			if l.Seen == 0 {
				deaf.n += l.Forecasts
				deaf.forecast += l.Forecast * float64(l.Forecasts)
			}
		}
		share := deaf.forecast / float64(deaf.n)
		t.Logf("   links that decoded nothing: %.5f on the average of %d forecasts", share, deaf.n)
		if !(share < 0.01) {
			t.Errorf("%v ahead: links that decoded nothing were given %.4f on the average", z.Ahead, share)
		}
	}
}

// Replayed messages arrive as often as the planner says, and it says so better
// than rules that take slots for independent.
func TestRealDeliveries(t *testing.T) {
	for _, try := range []struct {
		set    string
		frames int
		within time.Duration
	}{
		{"beacon-2023", 3, 2 * time.Hour},
		{"link-2025", 6, 24 * time.Minute},
		{"link-2025", 10, 30 * time.Minute},
		{"link-2025", 5, time.Hour},
		{"link-2025", 15, time.Hour},
		{"link-2025", 20, 2 * time.Hour},
		{"beacon-2023", 1, time.Hour},
		{"beacon-2023", 6, 4 * time.Hour},
	} {
		n, h := meshtest.RealHistory(t, try.set)
		r, err := Deliver(context.Background(), n, h, DeliveryOptions{
			Options: Options{Horizons: []time.Duration{0, time.Hour, 3 * time.Hour}, MinReports: 50, ScoreFrom: From(h)},
			Frames:  try.frames, Within: try.within,
		})
		if err != nil {
			t.Fatal(err)
		}
		for _, z := range r.Horizons {
			t.Logf("%s, %d frames in %v, %v ahead: %d tries of %.1f slots, %.3f delivered", try.set, try.frames, try.within, z.Ahead, z.Tries, z.Slots, z.Delivered)
			for way, s := range z.Models {
				t.Logf("   %-17s Brier %.4f, log loss %.4f, calibration %.4f", DeliveryNames[way], s.Brier, s.LogLoss, s.CalibrationError)
				if way != Shared && !(z.Models[Shared].Brier < s.Brier && z.Models[Shared].LogLoss < s.LogLoss) {
					t.Errorf("%s, %v ahead: the model loses to %s", try.set, z.Ahead, DeliveryNames[way])
				}
			}
			if c := z.Models[Shared].CalibrationError; c > 0.04 || z.Tries < 1500 {
				t.Errorf("%s, %v ahead: calibration error %.4f of %d tries", try.set, z.Ahead, c, z.Tries)
			}
		}
	}
}

package backtest

import (
	"context"
	"fmt"
	"math"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
	"farhop/routing/delivery"
)

func TestAtLeast(t *testing.T) {
	choose := func(n, k int) float64 {
		c := 1.0
		for i := range k {
			c = c * float64(n-i) / float64(i+1)
		}
		return c
	}
	for n := range 13 {
		for k := range n + 2 {
			for _, p := range []float64{0, 1e-6, 0.1, 0.5, 0.83, 1} {
				want := 0.0
				for i := k; i <= n; i++ {
					want += choose(n, i) * math.Pow(p, float64(i)) * math.Pow(1-p, float64(n-i))
				}
				if got := atLeast(n, k, p); math.Abs(got-want) > 1e-12 {
					t.Errorf("at least %d of %d at %v: %v, want %v", k, n, p, got, want)
				}
			}
		}
	}
}

// Of a message that must pass in one round the planner's arrival distribution says the same.
func TestThroughAgreesWithDelivery(t *testing.T) {
	for _, d := range []link.Direction{
		{Kind: link.Gaussian, Margin: 3, SD: 7, Noise: 4},
		{Kind: link.Gaussian, Margin: -6, SD: 9, Noise: 4},
		{Kind: link.Gaussian, Margin: 1, SD: 0, Noise: 2},
		{Kind: link.Gaussian, Margin: 12, SD: 3, Common: 2, Noise: 1},
		link.FixedDecode(0.8),
	} {
		for _, frames := range []int{1, 2, 5} {
			t.Run(fmt.Sprintf("%+v/%d", d, frames), func(t *testing.T) {
				e, err := delivery.NewEvaluator(delivery.Plan{
					Protocol: delivery.Protocol{Frames: frames, Rounds: 1}, Slot: time.Minute, Deadline: time.Duration(frames) * time.Minute, Common: 1,
				})
				if err != nil {
					t.Fatal(err)
				}
				id := e.NewLeg(delivery.Leg{
					Open:       func(int) bool { return true },
					Directions: func(int) (f, r link.Direction) { return d, link.FixedDecode(1) },
				})
				if got, want := Through(d, frames, frames), e.Chain(id).Chance(); math.Abs(got-want) > 2e-4 {
					t.Errorf("%v, the planner says %v", got, want)
				}
			})
		}
	}
}

// Links that keep still through a try are foretold with calibration; taking slots
// as independent is too sure of itself.
func TestDeliverIsCalibrated(t *testing.T) {
	s := link.Defaults()
	s.FastTau, s.SlowTau = 12*time.Hour, 50*time.Hour
	n, h := drawn(s, 40, 6000, 300, 9)
	d, err := Deliver(context.Background(), n, h, DeliveryOptions{
		Options: Options{Horizons: []time.Duration{6 * time.Hour}, MinReports: 50, ScoreFrom: From(h)}, Frames: 4, Within: 35 * time.Minute,
	})
	if err != nil {
		t.Fatal(err)
	}
	z := d.Horizons[0]
	if z.Tries < 5000 || z.Slots != 7 {
		t.Fatalf("%d tries of %v slots", z.Tries, z.Slots)
	}
	ours, independent := z.Models[Shared], z.Models[Independent]
	if ours.CalibrationError > 0.02 || independent.CalibrationError < 2*ours.CalibrationError {
		t.Errorf("calibration error %.4f, with independent slots %.4f", ours.CalibrationError, independent.CalibrationError)
	}
	if !(ours.Brier < independent.Brier && independent.Brier < z.Models[HourlySlots].Brier) {
		t.Errorf("Brier %.4f, %.4f, %.4f", ours.Brier, independent.Brier, z.Models[HourlySlots].Brier)
	}
}

func TestTries(t *testing.T) {
	const start = 1_772_409_600
	// Minutes of slots, those that decode with a plus.
	h := &mesh.History{Links: [][]mesh.Entry{nil}, First: start, Last: start + 300*60}
	for _, slot := range []int{0, 10, -20, -30, 40, -50, 100, -110, 250, 260, 270} {
		e := mesh.Entry{Unix: start + 60*int64(max(slot, -slot)), Kind: mesh.EventReport, Value: -20}
		if slot < 0 {
			e.Kind = mesh.EventMiss
		}
		e.Told = e.Unix
		h.Links[0] = append(h.Links[0], e)
	}
	n := &mesh.Net{Link: link.Defaults()}
	for _, tt := range []struct {
		frames, within, tries, short int
		delivered, slots             float64
	}{
		{1, 30, 4, 0, 1, 11.0 / 4}, // (0 10 20) (30 40 50) (100 110) (250 260 270)
		{2, 30, 4, 0, 0.5, 11.0 / 4},
		{3, 60, 2, 1, 1, 9.0 / 2},
		{4, 60, 1, 2, 0, 6},
	} {
		d, err := Deliver(context.Background(), n, h, DeliveryOptions{
			Options: Options{Horizons: []time.Duration{0}, ScoreFrom: start}, Frames: tt.frames, Within: time.Duration(tt.within) * time.Minute,
		})
		if err != nil {
			t.Fatal(err)
		}
		z := d.Horizons[0]
		if z.Tries != tt.tries || d.TooShort != tt.short || math.Abs(z.Delivered-tt.delivered) > 1e-12 || math.Abs(z.Slots-tt.slots) > 1e-12 {
			t.Errorf("%d frames in %d min: %d tries of %.2f slots, %.2f delivered, %d too short; want %+v", tt.frames, tt.within, z.Tries, z.Slots, z.Delivered, d.TooShort, tt)
		}
	}
}

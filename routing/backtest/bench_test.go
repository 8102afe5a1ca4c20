package backtest

import (
	"context"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
	"farhop/mesh/meshtest"
)

// drawn draws links of a model's own making, with an opportunity every so many seconds.
func drawn(s link.Settings, links, each int, every int64, seed uint64) (*mesh.Net, *mesh.History) {
	return meshtest.Truth{Settings: s, Links: links, Each: each, Every: time.Duration(every) * time.Second, Seed: seed}.Draw()
}

func BenchmarkRun(b *testing.B) {
	n, h := drawn(link.Defaults(), 40, 5000, 600, 1)
	o := Options{Horizons: realHorizons, ScoreFrom: h.First, Resamples: 200}
	forecasts := 0
	b.ReportAllocs()
	for b.Loop() {
		r, err := Run(context.Background(), n, h, o)
		if err != nil {
			b.Fatal(err)
		}
		forecasts = 0
		for _, z := range r.Horizons {
			forecasts += z.Forecasts
		}
	}
	b.ReportMetric(float64(forecasts)*float64(b.N)/b.Elapsed().Minutes()/1e6, "Mforecasts/min")
}

func BenchmarkDeliver(b *testing.B) {
	n, h := drawn(link.Defaults(), 20, 5000, 600, 1)
	o := DeliveryOptions{Options: Options{Horizons: []time.Duration{0, time.Hour}, ScoreFrom: h.First}, Frames: 4, Within: 2 * time.Hour}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Deliver(context.Background(), n, h, o); err != nil {
			b.Fatal(err)
		}
	}
}

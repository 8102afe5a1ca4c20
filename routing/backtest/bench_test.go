package backtest

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
)

// drawn lays out links of a model's own making: each is one draw of the model's
// climate and fluctuations, with an opportunity every so many seconds.
func drawn(s link.Settings, links, each int, every int64, seed uint64) (*mesh.Net, *mesh.History) {
	rng := rand.New(rand.NewPCG(seed, 0))
	const start = 1_772_409_600 // 2026-03-02 00:00Z
	h := &mesh.History{Account: &mesh.Account{}, First: start, Last: start + int64(each-1)*every}
	for l := range links {
		h.Account.Pairs = append(h.Account.Pairs, mesh.Pair{From: int32(l), To: int32(l + 1)})
		h.Links = append(h.Links, drawnLink(s, rng, start, each, every))
	}
	n := &mesh.Net{Slots: mesh.DefaultSlots(), Link: s}
	n.Slots.HalfDecodeDB, n.Slots.SpreadDB = s.HalfDecodeDB, s.SpreadDB
	return n, h
}

func drawnLink(s link.Settings, rng *rand.Rand, start int64, each int, every int64) []mesh.Entry {
	parts := []strayer{{s.LevelSD, s.LevelTau, 0}, {s.FastSD, s.FastTau, 0}, {s.SlowSD, s.SlowTau, 0}}
	sd := s.HarmonicSD
	for range s.Harmonics {
		parts = append(parts, strayer{sd, s.HarmonicTau, 0}, strayer{sd, s.HarmonicTau, 0})
		sd *= s.HarmonicRatio
	}
	for i := range parts {
		parts[i].value = parts[i].sd * rng.NormFloat64()
	}
	var list []mesh.Entry
	for i := range each {
		unix := start + int64(i)*every
		x := s.HalfDecodeDB + s.MeanDB + parts[0].value + parts[1].value + parts[2].value
		for k := range s.Harmonics {
			sin, cos := math.Sincos(2 * math.Pi * float64(k+1) * float64(unix%86400) / 86400)
			x += parts[3+2*k].value*cos + parts[4+2*k].value*sin
		}
		z := x + s.SlotSD*rng.NormFloat64()
		e := mesh.Entry{Unix: unix, Told: unix, Kind: mesh.EventMiss}
		if rng.Float64() < link.Phi((z-s.HalfDecodeDB)/s.SpreadDB) {
			e.Value, e.Kind = float32(z), mesh.EventReport
		}
		list = append(list, e)
		for i := range parts {
			parts[i].step(every, rng)
		}
	}
	return list
}

// strayer is a stationary Ornstein–Uhlenbeck process.
type strayer struct {
	sd    float64
	tau   time.Duration
	value float64
}

func (s *strayer) step(seconds int64, rng *rand.Rand) {
	keep := math.Exp(-float64(seconds) / s.tau.Seconds())
	s.value = keep*s.value + math.Sqrt(1-keep*keep)*s.sd*rng.NormFloat64()
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

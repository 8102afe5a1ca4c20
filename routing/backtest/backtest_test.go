package backtest

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
)

// A model that fits forecasts better than every simple rule, and is calibrated.
func TestTrueModelWins(t *testing.T) {
	n, h := drawn(link.Defaults(), 60, 2500, 1200, 3)
	r, err := Run(context.Background(), n, h, Options{Horizons: realHorizons, MinReports: 50, ScoreFrom: From(h), Seed: 7, Resamples: 200})
	if err != nil {
		t.Fatal(err)
	}
	if r.Links < 20 || r.Pairs != 60 || r.Reports+r.Misses != 60*2500 {
		t.Fatalf("%d links scored of %d, %d reports, %d misses", r.Links, r.Pairs, r.Reports, r.Misses)
	}
	for _, z := range r.Horizons {
		if c := z.Models[Model].CalibrationError; c > 0.02 {
			t.Errorf("%v ahead: calibration error %.4f", z.Ahead, c)
		}
		for way := BaseRate; way < ModelCount; way++ {
			if d := z.Differences[way]; !(d.Value < 0 && d.Low <= d.Value && d.Value <= d.High && d.High < 0) {
				t.Errorf("%v ahead, against %s: %+v", z.Ahead, Names[way], d)
			}
		}
	}
	// Later is harder.
	for i := 1; i < len(r.Horizons); i++ {
		if a, b := r.Horizons[i-1].Models[Model].Brier, r.Horizons[i].Models[Model].Brier; a > b+0.001 {
			t.Errorf("Brier %.4f at %v, %.4f at %v", a, realHorizons[i-1], b, realHorizons[i])
		}
	}
}

// The same on any number of processors, and with a seed.
func TestSameOnAnyProcessors(t *testing.T) {
	n, h := drawn(link.Defaults(), 12, 400, 1200, 5)
	o := Options{Horizons: realHorizons[:2], ScoreFrom: From(h), Seed: 7, Resamples: 50}
	d := DeliveryOptions{Options: o, Frames: 2, Within: 2 * time.Hour}
	run := func(processors int, seed uint64) (*Result, *Delivery) {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(processors))
		o.Seed, d.Seed = seed, seed
		r, err := Run(context.Background(), n, h, o)
		if err != nil {
			t.Fatal(err)
		}
		v, err := Deliver(context.Background(), n, h, d)
		if err != nil {
			t.Fatal(err)
		}
		return r, v
	}
	a, x := run(1, 7)
	b, y := run(4, 7)
	if !reflect.DeepEqual(a, b) || !reflect.DeepEqual(x, y) {
		t.Error("one processor and four give different results")
	}
	c, _ := run(4, 8)
	if reflect.DeepEqual(a.Horizons[0].Differences, c.Horizons[0].Differences) {
		t.Error("another seed gives the same intervals")
	}
	if !reflect.DeepEqual(a.Horizons[0].Models, c.Horizons[0].Models) {
		t.Error("another seed changes the scores")
	}
}

func TestRunStops(t *testing.T) {
	n, h := drawn(link.Defaults(), 4, 100, 1200, 5)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Run(ctx, n, h, Options{Horizons: realHorizons}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	if _, err := Run(context.Background(), n, h, Options{Horizons: []time.Duration{-1}}); err == nil {
		t.Error("a negative horizon is taken")
	}
	if _, err := Run(context.Background(), &mesh.Net{}, h, Options{}); err == nil {
		t.Error("settings that can't be used are taken")
	}
	if _, err := Deliver(context.Background(), n, h, DeliveryOptions{Within: time.Hour}); err == nil {
		t.Error("a message without frames is taken")
	}
	told := 0.0
	if _, err := Run(context.Background(), n, h, Options{Horizons: realHorizons[:1], Progress: func(s float64) { told = max(told, s) }}); err != nil || told != 1 {
		t.Errorf("told %v, %v", told, err)
	}
	empty := &mesh.History{First: math.MaxInt64, Last: math.MinInt64}
	r, err := Run(context.Background(), n, empty, Options{Horizons: realHorizons, ScoreFrom: From(empty)})
	if err != nil || len(r.Horizons) != len(realHorizons) || r.Horizons[0].Forecasts != 0 {
		t.Errorf("nothing to score: %+v, %v", r, err)
	}
}

func TestCalibrationError(t *testing.T) {
	var b bins
	for i, p := range []float64{0.05, 0.05, 0.05, 0.05, 0.999, 0.95} {
		b.take(p, []int{1, 0, 0, 0, 1, 1}[i])
	}
	list := b.list()
	want := []Bin{{0, 0.1, 4, 0.05, 0.25}, {0.9, 1, 2, 0.9745, 1}}
	if len(list) != 2 || list[0].N != 4 || list[1].N != 2 {
		t.Fatalf("bins %+v", list)
	}
	for i := range want {
		if math.Abs(list[i].Forecast-want[i].Forecast)+math.Abs(list[i].Seen-want[i].Seen) > 1e-12 || list[i].Low != want[i].Low || list[i].High != want[i].High {
			t.Errorf("bin %+v, want %+v", list[i], want[i])
		}
	}
	if got, want := calibrationError(list), (4*0.2+2*0.0255)/6; math.Abs(got-want) > 1e-12 {
		t.Errorf("error %v, want %v", got, want)
	}
	if calibrationError(nil) != 0 {
		t.Error("no forecasts are off")
	}
}

// The last bits of a chance on an edge don't decide its bin.
func TestBinsOnAnEdge(t *testing.T) {
	var b bins
	for _, p := range []float64{0.3, math.Nextafter(0.3, 0), 0.3 - 1e-12, 0.3 + 1e-12} {
		b.take(p, 0)
	}
	if list := b.list(); len(list) != 1 || list[0].Low != 0.3 {
		t.Errorf("3 in 10 fell into %+v", list)
	}
}

// Where each day's forecasts share its luck, intervals that take days for blocks hold
// the truth about as often as they say, and are far wider than the spread of single
// forecasts would make them.
func TestBootstrapCovers(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	const days, aDay, rounds = 40, 50, 300
	held, width := 0, 0.0
	for range rounds {
		list := make([]part, days)
		for i := range list {
			luck := 0.1 + rng.NormFloat64()
			list[i].n = aDay
			for range aDay {
				list[i].brier[Model] += luck + rng.NormFloat64()
			}
		}
		d := differences(list, 400, rng.Uint64(), 0)[BaseRate]
		width += (d.High - d.Low) / rounds
		if d.Low <= 0.1 && 0.1 <= d.High {
			held++
		}
	}
	if share := float64(held) / rounds; share < 0.88 || share > 0.99 {
		t.Errorf("intervals hold the truth in %.3f of the rounds", share)
	}
	if single := 2 * 1.96 * math.Sqrt(2.0/(days*aDay)); width < 3*single {
		t.Errorf("mean width %.3f, that of single forecasts %.3f", width, single)
	}
}

func TestBootstrapOfNothing(t *testing.T) {
	if d := differences(make([]part, 5), 100, 1, 0); d != [ModelCount]Interval{} {
		t.Errorf("%+v", d)
	}
	days := []part{{n: 1}, {n: 3}}
	days[0].brier[Model], days[1].brier[Recent] = 1, 2
	d := differences(days, 0, 1, 0)
	if d[Recent] != (Interval{-0.25, -0.25, -0.25}) || d[BaseRate].Value != 0.25 {
		t.Errorf("%+v", d)
	}
}

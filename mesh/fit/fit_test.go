package fit

import (
	"context"
	"errors"
	"math"
	"reflect"
	"runtime"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
	"farhop/mesh/meshtest"
)

// world is what most tests draw from: evidence every ten minutes.
func world(change func(*link.Settings), links, each int, seed uint64) (*mesh.Net, *mesh.History) {
	s := link.Defaults()
	s.MeanDB = 0
	if change != nil {
		change(&s)
	}
	return meshtest.Truth{Settings: s, Links: links, Each: each, Every: 10 * time.Minute, Seed: seed}.Draw()
}

// other is a world that is not as the defaults have it.
func other(s *link.Settings) {
	s.FastSD, s.FastTau, s.SlowSD, s.SlowTau, s.SlotSD = 3, 100*time.Minute, 9, 30*time.Hour, 2
	s.LevelSD, s.HarmonicSD, s.MeanDB = 12, 6, 3
}

func TestRecoversTruth(t *testing.T) {
	n, h := world(other, 40, 1200, 1)
	truth := n.Link
	start := link.Defaults()
	n.Link = start
	r, err := Fit(context.Background(), n, h, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if !r.Better || r.HeldOutGain < 0.05 || r.TimesHeld {
		t.Errorf("gain %.4f ± %.4f, better %v", r.HeldOutGain, r.HeldOutError, r.Better)
	}
	for _, a := range r.Ahead {
		if !(a.After < a.Before) || a.N != r.HeldOut {
			t.Errorf("%v ahead: %+v", a.By, a)
		}
	}
	for _, p := range r.Parameters {
		var want float64
		for _, q := range parameters() {
			if q.name == p.Field {
				want = q.get(&truth)
			}
		}
		// Within three and a half standard errors, and some more for the pull towards the start.
		low, high := p.To-3.5*(p.To-p.Low), p.To+3.5*(p.High-p.To)
		slack := 0.02 * math.Abs(p.From-want)
		if want < low-slack || want > high+slack || !(p.Low < p.To && p.To < p.High) || p.AtItsBounds {
			t.Errorf("%s: %.3f (%.3f to %.3f), in truth %.3f", p.Field, p.To, p.Low, p.High, want)
		}
		if math.Abs(p.High/p.Low-1) > 1 && p.Field != "MeanDB" {
			t.Errorf("%s: %.3f to %.3f is hardly a fit", p.Field, p.Low, p.High)
		}
	}
	if s := r.Settings; s.LevelTau != start.LevelTau || s.HarmonicTau != start.HarmonicTau || s.Harmonics != start.Harmonics ||
		s.HalfDecodeDB != start.HalfDecodeDB || s.SpreadDB != start.SpreadDB || s.KnownSD != start.KnownSD {
		t.Errorf("more was fitted than may be: %+v", s)
	}
}

// Where the world is as the start has it, the start is as good.
func TestKeepsWhatIsTrue(t *testing.T) {
	n, h := world(nil, 20, 800, 2)
	r, err := Fit(context.Background(), n, h, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if r.Better {
		t.Errorf("gain %.5f ± %.5f over the truth", r.HeldOutGain, r.HeldOutError)
	}
	if r.FittedAfter < r.FittedBefore {
		t.Errorf("the fitted part fits worse: %.5f, before %.5f", r.FittedAfter, r.FittedBefore)
	}
}

// Two hundred reports, however odd, can't produce nonsense.
func TestLittleEvidence(t *testing.T) {
	start := link.Defaults()
	for name, value := range map[string]func(i int) float32{
		"all the same": func(int) float32 { return -10 },
		"wild":         func(i int) float32 { return float32(-30 + 40*(i%2)) },
		"impossible":   func(i int) float32 { return float32(-90 + i%3) },
		"rising":       func(i int) float32 { return float32(-28 + i/5) },
	} {
		t.Run(name, func(t *testing.T) {
			n, h := world(nil, 2, 100, 3)
			for l := range h.Links {
				for i := range h.Links[l] {
					h.Links[l][i].Kind, h.Links[l][i].Value = mesh.EventReport, value(i)
				}
			}
			n.Link = start
			r, err := Fit(context.Background(), n, h, Options{})
			if err != nil {
				t.Fatal(err)
			}
			if err := r.Settings.Check(); err != nil {
				t.Error(err)
			}
			for i, p := range parameters() {
				from, to := p.scale(p.get(&start)), p.scale(p.get(&r.Settings))
				if d := math.Abs(to - from); !(d <= p.reach+1e-9) {
					t.Errorf("%s went %.2f, its bounds are %.2f", r.Parameters[i].Field, d, p.reach)
				}
			}
			if c := r.Common.DB; !(c >= 0 && c <= 30) {
				t.Errorf("common %v", r.Common)
			}
		})
	}
}

// A gain on a single day held out may be luck, however great; over few days it must be
// far above its error.
func TestBeyondLuck(t *testing.T) {
	for _, tt := range []struct {
		days        int
		gain, error float64
		want        bool
	}{
		{1, 5, 0, false},
		{2, 0.1, 0.01, false},
		{2, 0.13, 0.01, true},
		{3, 0.04, 0.01, false},
		{3, 0.05, 0.01, true},
		{21, 0.02, 0.01, false},
		{21, 0.022, 0.01, true},
		{21, -0.1, 0.01, false},
	} {
		r := Result{HeldOutDays: tt.days, HeldOutGain: tt.gain, HeldOutError: tt.error}
		if got := r.BeyondLuck(); got != tt.want {
			t.Errorf("%+v: %v", tt, got)
		}
	}
	n, h := world(other, 10, 130, 9) // 22 hours, the last 6 of them held out
	n.Link = link.Defaults()
	r, err := Fit(context.Background(), n, h, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if r.HeldOutDays != 1 || r.HeldOutError != 0 || r.Better {
		t.Errorf("of one day: %d days, gain %.4f ± %.4f, better %v", r.HeldOutDays, r.HeldOutGain, r.HeldOutError, r.Better)
	}
}

func TestFitStops(t *testing.T) {
	n, h := world(other, 10, 300, 4)
	ctx, cancel := context.WithCancel(context.Background())
	told := -1.0
	_, err := Fit(ctx, n, h, Options{Progress: func(s float64) {
		if s < told || s > 1 {
			t.Errorf("progress %v after %v", s, told)
		}
		told = s
		cancel()
	}})
	if !errors.Is(err, context.Canceled) || told < 0 {
		t.Errorf("cancelled: %v, told %v", err, told)
	}
	told = -1
	n.Link = link.Defaults()
	if _, err := Fit(context.Background(), n, h, Options{Progress: func(s float64) {
		if s < told {
			t.Errorf("progress %v after %v", s, told)
		}
		told = s
	}}); err != nil || told != 1 {
		t.Errorf("%v, told %v", err, told)
	}
	for _, empty := range []*mesh.History{
		{First: math.MaxInt64, Last: math.MinInt64},
		{Links: [][]mesh.Entry{{{Unix: 5, Told: 5}}}, First: 5, Last: 5},
		{Links: [][]mesh.Entry{{{Unix: 5, Kind: mesh.EventMove}, {Unix: 9}}}, First: 5, Last: 9},
	} {
		if _, err := Fit(context.Background(), n, empty, Options{}); !errors.Is(err, ErrTooLittle) {
			t.Errorf("too little: %v", err)
		}
	}
	if _, err := Fit(context.Background(), &mesh.Net{}, h, Options{}); err == nil {
		t.Error("settings that can't be used are taken")
	}
}

func TestSameOnAnyProcessors(t *testing.T) {
	n, h := world(other, 12, 200, 5)
	n.Link = link.Defaults()
	run := func(processors int) *Result {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(processors))
		r, err := Fit(context.Background(), n, h, Options{})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	if a, b := run(1), run(4); !reflect.DeepEqual(a, b) {
		t.Errorf("one processor %+v\nfour %+v", a, b)
	}
}

func BenchmarkFit(b *testing.B) {
	n, h := world(other, 100, 2500, 6)
	n.Link = link.Defaults()
	b.ReportAllocs()
	for b.Loop() {
		r, err := Fit(context.Background(), n, h, Options{})
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(r.Fitted+r.HeldOut), "opportunities")
	}
}

package fit

import (
	"context"
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"farhop/mesh"
	"farhop/mesh/link"
	"farhop/mesh/meshtest"
)

func TestFrame(t *testing.T) {
	start := link.Defaults()
	f := newFrame(start, false)
	zero := make([]float64, len(f.list))
	if f.settings(zero) != start || f.penalty(zero) != 0 {
		t.Errorf("at zero %+v, penalty %v", f.settings(zero), f.penalty(zero))
	}
	if held := newFrame(start, true); len(held.list) != len(f.list)-2 {
		t.Errorf("%d of %d settings are left without time constants", len(held.list), len(f.list))
	}
	rapid.Check(t, func(t *rapid.T) {
		x := make([]float64, len(f.list))
		for i := range x {
			x[i] = rapid.Float64Range(-1e6, 1e6).Draw(t, f.list[i].name)
			if rapid.Bool().Draw(t, "near") {
				x[i] /= 1e6
			}
		}
		s := f.settings(x)
		if err := s.Check(); err != nil {
			t.Fatal(err)
		}
		for i, p := range f.list {
			if d := p.scale(p.get(&s)) - f.at[i]; math.Abs(d-f.step(i, x[i])) > 1e-6 {
				t.Fatalf("%s stepped %v, want %v", p.name, d, f.step(i, x[i]))
			}
		}
		// The pull is the slope of the penalty.
		i := rapid.IntRange(0, len(x)-1).Draw(t, "which")
		x[i] = rapid.Float64Range(-2, 2).Draw(t, "at")
		slope, curve := f.pull(i, x[i])
		moved := append([]float64(nil), x...)
		const by = 1e-4
		moved[i] = x[i] + by
		up := f.penalty(moved)
		moved[i] = x[i] - by
		if d := (up - f.penalty(moved)) / (2 * by); math.Abs(d-slope) > 1e-5*(1+f.penalty(x)) || curve < 0 {
			t.Fatalf("slope %v, by differences %v; curvature %v", slope, d, curve)
		}
	})
}

// The slopes of the search are those of the likelihood, and at the truth the sum of
// their squares is about minus its curvature.
func TestSlopes(t *testing.T) {
	n, h := world(other, 40, 400, 7)
	e := newEvaluator(h, h.Last+1)
	c := &climb{ctx: context.Background(), frame: newFrame(n.Link, false), e: e}
	x := make([]float64, len(c.frame.list))
	p := c.at(x)
	for i := range x {
		value := func(by float64) float64 {
			moved := append([]float64(nil), x...)
			moved[i] += by
			return c.value(moved)
		}
		const by = 1e-3
		if d := (value(by) - value(-by)) / (2 * by); math.Abs(d-p.slope[i]) > 0.01*math.Abs(d)+0.05 {
			t.Errorf("%s: slope %.4f, by differences %.4f", c.frame.list[i].name, p.slope[i], d)
		}
		const wide = 0.05
		d2 := (value(wide) + value(-wide) - 2*value(0)) / (wide * wide)
		if got := p.curve.At(i, i); got < 0.5*d2 || got > 2*d2 {
			t.Errorf("%s: curvature %.1f, by differences %.1f", c.frame.list[i].name, got, d2)
		}
	}
}

// By the model the slope of whatever may happen has the mean 0 and the variance given,
// and is the slope of the log-likelihood.
func TestSlopeOf(t *testing.T) {
	for _, spread := range []float64{0.5, 4} {
		for _, mean := range []float64{-30, -8, 0, 3, 15} {
			for _, raise := range []float32{0, 4} {
				s := link.Defaults()
				s.MeanDB, s.SpreadDB = mean, spread
				m, err := link.NewModel(s)
				if err != nil {
					t.Fatal(err)
				}
				state := m.NewState()
				f := m.Forecast(state, 0)
				first, second, total := 0.0, 0.0, math.Exp(m.LogMiss(f, float64(raise)))
				slope, info := slopeOf(m, state, &mesh.Entry{Kind: mesh.EventMiss, Raise: raise})
				first, second = total*slope, total*slope*slope
				const dy = 0.05
				for y := f.SNR - 300; y < f.SNR+300; y += dy {
					p := math.Exp(m.LogReport(f, y, float64(raise))) * dy
					slope, _ := slopeOf(m, state, &mesh.Entry{Kind: mesh.EventReport, Value: float32(y), Raise: raise})
					total, first, second = total+p, first+p*slope, second+p*slope*slope
				}
				if math.Abs(total-1) > 1e-6 || math.Abs(first) > 1e-6 || math.Abs(second-info) > 1e-6*info+1e-9 {
					t.Errorf("spread %v, mean %v, raise %v: chances %v, mean slope %v, its variance %v, given %v", spread, mean, raise, total, first, second, info)
				}
			}
		}
	}
}

func TestLikelihoodOfUnwitnessed(t *testing.T) {
	m, err := link.NewModel(link.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	state := m.NewState()
	total := 0.0
	const dy = 0.05
	for y := -200.0; y < 200; y += dy {
		total += math.Exp(logLikelihood(m, state, &mesh.Entry{Kind: mesh.EventUnwitnessed, Value: float32(y)})) * dy
	}
	// Bounded from below, so that a line far off counts for e⁻¹² a dB.
	if math.Abs(total-1) > 400*math.Exp(leastLog)+1e-3 {
		t.Errorf("the chances of what a report may show add up to %v", total)
	}
	if l := logLikelihood(m, state, &mesh.Entry{Kind: mesh.EventReport, Value: float32(math.NaN())}); !(l >= leastLog) {
		t.Errorf("not a number counts %v", l)
	}
}

func TestCommonIsRecovered(t *testing.T) {
	for _, tt := range []struct {
		db, low, high float64
		ahead         time.Duration
	}{
		{0, -1, 1, 0},
		{0, -2, 2, CommonAhead},
		{3, 4.5, 13, CommonAhead}, // of 9, less what three hours leave: 9·(1 − e^(−6/20)) … 9
		{5, 12, 36, CommonAhead},
	} {
		s := link.Defaults()
		s.MeanDB, s.LevelSD, s.HarmonicSD = 4, 8, 5
		n, h := meshtest.Truth{
			Settings: s, CommonDB: tt.db, CommonTau: 10 * time.Hour, Links: 30, Each: 2500, Every: 20 * time.Minute, Seed: 11,
		}.Draw()
		c, err := EstimateCommon(context.Background(), n, h, s, tt.ahead)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%v dB, %v ahead: %+v", tt.db, tt.ahead, c)
		if c.Seen < tt.low-2*c.SeenError || c.Seen > tt.high+2*c.SeenError || c.SeenError > 4 || c.Slots != 2500 {
			t.Errorf("%v dB, %v ahead: %+v, want %v to %v", tt.db, tt.ahead, c, tt.low, tt.high)
		}
	}
}

func TestCommonWithoutEvidence(t *testing.T) {
	n, h := world(nil, 1, 50, 8)
	c, err := EstimateCommon(context.Background(), n, h, n.Link, 0)
	if err != nil || c.DB != mesh.DefaultCommonDB || !math.IsInf(c.SeenError, 1) || c.Slots != 0 {
		t.Errorf("one link: %+v, %v", c, err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := EstimateCommon(ctx, n, h, n.Link, 0); err == nil {
		t.Error("cancelled, and goes on")
	}
}

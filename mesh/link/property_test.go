package link

import (
	"math"
	"sync"
	"testing"

	"pgregory.net/rapid"
)

// anyState draws a model and a state with some history.
func anyState(t *rapid.T) (*Model, *State, int64) {
	set := Defaults()
	set.Harmonics = rapid.IntRange(1, MaxHarmonics).Draw(t, "harmonics")
	set.LevelSD = rapid.Float64Range(1, 40).Draw(t, "level")
	set.SlotSD = rapid.Float64Range(0.5, 8).Draw(t, "slot")
	set.SpreadDB = rapid.Float64Range(0.05, 6).Draw(t, "spread")
	m, err := NewModel(set)
	if err != nil {
		t.Fatal(err)
	}
	s := m.NewState()
	unix := int64(1_700_000_000)
	for range rapid.IntRange(0, 12).Draw(t, "pieces") {
		unix += rapid.Int64Range(0, 400_000).Draw(t, "gap")
		switch rapid.IntRange(0, 3).Draw(t, "kind") {
		case 0:
			m.Report(s, unix, rapid.Float64Range(-60, 60).Draw(t, "snr"), true)
		case 1:
			m.Report(s, unix, rapid.Float64Range(-60, 60).Draw(t, "snr"), false)
		case 2:
			m.Miss(s, unix, rapid.Float64Range(-20, 20).Draw(t, "raise"))
		case 3:
			m.Move(s, unix, rapid.Float64Range(0, 1).Draw(t, "a"))
		}
	}
	return m, s, unix + rapid.Int64Range(0, 400_000).Draw(t, "ahead")
}

func near(a, b Forecast, within float64) bool {
	return math.Abs(a.SNR-b.SNR) < within && math.Abs(a.SD-b.SD) < within &&
		math.Abs(a.ClimateSD-b.ClimateSD) < within && math.Abs(a.Decode-b.Decode) < within
}

func TestEvidencePulls(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, s, unix := anyState(t)
		before := m.Forecast(s, unix)
		snr := rapid.Float64Range(-60, 60).Draw(t, "snr")

		r := s.Clone()
		m.Report(r, unix, snr, true)
		after := m.Forecast(r, unix)
		if (after.SNR-before.SNR)*(snr-before.SNR) < -1e-9 || math.Abs(snr-after.SNR) > math.Abs(snr-before.SNR)+1e-9 {
			t.Fatalf("report %v took %v to %v", snr, before.SNR, after.SNR)
		}
		u := s.Clone()
		m.Report(u, unix, snr, false)
		alone := m.Forecast(u, unix)
		if alone.SNR > after.SNR+1e-9 || alone.SD < after.SD-1e-9 || alone.SD > before.SD+1e-9 {
			t.Fatalf("report %v: before %+v, witnessed %+v, unwitnessed %+v", snr, before, after, alone)
		}
		m.Miss(s, unix, 0)
		miss := m.Forecast(s, unix)
		if miss.SNR > before.SNR+1e-9 || miss.Decode > before.Decode+1e-9 || miss.SD > before.SD+1e-9 {
			t.Fatalf("a miss took %+v to %+v", before, miss)
		}
	})
}

func TestForecastLeavesTheStateAlone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, s, unix := anyState(t)
		copied := s.Clone()
		first := m.Forecast(s, unix)
		m.Forecast(s, unix+9999)
		if m.Forecast(s, unix) != first || m.Forecast(copied, unix) != first {
			t.Fatal("a forecast changed the state")
		}
		if m.SD(s, unix) != first.SD {
			t.Fatalf("SD %v is not that of the forecast, %v", m.SD(s, unix), first.SD)
		}
		set := m.NewState()
		set.Set(s)
		m.Miss(set, unix, 0)
		if m.Forecast(s, unix) != first || m.Forecast(set, unix).SNR > first.SNR+1e-9 {
			t.Fatal("a state set to another is not a copy of its own")
		}
		at, ok := s.At()
		if ok && m.Forecast(s, at-5000) != m.Forecast(s, at) {
			t.Fatal("a moment before the state's own is not its own")
		}
	})
}

// Going to a moment in two steps equals going there in one: an Ornstein–Uhlenbeck
// process remembers nothing but where it is.
func TestStepsCompose(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, s, unix := anyState(t)
		between := s.Clone()
		m.Move(between, unix, 1) // moves nothing, brings the state to the moment
		later := unix + rapid.Int64Range(0, 3_000_000).Draw(t, "later")
		if a, b := m.Forecast(s, later), m.Forecast(between, later); !near(a, b, 1e-8) {
			t.Fatalf("at once %+v, in two steps %+v", a, b)
		}
	})
}

func TestReportsOfOneSlotCommute(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, s, unix := anyState(t)
		x := rapid.Float64Range(-50, 10).Draw(t, "x")
		y := rapid.Float64Range(-50, 10).Draw(t, "y")
		other := s.Clone()
		m.Report(s, unix, x, true)
		m.Report(s, unix, y, true)
		m.Report(other, unix, y, true)
		m.Report(other, unix, x, true)
		if a, b := m.Forecast(s, unix+7200), m.Forecast(other, unix+7200); !near(a, b, 1e-8) {
			t.Fatalf("%v then %v gives %+v, the other way %+v", x, y, a, b)
		}
	})
}

func TestMoveForgetsTheLevelOnly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, s, unix := anyState(t)
		before := m.Forecast(s, unix)
		far, twice, once := s.Clone(), s.Clone(), s.Clone()
		a := rapid.Float64Range(0, 1).Draw(t, "a")
		b := rapid.Float64Range(0, 1).Draw(t, "b")
		m.Move(twice, unix, a)
		m.Move(twice, unix, b)
		m.Move(once, unix, a*b)
		if x, y := m.Forecast(twice, unix+600), m.Forecast(once, unix+600); !near(x, y, 1e-8) {
			t.Fatalf("moves of %v and %v give %+v, one of their product %+v", a, b, x, y)
		}
		m.Move(far, unix, 0)
		p := covariance(m, far)
		if far.v[0] != 0 || math.Abs(p.At(0, 0)-m.variance[0]) > 1e-9 {
			t.Fatalf("after a far move the level is %v with variance %v", far.v[0], p.At(0, 0))
		}
		for i := 1; i < m.parts; i++ {
			if p.At(0, i) != 0 {
				t.Fatalf("after a far move the level goes with part %d", i)
			}
		}
		m.Move(s, unix, 0.5)
		if f := m.Forecast(s, unix); f.Freshness < 0 || f.Freshness > 1 {
			t.Fatalf("a move took %+v to %+v", before, f)
		}
	})
}

// Every result of one opportunity is foretold: densities of all reports and the
// chance of a miss add up to one.
func TestForetoldChancesAddUpToOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, s, unix := anyState(t)
		f := m.Forecast(s, unix)
		raise := rapid.Float64Range(-10, 10).Draw(t, "raise")
		sd := math.Hypot(f.SD, m.set.SlotSD)
		step := min(sd, m.set.SpreadDB) / 8
		theta := m.set.HalfDecodeDB + raise
		low := max(f.SNR-9*sd, theta-9*m.set.SpreadDB)
		sum := math.Exp(m.LogMiss(f, raise))
		for y := low; y < f.SNR+9*sd; y += step {
			sum += step * math.Exp(m.LogReport(f, y, raise))
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Fatalf("chances add up to 1 + %v", sum-1)
		}
	})
}

// One model serves many goroutines; run with -race.
func TestModelIsSharedSafely(t *testing.T) {
	m := model(t, nil)
	list := history(300, 5)
	var wg sync.WaitGroup
	results := make([]Forecast, 8)
	for i := range results {
		wg.Go(func() {
			s := m.NewState()
			for _, e := range list {
				if e.miss {
					m.Miss(s, e.unix, 0)
				} else {
					m.Report(s, e.unix, e.snr, e.unix%3 == 0)
				}
			}
			results[i] = m.Forecast(s, list[len(list)-1].unix+600)
		})
	}
	wg.Wait()
	for _, f := range results {
		if f != results[0] {
			t.Fatalf("goroutines differ: %+v, %+v", f, results[0])
		}
	}
}

func TestNoAllocation(t *testing.T) {
	m := model(t, nil)
	s, copied := m.NewState(), m.NewState()
	unix := int64(1_700_000_000)
	if n := testing.AllocsPerRun(100, func() {
		unix += 120
		m.Report(s, unix, -25, true)
		m.Report(s, unix, -25, false)
		m.Miss(s, unix, 1)
		m.Move(s, unix, 0.9)
		m.Direction(m.Forecast(s, unix+60), 3).Frame(0.5, 0.5)
		copied.Set(s)
	}); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

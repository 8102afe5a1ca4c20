package link

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// drawn is a state after some evidence, and the moment after it.
func drawn(t *rapid.T, m *Model) (*State, int64) {
	s := m.NewState()
	unix := int64(1_700_000_000)
	for range rapid.IntRange(0, 6).Draw(t, "evidence") {
		unix += rapid.Int64Range(120, 40_000).Draw(t, "gap")
		if rapid.Bool().Draw(t, "heard") {
			m.Report(s, unix, rapid.Float64Range(-40, 0).Draw(t, "snr"), true)
		} else {
			m.Miss(s, unix, 0)
		}
	}
	return s, unix + rapid.Int64Range(120, 40_000).Draw(t, "ahead")
}

// What is expected of a slot is what its two outcomes leave, each with its chance.
func TestExpectIsTheAverageOfBothOutcomes(t *testing.T) {
	m := model(t, nil)
	rapid.Check(t, func(t *rapid.T) {
		s, unix := drawn(t, m)
		raise := rapid.Float64Range(-10, 10).Draw(t, "raise")
		share := rapid.Float64Range(0, 1).Draw(t, "share")
		heard, missed, none := s.Clone(), s.Clone(), s.Clone()
		m.Report(heard, unix, -12, true)
		m.Miss(missed, unix, raise)
		chance := m.Expect(s, unix, raise, share)
		for _, ahead := range []int64{0, 1800, 40_000, 5_000_000} {
			a, b, n, got := m.Forecast(heard, unix+ahead), m.Forecast(missed, unix+ahead), m.Forecast(none, unix+ahead), m.Forecast(s, unix+ahead)
			want := share*(chance*a.SD*a.SD+(1-chance)*b.SD*b.SD) + (1-share)*n.SD*n.SD
			if math.Abs(got.SD*got.SD-want) > 1e-8*(1+want) {
				t.Fatalf("%d s on: variance %v, outcomes give %v", ahead, got.SD*got.SD, want)
			}
			if math.Abs(got.SNR-n.SNR) > 1e-9 {
				t.Fatalf("%d s on: the mean moved from %v to %v", ahead, n.SNR, got.SNR)
			}
		}
	})
}

// The chance returned is that of the forecast, and evidence to come never adds doubt.
func TestExpectChance(t *testing.T) {
	m := model(t, nil)
	rapid.Check(t, func(t *rapid.T) {
		s, unix := drawn(t, m)
		before := m.Forecast(s, unix)
		if chance := m.Expect(s, unix, 0, 1); math.Abs(chance-before.Decode) > 1e-12 {
			t.Fatalf("chance %v, forecast %v", chance, before.Decode)
		}
		if after := m.Forecast(s, unix); after.SD > before.SD+1e-9 {
			t.Fatalf("SD rose from %v to %v", before.SD, after.SD)
		}
	})
}

func TestExpectPassesOverNonsense(t *testing.T) {
	m := model(t, nil)
	s, _ := stateOf(m, 1, -10)
	before := m.Forecast(s, 1_700_010_000)
	for _, c := range []struct{ raise, share float64 }{{math.NaN(), 1}, {0, math.NaN()}, {0, -0.1}, {0, 1.1}, {5000, 1}} {
		if chance := m.Expect(s, 1_700_005_000, c.raise, c.share); chance != 0 {
			t.Errorf("raise %v, share %v: chance %v", c.raise, c.share, chance)
		}
	}
	if after := m.Forecast(s, 1_700_010_000); after != before {
		t.Errorf("%+v became %+v", before, after)
	}
}

func BenchmarkExpect(b *testing.B) {
	b.ReportAllocs()
	m := benchModel(b, 3)
	s := m.NewState()
	unix := int64(1_700_000_000)
	for b.Loop() {
		unix += 600
		m.Expect(s, unix, 0, 0.9)
	}
}

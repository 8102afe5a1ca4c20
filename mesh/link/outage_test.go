package link

import (
	"testing"

	"pgregory.net/rapid"
)

// After Return a state forecasts as if only the moves since Keep had come.
func TestReturnTakesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, s, unix := anyState(t)
		if rapid.Bool().Draw(t, "an older silence") {
			m.Keep(s)
		}
		want := s.Clone()
		m.Keep(s)
		for range rapid.IntRange(0, 6).Draw(t, "since") {
			unix += rapid.Int64Range(0, 40_000).Draw(t, "gap")
			if rapid.IntRange(0, 3).Draw(t, "kind") == 0 {
				a := rapid.Float64Range(0, 1).Draw(t, "a")
				m.Move(s, unix, a)
				m.Move(want, unix, a)
				continue
			}
			m.Miss(s, unix, 0)
		}
		if rapid.Bool().Draw(t, "by a copy") {
			s = s.Clone()
		}
		m.Return(s)
		for _, ahead := range []int64{0, 3600, 86400, 1_000_000} {
			if got, want := m.Forecast(s, unix+ahead), m.Forecast(want, unix+ahead); !near(got, want, 1e-9) {
				t.Fatalf("%d s ahead %+v, want %+v", ahead, got, want)
			}
		}
		before, ok := s.At()
		if after, _ := want.At(); ok && before > after {
			t.Fatalf("the state stands at %d, want %d at the latest", before, after)
		}
	})
}

// Nothing is left of a link that had no evidence before its sender fell silent.
func TestReturnWithoutKeep(t *testing.T) {
	m := model(t, nil)
	s := m.NewState()
	m.Keep(s)
	m.Miss(s, midnight, 0)
	m.Return(s)
	if _, ok := s.At(); ok || m.Forecast(s, midnight) != m.Forecast(m.NewState(), midnight) {
		t.Errorf("a state kept before any evidence: %+v", m.Forecast(s, midnight))
	}
	m.Miss(s, midnight, 0)
	m.Return(s) // what Keep remembered was used up
	if _, ok := s.At(); ok || m.Forecast(s, midnight) != m.Forecast(m.NewState(), midnight) {
		t.Errorf("a state never kept: %+v", m.Forecast(s, midnight))
	}
}

func TestKeepAllocatesOnce(t *testing.T) {
	m := model(t, nil)
	s := m.NewState()
	m.Keep(s)
	if n := testing.AllocsPerRun(100, func() {
		m.Keep(s)
		m.Return(s)
	}); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

package link

import (
	"math"
	"reflect"
	"strings"
	"testing"
	"time"
)

func TestDefaultsCanBeUsed(t *testing.T) {
	if p := Defaults().Problems(); p != nil {
		t.Errorf("problems with the defaults: %v", p)
	}
	m := model(t, nil)
	if m.Settings() != Defaults() {
		t.Errorf("the model is made from %+v", m.Settings())
	}
}

// Every field, set to a value that can't be, must be named; fields are found by
// reflection so that a new one can't be forgotten.
func TestEveryFieldIsChecked(t *testing.T) {
	fields := reflect.TypeFor[Settings]()
	for i := range fields.NumField() {
		name := fields.Field(i).Name
		for _, bad := range []float64{-1e6, 1e30, math.NaN()} {
			s := Defaults()
			switch f := reflect.ValueOf(&s).Elem().Field(i); f.Interface().(type) {
			case float64:
				f.SetFloat(bad)
			case int:
				f.SetInt(int64(min(max(bad, -99), 99)))
			case time.Duration:
				f.SetInt(-1)
			default:
				t.Fatalf("field %s has a type this test doesn't know", name)
			}
			found := s.Problems()
			if len(found) != 1 || found[0].Field != name || found[0].Message == "" {
				t.Errorf("%s = %v: problems %v", name, bad, found)
			}
			if err := s.Check(); err == nil || !strings.Contains(err.Error(), name) {
				t.Errorf("%s = %v: Check says %v", name, bad, err)
			}
			if _, err := NewModel(s); err == nil {
				t.Errorf("%s = %v makes a model", name, bad)
			}
		}
	}
}

func TestAllProblemsAtOnce(t *testing.T) {
	found := Settings{}.Problems()
	var names []string
	for _, p := range found {
		names = append(names, p.Field)
	}
	want := "SpreadDB LevelTau Harmonics HarmonicTau FastTau SlowTau SlotSD KnownSD"
	if got := strings.Join(names, " "); got != want {
		t.Errorf("problems with %s, want %s", got, want)
	}
	if lines := strings.Split(Settings{}.Check().Error(), "\n"); len(lines) != len(found) {
		t.Errorf("%d lines for %d problems", len(lines), len(found))
	}
}

// Edges of what Check allows must give models that work.
func TestExtremeSettingsWork(t *testing.T) {
	for i, change := range []func(*Settings){
		func(s *Settings) { s.LevelSD, s.HarmonicSD, s.FastSD, s.SlowSD = 0, 0, 0, 0 },
		func(s *Settings) {
			s.LevelSD, s.HarmonicSD, s.FastSD, s.SlowSD, s.HarmonicRatio = 100, 100, 100, 100, 1
		},
		func(s *Settings) { s.SpreadDB, s.SlotSD = 0.01, 100 },
		func(s *Settings) { s.SpreadDB, s.SlotSD = 30, 0.1 },
		func(s *Settings) { s.SpreadDB, s.SlotSD, s.LevelSD = 0.01, 0.1, 100 },
		func(s *Settings) { s.LevelTau, s.HarmonicTau, s.FastTau, s.SlowTau = minTau, minTau, minTau, minTau },
		func(s *Settings) { s.LevelTau, s.HarmonicTau, s.FastTau, s.SlowTau = maxTau, maxTau, maxTau, maxTau },
		func(s *Settings) { s.Harmonics, s.HarmonicRatio = MaxHarmonics, 0 },
	} {
		m := model(t, change)
		s := m.NewState()
		unix := int64(1_700_000_000)
		for n := range 300 {
			unix += int64(n%7) * 600
			m.Report(s, unix, -25, n%3 == 0)
			m.Miss(s, unix, 0)
		}
		f := m.Forecast(s, unix+600)
		if !(f.Decode >= 0 && f.Decode <= 1 && f.Freshness >= 0 && f.Freshness <= 1 && f.SD >= 0) ||
			math.IsNaN(f.SNR+f.SD+f.ClimateSD) || math.Abs(f.SNR) > 1000 {
			t.Errorf("extreme %d: %+v", i, f)
		}
	}
}

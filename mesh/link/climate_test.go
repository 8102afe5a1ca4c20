package link

import "testing"

const midnight = int64(1_709_251_200) // 2024-03-01 00:00 UTC

// aWeekOfDays feeds reports from 09:00 to 17:00 UTC every 10 minutes for the
// given days and returns the state and the midnight after.
func aWeekOfDays(m *Model, days int) (*State, int64) {
	s := m.NewState()
	for day := range int64(days) {
		for second := int64(9 * 3600); second <= 17*3600; second += 600 {
			m.Report(s, midnight+day*86400+second, -15, true)
		}
	}
	return s, midnight + int64(days)*86400
}

func TestDaytimeSaysLittleAboutMidnight(t *testing.T) {
	m := model(t, nil)
	s, end := aWeekOfDays(m, 7)
	noon, night := m.Forecast(s, end+13*3600), m.Forecast(s, end+3600)
	if !noon.Known {
		t.Errorf("noon is unknown after a week of daytime reports: %+v", noon)
	}
	if night.Known {
		t.Errorf("midnight is known after a week of daytime reports: %+v", night)
	}
	if noon.Freshness < night.Freshness+0.2 {
		t.Errorf("freshness at noon %v, at midnight %v", noon.Freshness, night.Freshness)
	}
	if noon.Decode < 0.8 || night.Decode > noon.Decode-0.1 {
		t.Errorf("decode chance at noon %v, at midnight %v", noon.Decode, night.Decode)
	}
}

func TestNightEvidenceMakesTheNightKnown(t *testing.T) {
	m := model(t, nil)
	s, end := aWeekOfDays(m, 7)
	for day := range int64(7) {
		for second := int64(0); second < 86400; second += 600 {
			if hour := second / 3600; hour < 6 {
				m.Miss(s, end+day*86400+second, 0)
			} else if hour >= 9 && hour < 17 {
				m.Report(s, end+day*86400+second, -15, true)
			}
		}
	}
	end += 7 * 86400
	if f := m.Forecast(s, end+3*3600); !f.Known || f.Decode > 0.1 {
		t.Errorf("the night after nights of misses: %+v", f)
	}
	if f := m.Forecast(s, end+13*3600); !f.Known || f.Decode < 0.8 {
		t.Errorf("noon after nights of misses: %+v", f)
	}
}

func TestPriorIsUnknown(t *testing.T) {
	m := model(t, nil)
	s := m.NewState()
	f := m.Forecast(s, midnight)
	if f.Known || f.Freshness != 0 || f.SNR != m.set.HalfDecodeDB+m.set.MeanDB {
		t.Errorf("without evidence: %+v", f)
	}
	if _, ok := s.At(); ok {
		t.Error("a state without evidence stands at a moment")
	}
	if g := m.Forecast(s, midnight+12345); f != g {
		t.Errorf("without evidence the moment matters: %+v, %+v", f, g)
	}
}

// At the same hour on later and later days a forecast must only lose.
func TestFreshnessDecays(t *testing.T) {
	m := model(t, nil)
	s, end := aWeekOfDays(m, 7)
	before := m.Forecast(s, end+12*3600)
	first := before
	for day := int64(1); day < 1500; day++ {
		f := m.Forecast(s, end+12*3600+day*86400)
		if f.Freshness > before.Freshness+1e-12 || f.ClimateSD < before.ClimateSD-1e-12 {
			t.Fatalf("day %d: %+v after %+v", day, f, before)
		}
		before = f
	}
	if first.Freshness < 0.5 || before.Freshness > 0.01 || before.Known {
		t.Errorf("first %+v, after four years %+v", first, before)
	}
}

// Within hours of the newest evidence freshness is lost by the fluctuations far
// more than by the climate.
func TestFluctuationsGoFirst(t *testing.T) {
	m := model(t, nil)
	s, _ := aWeekOfDays(m, 7)
	unix, _ := s.At()
	now, later := m.Forecast(s, unix), m.Forecast(s, unix+3600)
	if whole, climate := later.SD-now.SD, later.ClimateSD-now.ClimateSD; whole < 3*climate {
		t.Errorf("within an hour the whole rose by %v dB, the climate by %v", whole, climate)
	}
}

// The climate is what is left of the mean once the fluctuations of the moment
// are forgotten: days later there is no difference, right after a report far off there is.
func TestClimateIsWithoutFluctuations(t *testing.T) {
	m := model(t, nil)
	s, end := aWeekOfDays(m, 7)
	m.Report(s, end+12*3600, -25, true)
	now, later := m.Forecast(s, end+12*3600), m.Forecast(s, end+12*3600+20*86400)
	if d := now.Climate - now.SNR; d < 2 {
		t.Errorf("after a report 10 dB down the climate is %v dB above", d)
	}
	if d := later.Climate - later.SNR; d < -1e-6 || d > 1e-6 {
		t.Errorf("20 days later the climate is %v dB off", d)
	}
	if f := m.Forecast(m.NewState(), end); f.Climate != f.SNR {
		t.Errorf("without evidence %+v", f)
	}
}

package aysen

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// The process keeps its variance, and forgets as exp(−Δt/τ). With 200,000 draws
// at steps of half a time constant the standard errors are below 0.01.
func TestStrayerIsStationary(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	s := newStrayer(1, 2*time.Hour)
	const n = 200_000
	var sum, squares, lagged, before float64
	for k := range int64(n) {
		v := s.at(3600*k, rng)
		sum += v
		squares += v * v
		lagged += v * before
		before = v
	}
	for _, test := range []struct {
		name      string
		got, want float64
	}{{"mean", sum / n, 0}, {"variance", squares / n, 1}, {"covariance after an hour", lagged / n, math.Exp(-0.5)}} {
		if math.Abs(test.got-test.want) > 0.03 {
			t.Errorf("%s %.4f, want %.4f", test.name, test.got, test.want)
		}
	}
	if v := s.at(3600*(n-1), rng); v != before {
		t.Errorf("asked twice for one moment: %v, then %v", before, v)
	}
}

// Fluctuations are common to both directions of a pair and differ between pairs.
func TestWeatherIsCommonToBothDirections(t *testing.T) {
	s := New()
	sky := newWeather(s.Wander, s.Evening, 3, 2, rand.New(rand.NewPCG(1, 2)))
	at := s.Start.Unix()
	if a, b := sky.at(0, 1, Day, at), sky.at(1, 0, Day, at); a != b {
		t.Errorf("one way %v, the other %v", a, b)
	}
	if a, b := sky.at(0, 1, Day, at), sky.at(0, 2, Day, at); a == b {
		t.Errorf("two pairs are the same, %v", a)
	}
}

func TestDisturbance(t *testing.T) {
	d := Disturbance{Spell: spell("2026-03-11T21:00", "2026-03-12T08:00"), Ramp: time.Hour, DepthDB: 12}
	tests := map[string]float64{
		"2026-03-11T20:59": 0, "2026-03-11T21:00": 0, "2026-03-11T21:30": 6, "2026-03-11T22:00": 12,
		"2026-03-12T02:00": 12, "2026-03-12T07:45": 3, "2026-03-12T08:00": 0, "2026-03-12T09:00": 0,
	}
	for text, want := range tests {
		if got := d.At(at(text)); math.Abs(got-want) > 1e-9 {
			t.Errorf("at %s %v dB, want %v", text, got, want)
		}
	}
}

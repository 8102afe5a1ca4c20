package aysen

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"farhop/observations/locator"
)

func TestSun(t *testing.T) {
	equator := locator.Position{}
	equinox := time.Date(2026, 3, 22, 12, 0, 0, 0, time.UTC)
	cosZenith, hour := sun(equator, equinox)
	if math.Abs(cosZenith-1) > 1e-3 || math.Abs(hour-12) > 1e-9 {
		t.Errorf("overhead at noon: cosine %v at %v h", cosZenith, hour)
	}
	if c, _ := sun(equator, equinox.Add(-6*time.Hour)); math.Abs(c) > 1e-3 {
		t.Errorf("on the horizon at six: cosine %v", c)
	}
	if c, _ := sun(locator.Position{Lat: -60}, equinox); math.Abs(c-0.5) > 0.01 {
		t.Errorf("60° from the zenith at 60° south: cosine %v", c)
	}
	if _, h := sun(locator.Position{Lon: -75}, equinox); math.Abs(h-7) > 1e-9 {
		t.Errorf("75° west it is %v h, want 7", h)
	}
}

func TestSkipAndAbsorption(t *testing.T) {
	const noon, midnight = 13.0, 1.0
	tests := []struct {
		name      string
		got       float64
		low, high float64
	}{
		{"day band, noon, 100 km", skip(noon, 100, 7.131), 0, 1},
		{"day band, midnight, 100 km", skip(midnight, 100, 7.131), 25, 40},
		{"day band, midnight, 1000 km", skip(midnight, 1000, 7.131), 0, 3},
		{"night band, midnight, 100 km", skip(midnight, 100, 3.651), 0, 2},
		{"no sun, no absorption", absorption(-0.2, 300, 3.651), 0, 0},
		{"night band, high sun", absorption(0.7, 200, 3.651), 15, 40},
		{"day band, high sun", absorption(0.7, 200, 7.131), 3, 12},
	}
	for _, test := range tests {
		if test.got < test.low || test.got > test.high {
			t.Errorf("%s: %.1f dB, want %v to %v", test.name, test.got, test.low, test.high)
		}
	}
}

// Losses are never negative; longer paths skip less, slant and spread more.
func TestLossesAreMonotonic(t *testing.T) {
	const slack = 1e-9 // dB, of rounding: two paths may be of all but equal length
	rapid.Check(t, func(t *rapid.T) {
		near := rapid.Float64Range(0, 2000).Draw(t, "near")
		far := near + rapid.Float64Range(0, 1000).Draw(t, "more")
		hour := rapid.Float64Range(0, 24).Draw(t, "hour")
		cosZenith := rapid.Float64Range(-1, 1).Draw(t, "cosZenith")
		mhz := rapid.Float64Range(1.8, 14).Draw(t, "mhz")
		if a, b := skip(hour, near, mhz), skip(hour, far, mhz); a < b-slack || b < 0 {
			t.Fatalf("skip %v at %v km, %v at %v km", a, near, b, far)
		}
		if a, b := absorption(cosZenith, near, mhz), absorption(cosZenith, far, mhz); a > b+slack || a < 0 {
			t.Fatalf("absorption %v at %v km, %v at %v km", a, near, b, far)
		}
		if a, b := spreading(near), spreading(far); a > b+slack || a < 0 {
			t.Fatalf("spreading %v at %v km, %v at %v km", a, near, b, far)
		}
	})
}

package link

import (
	"math"
	"testing"
)

func TestSiteDifference(t *testing.T) {
	// Common practice, no source: 25 W heard at −4 dB one way and 4 W heard at
	// +1 dB the other way means receiving sites 13.0 dB apart.
	if got := SiteDifference(-4, 25, 1, 4); math.Abs(got-13.0) > 0.05 {
		t.Errorf("got %v dB, want 13.0 dB", got)
	}
	if got := SiteDifference(1, 4, -4, 25); math.Abs(got+13.0) > 0.05 {
		t.Errorf("seen from the other end %v dB, want −13.0 dB", got)
	}
	// From the parts: SNR = power − path loss − site noise, all in dB.
	const loss, noiseA, noiseB = 140.0, -118.0, -111.5
	ab := PowerDB(20, 1) - loss - noiseB
	ba := PowerDB(5, 1) - loss - noiseA
	if got := SiteDifference(ab, 20, ba, 5); math.Abs(got-(noiseB-noiseA)) > 1e-12 {
		t.Errorf("got %v dB, want %v dB", got, noiseB-noiseA)
	}
}

func TestPowerDB(t *testing.T) {
	for _, c := range []struct{ watts, reference, want float64 }{
		{100, 10, 10}, {10, 100, -10}, {5, 5, 0}, {2, 1, 3.010299956639812},
	} {
		if got := PowerDB(c.watts, c.reference); math.Abs(got-c.want) > 1e-14 {
			t.Errorf("PowerDB(%v, %v) = %v, want %v", c.watts, c.reference, got, c.want)
		}
	}
}

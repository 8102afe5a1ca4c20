package link

import (
	"math"
	"testing"
)

// Recommendation ITU-R P.842-5 (09/2013), Computation of reliability and
// compatibility of HF radio systems: by the meaning of a decile a margin of 0
// is met half the time, one of the lower decile 9 times in 10, and one of minus
// the upper decile once in 10. Under a normal model each half has σ = D/1.28155
// (z(0.9) = 1.2815515655446004, recomputed); half-normal figures for other margins
// recomputed from the same model.
func TestAnchorsOfITURP842(t *testing.T) {
	const z90 = 1.2815515655446004
	for _, c := range []struct{ margin, upper, lower, percent float64 }{
		{0, 6, 8, 50},
		{8, 6, 8, 90},
		{-6, 6, 8, 10},
		{4, 6, 8, 73.916582},
		{16, 6, 8, 99.481294},
		{-9, 6, 8, 2.728229},
		{12, 7, 10, 93.795881},
		{-4, 7, 10, 23.198811},
		{-10, 7, 10, 3.35661},
		{12.36931687685298, 9.273618495495704, 12.36931687685298, 90},
		{-9.273618495495704, 9.273618495495704, 12.36931687685298, 10},
	} {
		decile := c.lower
		if c.margin < 0 {
			decile = c.upper
		}
		sd := decile / z90
		d := Direction{Kind: Gaussian, Margin: c.margin, SD: sd, Noise: 1}
		if got := 100 * d.Open(0); math.Abs(got-c.percent) > 1e-6 {
			t.Errorf("margin %v dB, deciles +%v −%v dB: %v %%, want %v %%", c.margin, c.upper, c.lower, got, c.percent)
		}
		// The same whole spread parted between uncertainty and slot gives the
		// same chance of a frame.
		half := Direction{Kind: Gaussian, Margin: c.margin, SD: sd * 0.6, Common: sd * 0.2, Noise: sd * 0.8}
		if got := 100 * half.Mean(); math.Abs(got-c.percent) > 1e-6 {
			t.Errorf("margin %v dB: mean chance %v %%, want %v %%", c.margin, got, c.percent)
		}
	}
}

// overNormal averages a function over a standard normal deviate. The trapezoid
// rule with this step is exact to rounding for what is tested here.
func overNormal(f func(z float64) float64) float64 {
	const step = 1.0 / 32
	sum := 0.0
	for i := -320; i <= 320; i++ {
		z := float64(i) * step
		sum += f(z) * math.Exp(-z*z/2)
	}
	return sum * step / math.Sqrt(2*math.Pi)
}

func TestMeanIsAverageOfFrame(t *testing.T) {
	for _, d := range []Direction{
		{},
		FixedDecode(0.83),
		FixedSNR(-12, 4, -14, 2),
		FixedSNR(-12, 0, -14, 2),
		{Kind: Gaussian, Margin: 3, SD: 7, Common: 3, Noise: 4.03},
		{Kind: Gaussian, Margin: -8, SD: 12, Common: 3, Noise: 4.03},
		{Kind: Gaussian, Margin: 1, SD: 2, Common: 2, Noise: 4.03},
		{Kind: Gaussian, Margin: 1, SD: 0, Common: 0, Noise: 0.5},
	} {
		got := overNormal(func(eta float64) float64 {
			return overNormal(func(zeta float64) float64 { return d.Frame(zeta, eta) })
		})
		if math.Abs(got-d.Mean()) > 1e-10 {
			t.Errorf("%+v: average frame %v, mean %v", d, got, d.Mean())
		}
	}
}

func TestOpenIsChanceOfAFrameWithoutNoise(t *testing.T) {
	for _, eta := range []float64{-2, -0.3, 0, 1.7} {
		d := Direction{Kind: Gaussian, Margin: 2, SD: 5, Common: 3, Noise: 1e-9}
		// The share of zeta above the root of the frame's argument.
		root := -(d.Margin + 3*eta) / 4
		want := 0.5 * math.Erfc(root/math.Sqrt2)
		if got := d.Open(eta); math.Abs(got-want) > 1e-12 {
			t.Errorf("Open(%v) = %v, want %v", eta, got, want)
		}
		if d.Frame(root+1e-6, eta) < 0.999 || d.Frame(root-1e-6, eta) > 0.001 {
			t.Errorf("eta %v: the frame chance doesn't step at %v", eta, root)
		}
	}
}

func TestOpenSteps(t *testing.T) {
	shared := Direction{Kind: Gaussian, Margin: -3, SD: 2, Common: 2, Noise: 4}
	for _, c := range []struct {
		d         Direction
		eta, want float64
	}{
		{shared, 1.4999, 0},
		{shared, 1.5, 1},
		{FixedSNR(-14, 0, -14, 2), 0, 1},
		{FixedSNR(-14.001, 0, -14, 2), 3, 0},
		{FixedDecode(0.83), -2, 0.83},
		{FixedDecode(0), 0, 0},
		{Direction{}, 5, 0},
	} {
		if got := c.d.Open(c.eta); got != c.want {
			t.Errorf("%+v: Open(%v) = %v, want %v", c.d, c.eta, got, c.want)
		}
	}
}

func TestFixedDirections(t *testing.T) {
	for _, c := range []struct{ chance, want float64 }{{0.5, 0.5}, {-1, 0}, {2, 1}, {math.NaN(), 0}} {
		d := FixedDecode(c.chance)
		if d.Kind != Certain || d.Frame(3, -3) != c.want || d.Mean() != c.want {
			t.Errorf("FixedDecode(%v) = %+v", c.chance, d)
		}
	}
	// A stated SNR with its spread: Φ((snr − θ)/√(sd² + δ²)).
	d := FixedSNR(-9, 3, -13, 4)
	if want := 0.5 * math.Erfc(-0.8/math.Sqrt2); math.Abs(d.Mean()-want) > 1e-15 {
		t.Errorf("mean %v, want %v", d.Mean(), want)
	}
	if d.Frame(1, 5) != d.Frame(1, -5) {
		t.Error("a stated link shares a deviation with the net")
	}
	if (Direction{}).Frame(9, 9) != 0 || (Direction{}).Mean() != 0 {
		t.Error("the zero direction passes frames")
	}
}

func TestDirectionOfAForecast(t *testing.T) {
	m := model(t, nil)
	_, f := stateOf(m, 2, -20)
	for _, common := range []float64{0, 3, 100, -1} {
		d := m.Direction(f, common)
		if want := min(max(common, 0), f.SD); d.Common != want || d.SD != f.SD || d.Kind != Gaussian {
			t.Errorf("common %v: %+v", common, d)
		}
		if math.Abs(d.Mean()-f.Decode) > 1e-15 {
			t.Errorf("common %v: mean chance %v, forecast %v", common, d.Mean(), f.Decode)
		}
	}
}

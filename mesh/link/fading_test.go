package link

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Over splits the deviation as a simulated fluctuation does: what the mean over a span
// keeps of its variance is in common, and the decode chance of a slot stays.
func TestOverAgainstWalks(t *testing.T) {
	const steps, walks = 200, 20_000
	r := rand.New(rand.NewPCG(5, 5))
	for _, span := range []float64{600, 3600, 4 * 3600} {
		f := Fading{FastVar: 36, FastRate: 1 / 3240., SlowVar: 25, SlowRate: 1 / 48600.}
		a, b := math.Exp(-span/steps*f.FastRate), math.Exp(-span/steps*f.SlowRate)
		sum := 0.0
		for range walks {
			fast, slow, mean := 6*r.NormFloat64(), 5*r.NormFloat64(), 0.0
			for range steps {
				mean += (fast + slow) / steps
				fast = a*fast + 6*math.Sqrt(1-a*a)*r.NormFloat64()
				slow = b*slow + 5*math.Sqrt(1-b*b)*r.NormFloat64()
			}
			sum += mean * mean
		}
		d := Direction{Kind: Gaussian, Margin: 2, SD: 9, Common: 3, Noise: 4}
		o := d.Over(f, span)
		common, want := o.SD*o.SD-(81-61), sum/walks
		if math.Abs(common-want) > 4*want*math.Sqrt(2./walks) {
			t.Errorf("span %v s: %v dB² of the fluctuations in common, played %v", span, common, want)
		}
		if math.Abs(o.Mean()-d.Mean()) > 1e-12 || o.Common != 3 || o.Margin != 2 {
			t.Errorf("span %v s: %+v of %+v: chance %v, want %v", span, o, d, o.Mean(), d.Mean())
		}
	}
}

func TestOverLeaves(t *testing.T) {
	f := Fading{FastVar: 36, FastRate: 1 / 3240.}
	for _, d := range []Direction{{}, FixedDecode(0.7), FixedSNR(-12, 4, -16, 1.5), {Kind: Gaussian, Margin: 1, SD: 0, Noise: 4}} {
		if got := d.Over(Fading{}, 7200); got != d {
			t.Errorf("%+v becomes %+v without fading", d, got)
		}
		for _, span := range []float64{0, -5, math.NaN()} {
			if got := d.Over(f, span); got != d {
				t.Errorf("%+v becomes %+v over %v s", d, got, span)
			}
		}
	}
	// What passes is no more than there is, and the net's share no more than what is left.
	d := Direction{Kind: Gaussian, SD: 5, Common: 3, Noise: 4}
	if o := d.Over(f, 1e9); o.SD != 0 || o.Common != 0 || math.Abs(o.Noise-math.Sqrt(41)) > 1e-12 {
		t.Errorf("in the long run %+v", o)
	}
	for _, u := range []float64{1e-9, 9.9e-5, 1.01e-4, 1e-3} {
		if got, want := kept(u), 1-u/3+u*u/12; math.Abs(got-want) > 1e-7 {
			t.Errorf("kept(%v) = %v, want %v", u, got, want)
		}
	}
}

// The variances of a forecast's fluctuations add up to what the climate doesn't explain
// before any evidence, and shrink with evidence.
func TestForecastFading(t *testing.T) {
	m, err := NewModel(Defaults())
	if err != nil {
		t.Fatal(err)
	}
	set := m.Settings()
	s := m.NewState()
	f := m.Forecast(s, 1_000_000)
	if got, want := f.Fading.FastVar, set.FastSD*set.FastSD; math.Abs(got-want) > 1e-9 || math.Abs(f.Fading.SlowVar-set.SlowSD*set.SlowSD) > 1e-9 {
		t.Errorf("prior fast variance %v, want %v", got, want)
	}
	if math.Abs(f.Fading.FastRate*set.FastTau.Seconds()-1) > 1e-12 || math.Abs(f.Fading.SlowRate*set.SlowTau.Seconds()-1) > 1e-12 {
		t.Errorf("rates %+v", f.Fading)
	}
	m.Report(s, 1_000_000, -10, true)
	if near, far := m.Forecast(s, 1_000_000).Fading, m.Forecast(s, 1_000_000+30*86400).Fading; !(near.FastVar < far.FastVar && near.SlowVar < far.SlowVar) ||
		math.Abs(far.FastVar-set.FastSD*set.FastSD) > 1e-6 {
		t.Errorf("right after a report %+v, a month later %+v", near, far)
	}
}

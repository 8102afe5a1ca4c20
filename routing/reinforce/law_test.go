package reinforce

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/observations/locator"
)

// strewn is a net of stations over some 300 km, with stated links of which the
// SNR falls with distance: 12 dB at 0 km less 1 dB every 8 km for 1 W, each site good or
// bad for a few dB, pairs in skip left out.
func strewn(t testing.TB, seed uint64, stations int, skip func(a, b int) bool) (*mesh.Net, func(a, b int) float64) {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 5))
	net := &mesh.Net{
		Slots:    mesh.DefaultSlots(),
		Channels: []mesh.Channel{{Name: "day", Frequency: 7_131_000}},
	}
	site := make([]float64, stations)
	for i := range stations {
		p := locator.Position{Lat: -45 + 2.5*rng.Float64(), Lon: -73 + 3.5*rng.Float64()}
		square, err := locator.Format(p, 6)
		if err != nil {
			t.Fatal(err)
		}
		site[i] = 3 * rng.NormFloat64()
		net.Stations = append(net.Stations, mesh.Station{Call: fmt.Sprintf("S%02d", i), Locator: square, PowerW: 5 + 15*rng.Float64()})
	}
	if issues := net.Prepare(); len(issues) > 0 {
		t.Fatal(issues)
	}
	truth := func(a, b int) float64 { // at 1 W
		d := locator.Distance(net.Stations[a].Position, net.Stations[b].Position)
		return 12 - d/8 + site[a] + site[b]
	}
	for a := range stations {
		for b := range stations {
			if a == b || skip(a, b) {
				continue
			}
			net.Fixed = append(net.Fixed, mesh.FixedLink{
				From: a, To: b, SNRDB: truth(a, b) + 10*math.Log10(net.Stations[a].PowerW) + rng.NormFloat64(), SNRSDDB: 3,
			})
		}
	}
	if issues := net.Prepare(); len(issues) > 0 {
		t.Fatal(issues)
	}
	return net, truth
}

func learn(t testing.TB, net *mesh.Net) *mesh.Links {
	t.Helper()
	links, err := mesh.Learn(context.Background(), net, nil, time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC).Unix())
	if err != nil {
		t.Fatal(err)
	}
	return links
}

// Links that were left out are expected near the truth, and about as far off as
// the law says.
func TestLawExpectsWhatWasLeftOut(t *testing.T) {
	skip := func(a, b int) bool { return (a*7+b*7)%5 == 0 }
	var squares, within, n float64
	for seed := range uint64(4) {
		net, truth := strewn(t, seed, 12, skip)
		links := learn(t, net)
		law := LearnLaw(links, links.At())
		if law == nil {
			t.Fatal("nothing was learnt")
		}
		for a := range net.Stations {
			for b := range net.Stations {
				if a == b || !skip(a, b) {
					continue
				}
				p := path{0, law.site[a], law.site[b]}
				off, sd := law.expect(p)-truth(a, b), math.Sqrt(law.spread([]path{p}).At(0, 0))
				squares += off * off
				n++
				if math.Abs(off) < 2*sd {
					within++
				}
			}
		}
	}
	spread := math.Sqrt(squares / n)
	t.Logf("%.0f links: off by %.2f dB, %.0f %% within two standard deviations", n, spread, 100*within/n)
	if spread > 3 || within/n < 0.9 {
		t.Errorf("%.0f links: off by %.2f dB, %.0f %% within two standard deviations", n, spread, 100*within/n)
	}
}

// A new site's expectation falls with distance and is less sure than a member's.
func TestTypicalFallsWithDistance(t *testing.T) {
	net, _ := strewn(t, 9, 14, func(int, int) bool { return false })
	links := learn(t, net)
	law := LearnLaw(links, links.At())
	places := len(law.sites.place)
	before := math.Inf(1)
	for _, km := range []float64{50, 100, 150, 200} {
		snr, sd := law.Typical(0, km, 1)
		if snr > before-2 || sd < siteDB || sd > 20 {
			t.Errorf("%v km: %.1f ± %.1f dB after %.1f dB", km, snr, sd, before)
		}
		if math.Abs(snr-(12-km/8)) > 6 {
			t.Errorf("%v km: %.1f dB, in truth %.1f", km, snr, 12-km/8)
		}
		before = snr
		louder, _ := law.Typical(0, km, 10)
		if math.Abs(louder-snr-10) > 1e-9 {
			t.Errorf("ten times the power: %v dB more", louder-snr)
		}
	}
	if len(law.sites.place) != places || len(law.sites.km[0]) != places || len(law.sites.alike) != places {
		t.Error("asking left places behind")
	}
}

// An odd site is told apart from the others, and doesn't spoil what is learnt of them.
func TestOddSiteIsFound(t *testing.T) {
	net, truth := strewn(t, 3, 12, func(int, int) bool { return false })
	for i := range net.Fixed { // a generator beside S04
		if f := &net.Fixed[i]; net.Stations[f.To].Call == "S04" {
			f.SNRDB -= 30
		}
	}
	links := learn(t, net)
	law := LearnLaw(links, links.At())
	odd, _ := net.Find("S04")
	for i := range net.Stations {
		_, noise := law.Site(i)
		if i == odd && (noise < 20 || noise > 40) || i != odd && math.Abs(noise) > noisyDB {
			t.Errorf("%s hears %.1f dB worse than others", net.Stations[i].Call, noise)
		}
	}
	var squares, n float64
	for a := range net.Stations {
		for b := range net.Stations {
			if a != b && b != odd {
				off := law.expect(path{0, law.site[a], law.site[b]}) - truth(a, b)
				squares += off * off
				n++
			}
		}
	}
	if spread := math.Sqrt(squares / n); spread > 2 {
		t.Errorf("the other links are off by %.1f dB", spread)
	}
}

func TestFewLinksTeachNothing(t *testing.T) {
	net, _ := strewn(t, 1, 3, func(a, b int) bool { return a > b })
	links := learn(t, net)
	if LearnLaw(links, links.At()) != nil {
		t.Error("three links taught a law")
	}
	a, err := Advise(context.Background(), links, Request{})
	if err != nil || a.Law != nil {
		t.Fatal(err)
	}
	for _, o := range a.First {
		if o.Expected > 0 {
			t.Errorf("%s rests on expected links", o.Kind)
		}
	}
}

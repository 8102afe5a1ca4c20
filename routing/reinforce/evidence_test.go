package reinforce

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
	"farhop/observations"
	"farhop/routing/cut"
)

// threeDays is a net whose log says: HARBOR and MILL hear each other at −9 and
// −12 dB every 20 minutes; SUMMIT sounds and is heard by HARBOR, never by MILL, which
// listens; nobody knows of OUTPOST.
func threeDays(t testing.TB) *mesh.Links {
	t.Helper()
	start := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	var csv strings.Builder
	csv.WriteString("time,receiver,sender,snr_db,frequency_hz\n")
	for at := start; at.Before(start.Add(72 * time.Hour)); at = at.Add(20 * time.Minute) {
		row := func(after time.Duration, receiver, sender string, snr int) {
			fmt.Fprintf(&csv, "%s,%s,%s,%d,7131000\n", at.Add(after).Format(time.RFC3339), receiver, sender, snr)
		}
		row(0, "MILL", "HARBOR", -9)
		row(4*time.Minute, "HARBOR", "MILL", -12)
		row(6*time.Minute, "HARBOR", "SUMMIT", -5)
	}
	log, err := observations.Read(context.Background(), []observations.Input{{Path: "-"}}, observations.Options{Newest: true, Stdin: strings.NewReader(csv.String())})
	if err != nil {
		t.Fatal(err)
	}
	net := &mesh.Net{
		Slots: mesh.DefaultSlots(), Channels: []mesh.Channel{{Name: "day", Frequency: 7_131_000}},
		Stations: []mesh.Station{
			{Call: "HARBOR", Locator: "FE34om", PowerW: 20, Watch: mesh.WatchDeclared},
			{Call: "MILL", Locator: "FE34xk", PowerW: 10, Watch: mesh.WatchDeclared},
			{Call: "OUTPOST", Locator: "FE31rm", PowerW: 10, OnAir: windows(t, "03:00-04:00")},
			{Call: "SUMMIT", Locator: "FE35vg", PowerW: 10, OnAir: windows(t, "00:00-23:59")},
		},
	}
	if issues := net.Prepare(); len(issues) > 0 {
		t.Fatal(issues)
	}
	links, err := mesh.Learn(context.Background(), net, log, log.Moment)
	if err != nil {
		t.Fatal(err)
	}
	return links
}

// What the evidence alone says: the SNR heard for a link that is heard, something
// far lower and less certain for one only ever missed, nothing without evidence.
func TestMeasureIsTheEvidenceAlone(t *testing.T) {
	links := threeDays(t)
	law := newLaw(links)
	got := make(map[[2]int]lesson)
	for _, m := range law.measure(links, links.At()) {
		got[[2]int{m.from, m.to}] = m
	}
	// Nobody else heard these transmissions, so that a report says somewhat less
	// than its SNR.
	heard := func(from, to int, snr float64) {
		m, ok := got[[2]int{from, to}]
		if y := m.y + law.mean + 10*math.Log10(law.power[from]); !ok || y > snr+1 || y < snr-5 || m.variance > 36 {
			t.Errorf("%d to %d: %.1f ± %.1f dB, want %v", from, to, y, math.Sqrt(m.variance), snr)
		}
	}
	heard(0, 1, -9)
	heard(1, 0, -12)
	heard(3, 0, -5)
	m, ok := got[[2]int{3, 1}]
	if y := m.y + law.mean + 10; !ok || y > -20 || m.variance < 2*got[[2]int{3, 0}].variance {
		t.Errorf("only missed: %v %.1f ± %.1f dB", ok, y, math.Sqrt(m.variance))
	}
	for pair := range got {
		if pair[0] == 2 || pair[1] == 2 {
			t.Errorf("%v: nothing is known of OUTPOST", pair)
		}
	}
}

// Averaged over all guesses at its climate, a link is open as often as it is with
// the climate left open.
func TestGuessesAverageOut(t *testing.T) {
	l := Link{ClimateSD: 4}
	l.Way = link.Direction{Kind: link.Gaussian, Margin: 3, SD: 7, Common: 2, Noise: 3}
	const points = 400
	open, decode := 0.0, 0.0
	for i := range points {
		z := -5 + 10*(float64(i)+0.5)/points
		weight := math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) * 10 / points
		g := l.climateKnown(z)
		if g.Way.SD > 6 || g.ClimateSD != 0 {
			t.Fatalf("%+v", g)
		}
		open += weight * link.Phi(g.Way.Margin/g.Way.SD)
		decode += weight * g.Decode
	}
	if want := link.Phi(3.0 / 7); math.Abs(open-want) > 1e-5 {
		t.Errorf("open %v, want %v", open, want)
	}
	if want := l.Way.Mean(); math.Abs(decode-want) > 1e-5 {
		t.Errorf("decode %v, want %v", decode, want)
	}
	fixed := Link{ClimateSD: 4}
	fixed.Way = link.FixedDecode(0.5)
	if got := fixed.climateKnown(2); got.Way != fixed.Way {
		t.Errorf("a stated chance became %+v", got.Way)
	}
}

// The links of a new station are guessed with the covariance of the law, and are
// alike because they share a site.
func TestExpectedLinksAreGuessedTogether(t *testing.T) {
	net, _ := strewn(t, 6, 8, func(int, int) bool { return false })
	links := learn(t, net)
	r := Request{Moments: []int64{links.At()}}
	w := newWorld(links, &r)
	c := Change{Kind: Relay, Watts: 10, Locator: "FE44", Position: net.Stations[0].Position}
	after, err := w.apply(&c)
	if err != nil {
		t.Fatal(err)
	}
	list := after.touching(w.all(), len(net.Stations), nil)
	g := after.guesser(list)
	if len(g.which[0]) != 2*len(net.Stations) {
		t.Fatalf("%d expected links", len(g.which[0]))
	}
	a, b := g.which[0][0], g.which[0][1]
	const draws = 3000
	var aa, bb, ab float64
	for d := range draws {
		guess := g.guess(1, d)[0]
		x, y := guess[a].Way.Margin-list[0][a].Way.Margin, guess[b].Way.Margin-list[0][b].Way.Margin
		aa += x * x / draws
		bb += y * y / draws
		ab += x * y / draws
	}
	law := w.laws[0]
	pathOf := func(i int) path {
		return path{law.band[list[0][i].Channel], after.site(law, list[0][i].From), after.site(law, list[0][i].To)}
	}
	want := law.spread([]path{pathOf(a), pathOf(b)})
	for _, c := range []struct {
		name      string
		got, want float64
	}{{"variance", aa, want.At(0, 0)}, {"variance", bb, want.At(1, 1)}, {"covariance", ab, want.At(0, 1)}} {
		if math.Abs(c.got-c.want) > 0.12*aa {
			t.Errorf("%s %.1f dB², want %.1f", c.name, c.got, c.want)
		}
	}
	if want.At(0, 1) < siteDB*siteDB*0.3 {
		t.Errorf("links of one site share only %.1f dB²", want.At(0, 1))
	}
}

// Unknown links aren't used unless asked for; those of a station that a change has
// touched are expected instead.
func TestUnknownIsHonoured(t *testing.T) {
	links := threeDays(t)
	use := func(u cut.Use) (n int) {
		r := Request{Moments: []int64{links.At()}, Use: u}
		for _, l := range newWorld(links, &r).all()[0] {
			if l.Use {
				n++
			}
		}
		return n
	}
	if plain, all := use(cut.Use{}), use(cut.Use{Unknown: true}); plain == 0 || all <= plain {
		t.Errorf("%d links, %d with the unknown", plain, all)
	}
	a, err := Advise(context.Background(), links, Request{})
	if err != nil {
		t.Fatal(err)
	}
	if a.Law != nil {
		t.Error("four links taught a law")
	}
}

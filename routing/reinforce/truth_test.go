package reinforce_test

import (
	"bytes"
	"context"
	"flag"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"farhop/examples/aysen"
	"farhop/mesh"
	"farhop/mesh/link"
	"farhop/observations"
	"farhop/observations/locator"
	"farhop/routing/cut"
	"farhop/routing/reinforce"
)

// seeds is how many worlds the advice is tried in.
var seeds = flag.Int("seeds", 3, "worlds in which TestAdviceKeepsItsPromise tries the advice")

// world is the example's net in another draw of what nobody knows, with a log of
// its own.
type world struct {
	*aysen.Scenario
	truth *aysen.Truth
	net   *mesh.Net
	links *mesh.Links
}

func newWorld(t testing.TB, s *aysen.Scenario) world {
	t.Helper()
	w := world{Scenario: s}
	var err error
	if w.truth, err = aysen.NewTruth(s); err != nil {
		t.Fatal(err)
	}
	if w.net, err = s.Net(); err != nil {
		t.Fatal(err)
	}
	var csv bytes.Buffer
	if err := aysen.WriteCSV(&csv, w.truth.Observations()); err != nil {
		t.Fatal(err)
	}
	ctx := context.Background()
	log, err := observations.Read(ctx, []observations.Input{{Path: "-"}}, observations.Options{Moment: s.End, Stdin: &csv})
	if err != nil || log.ProblemCount > 0 {
		t.Fatal(err, log.ProblemCount)
	}
	if w.links, err = mesh.Learn(ctx, w.net, log, s.End.Unix()); err != nil {
		t.Fatal(err)
	}
	return w
}

// aysenWith is the scenario with a seed of its own.
func aysenWith(seed uint64) *aysen.Scenario {
	s := aysen.New()
	s.Seed = seed
	return s
}

// beside is how near the pass a new station stands in the gap too.
const besideKM = 15

// changed is the scenario after the advice was followed. A relay gets a site like
// the members': up to 3 dB better or worse, up to 4 dB of noise. It stands on the
// side of the ridge of the station nearest to it, or in the gap when it is near the pass.
func changed(t testing.TB, s *aysen.Scenario, c *reinforce.Change) *aysen.Scenario {
	t.Helper()
	n := aysenWith(s.Seed)
	switch c.Kind {
	case reinforce.Power:
		n.Stations[c.Station].PowerW = c.Watts
		return n
	case reinforce.Window:
		n.Stations[c.Station].OnAir = c.Windows.Strings()
		return n
	case reinforce.Channel:
		n.Stations[c.Station].Channels = append(slices.Clone(n.Stations[c.Station].Channels), c.Channel)
		return n
	}
	rng := rand.New(rand.NewPCG(s.Seed, 3))
	const call = "YARD" // sorts last, so that the members keep their numbers
	nearest, side := math.Inf(1), ""
	for _, st := range s.Stations {
		p, err := locator.Parse(st.Locator)
		if err != nil {
			t.Fatal(err)
		}
		d := locator.Distance(p, c.Position)
		if st.Call == s.Ridge.Pass {
			if d < besideKM {
				n.Ridge.Gap = []string{call}
			}
			continue
		}
		if d < nearest {
			nearest, side = d, st.Call
		}
	}
	if slices.Contains(s.Ridge.South, side) {
		n.Ridge.South = append(slices.Clone(s.Ridge.South), call)
	}
	n.Stations = append(n.Stations, aysen.Station{
		Call: call, Locator: c.Locator, PowerW: c.Watts, Channels: []int{aysen.Day, aysen.Night},
		OnAir: []string{"00:00-24:00"}, Watch: mesh.WatchDeclared,
		Supply: mesh.Supply{BatteryWh: 128, Reserve: 0.2, ReceiveW: 4, TransmitW: 35, ChargeWhPerDay: 150},
		SiteDB: 6*rng.Float64() - 3, NoiseDB: 4 * rng.Float64(),
		Soundings: []mesh.Sounding{
			{Channel: aysen.Day, Every: 30 * time.Minute, After: 13 * time.Minute},
			{Channel: aysen.Night, Every: 30 * time.Minute, After: 13 * time.Minute},
		},
	})
	return n
}

// true links are those of the truth in the slot at a moment, with all the
// fluctuations of an undisturbed day.
func trueLinks(s *aysen.Scenario, truth *aysen.Truth) []cut.Link {
	w := s.Wander
	var list []cut.Link
	for from := range s.Stations {
		for to := range s.Stations {
			for ch := range s.Channels {
				if from == to || !truth.Watches(from, ch, s.End) || !truth.Watches(to, ch, s.End) {
					continue
				}
				list = append(list, cut.Link{
					From: from, To: to, Channel: ch, Band: ch, Known: true, Use: true, Decode: truth.Decode(from, to, ch, s.End),
					Way: link.Direction{
						Kind: link.Gaussian, Margin: truth.SNR(from, to, ch, s.End) - s.Slots.HalfDecodeDB,
						SD:     math.Sqrt(w.FastDB*w.FastDB + w.SlowDB*w.SlowDB + w.NetDB*w.NetDB),
						Common: w.NetDB, Noise: math.Hypot(w.SlotDB, s.Slots.SpreadDB),
					},
				})
			}
		}
	}
	return list
}

// heardLinks are those that the evidence shows at the end of a log, in whatever
// weather.
func heardLinks(t testing.TB, w world) []cut.Link {
	t.Helper()
	g, err := cut.FromMesh(w.links.Graph(w.End.Unix()), cut.Use{})
	if err != nil {
		t.Fatal(err)
	}
	links := g.Links()
	for i := range links {
		l := &links[i]
		e, _ := w.links.Edge(l.From, l.To, l.Channel, w.End.Unix())
		l.Way.Margin = e.Climate - w.Slots.HalfDecodeDB
		l.Way.SD = math.Hypot(e.ClimateSD, math.Hypot(w.net.Link.FastSD, w.net.Link.SlowSD))
		l.Decode = l.Way.Mean()
	}
	return links
}

// without takes the change back: the links as they would be heard without it.
func without(links []cut.Link, s *aysen.Scenario, c *reinforce.Change) (list []cut.Link) {
	for _, l := range links {
		switch {
		case c.Kind == reinforce.Power && l.From == c.Station:
			l.Way.Margin -= link.PowerDB(c.Watts, s.Stations[c.Station].PowerW)
			l.Decode = l.Way.Mean()
		case c.Kind != reinforce.Power && (l.From == c.Station || l.To == c.Station):
			continue
		}
		list = append(list, l)
	}
	return list
}

// What the advice promises comes true: the best change, and the best relay if
// that is another, are made in the true net and the gain in the score compared with the
// promised interval. For the best change new observations are drawn as well, and
// what they show is compared, in spite of what they don't show. Intervals hold
// nine in ten by their own claim; eight are asked. With -seeds 10, 12 of 12 held
// by the truth and 9 of 10 as heard.
func TestAdviceKeepsItsPromise(t *testing.T) {
	truly, heard, tried := 0, 0, 0
	for seed := range uint64(*seeds) {
		s := aysenWith(seed + 1)
		w := newWorld(t, s)
		a, err := reinforce.Advise(context.Background(), w.links, reinforce.Request{Alternatives: 12, Seed: seed})
		if err != nil || len(a.First) == 0 {
			t.Fatalf("seed %d: no advice (%v)", s.Seed, err)
		}
		for i, o := range bestAndRelay(a.First) {
			x, y := gains(t, w, &o)
			t.Logf("seed %d: %s %s %s promised %.1f points (%.1f to %.1f), truly %.1f, as heard %.1f",
				s.Seed, o.Kind, nameOf(s, &o.Change), o.Windows, o.Score.Mean, o.Score.Low, o.Score.High, x, y)
			tried++
			if within(&o.Score, x) {
				truly++
			}
			if i == 0 && within(&o.Score, y) {
				heard++
			}
		}
	}
	t.Logf("in the promised interval: %d of %d by the truth, %d of %d as heard", truly, tried, heard, *seeds)
	if 10*truly < 8*tried || 10*heard < 8**seeds {
		t.Errorf("of %d promises %d came true; of %d, %d as heard", tried, truly, *seeds, heard)
	}
}

func within(g *reinforce.Gain, x float64) bool { return g.Low-slack <= x && x <= g.High+slack }

// slack is what sampling adds to the comparison, in points. The edge of an
// interval is often the plain case (nobody else is reached), which is then met but for
// the draws.
const slack = 0.5

func bestAndRelay(first []reinforce.Option) []reinforce.Option {
	list := first[:1:1]
	for _, o := range first[1:] {
		if o.Kind == reinforce.Relay && first[0].Kind != reinforce.Relay {
			return append(list, o)
		}
	}
	return list
}

func nameOf(s *aysen.Scenario, c *reinforce.Change) string {
	if c.Station < len(s.Stations) {
		return s.Stations[c.Station].Call
	}
	return c.Locator
}

// gains makes the change and returns what the score gains, truly and as heard.
func gains(t *testing.T, w world, o *reinforce.Option) (truly, heard float64) {
	t.Helper()
	after := newWorld(t, changed(t, w.Scenario, &o.Change))
	members, opt := len(w.Stations), reinforce.Options{Threshold: 0.5, Samples: 8192}
	x, y := reinforce.Compare(members, [][]cut.Link{trueLinks(w.Scenario, w.truth)}, [][]cut.Link{trueLinks(after.Scenario, after.truth)}, opt)
	truly = y.Score() - x.Score()
	now := heardLinks(t, after)
	x, y = reinforce.Compare(members, [][]cut.Link{without(now, w.Scenario, &o.Change)}, [][]cut.Link{now}, opt)
	return truly, y.Score() - x.Score()
}

package aysen

import (
	"context"
	"math"
	"slices"
	"sync"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/observations"
	"farhop/routing"
	"farhop/routing/cut"
)

// planner is what farhop knows: the plan and the committed log, no truth.
type planner struct {
	net *mesh.Net
	log *observations.Log
}

// readPlanner reads them once for all tests, which don't change them.
var readPlanner = sync.OnceValues(func() (p planner, err error) {
	if p.net, err = New().Net(); err != nil {
		return p, err
	}
	inputs := []observations.Input{{Path: "observations.csv.gz"}}
	p.log, err = observations.Read(context.Background(), inputs, observations.Options{Newest: true})
	return p, err
})

func newPlanner(t testing.TB) planner {
	t.Helper()
	p, err := readPlanner()
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// onceTonight is what the log says at its end.
var onceTonight = sync.OnceValues(func() (*mesh.Links, error) {
	p, err := readPlanner()
	if err != nil {
		return nil, err
	}
	return mesh.Learn(context.Background(), p.net, p.log, p.log.Moment)
})

func tonight(t testing.TB) *mesh.Links {
	t.Helper()
	links, err := onceTonight()
	if err != nil {
		t.Fatal(err)
	}
	return links
}

func (p planner) learn(t testing.TB, at time.Time) *mesh.Links {
	t.Helper()
	links, err := mesh.Learn(context.Background(), p.net, p.log, at.Unix())
	if err != nil {
		t.Fatal(err)
	}
	return links
}

func TestLogIsReadWhole(t *testing.T) {
	p := newPlanner(t)
	c := p.log.Counts
	if c.Rejected != 0 || c.Later != 0 || c.Earlier != 0 || c.Read != len(onceRows()) {
		t.Errorf("counts %+v", c)
	}
	if p.log.ProblemCount != 0 {
		t.Errorf("%d problems, first %+v", p.log.ProblemCount, p.log.Problems[0])
	}
	if p.log.Moment != New().End.Unix() {
		t.Errorf("the newest report is of %v", time.Unix(p.log.Moment, 0).UTC())
	}
}

// question is one link at one hour of the day.
type question struct{ from, to, channel, hour int }

// chances are sums of forecasts and of the truth about one question.
type chances struct{ forecast, truth, n float64 }

// ask forecasts every link with enough evidence from several moments, for each
// hour of the day that follows, and sets the truth beside. A forecast knows what
// the weather is like at its moment and the truth is an average over all weathers,
// so only means over the moments compare. The disturbed evening is left out.
func (p planner) ask(t testing.TB, truth *Truth) map[question]chances {
	t.Helper()
	s := truth.Scenario
	const leastOpportunities, leastReports = 100, 20
	out := make(map[question]chances)
	for moment := s.End; moment.After(s.End.Add(-8 * 24 * time.Hour)); moment = moment.Add(-25 * time.Hour) {
		links := p.learn(t, moment)
		for lead := time.Hour; lead <= 24*time.Hour; lead += time.Hour {
			at := moment.Add(lead).Truncate(s.Slots.Length)
			if s.Evening.Spell.Holds(at) || s.Evening.Spell.Holds(moment) {
				continue
			}
			p.eachLink(func(from, to, channel int) {
				e, ok := links.Edge(from, to, channel, at.Unix())
				if !ok || e.Reports+e.Misses < leastOpportunities || e.Reports < leastReports || !truth.holds(truth.windows[channel], at) {
					return
				}
				q := question{from, to, channel, at.Hour()}
				sum := out[q]
				out[q] = chances{sum.forecast + e.Decode, sum.truth + truth.Decode(from, to, channel, at), sum.n + 1}
			})
		}
	}
	return out
}

func (p planner) eachLink(do func(from, to, channel int)) {
	for from := range p.net.Stations {
		for to := range p.net.Stations {
			for channel := range p.net.Channels {
				if from != to {
					do(from, to, channel)
				}
			}
		}
	}
}

// What farhop says of a link at an hour is on the average within 10 points of
// the truth, and of all links to which it gives a chance, about that share is
// the truth: with the default settings, which know nothing of this net.
func TestForecastsMatchTruth(t *testing.T) {
	asked := newPlanner(t).ask(t, newTruth(t))
	var bins [10]chances
	var off, bias, n float64
	for _, c := range asked {
		if c.n < 4 {
			continue
		}
		forecast, truth := c.forecast/c.n, c.truth/c.n
		off += math.Abs(forecast - truth)
		bias += forecast - truth
		n++
		b := &bins[min(int(10*forecast), 9)]
		*b = chances{b.forecast + forecast, b.truth + truth, b.n + 1}
	}
	t.Logf("%.0f links and hours: mean absolute error %.3f, mean error %+.3f", n, off/n, bias/n)
	if n < 3000 || off/n > 0.10 || math.Abs(bias/n) > 0.08 {
		t.Errorf("%.0f links and hours: mean absolute error %.3f, mean error %+.3f", n, off/n, bias/n)
	}
	for i, b := range bins {
		t.Logf("said %.2f, true %.2f (%.0f)", b.forecast/b.n, b.truth/b.n, b.n)
		if b.n >= 50 && math.Abs(b.forecast-b.truth)/b.n > 0.12 {
			t.Errorf("bin %d: said %.2f, true %.2f (%.0f)", i, b.forecast/b.n, b.truth/b.n, b.n)
		}
	}
}

// Links over which next to nothing passes are told from silence: misses alone
// bring the forecast down, whether or not the pair was ever heard.
func TestClosedLinksAreTold(t *testing.T) {
	p, truth := newPlanner(t), newTruth(t)
	s := truth.Scenario
	links := tonight(t)
	n, never := 0, 0
	p.eachLink(func(from, to, channel int) {
		e, ok := links.Edge(from, to, channel, s.End.Unix())
		if !ok || channel != Night || e.Reports+e.Misses < 100 || truth.Decode(from, to, channel, s.End) > 0.005 {
			return
		}
		n++
		if e.Reports == 0 {
			never++
		}
		if e.Decode > 0.05 {
			t.Errorf("%s to %s: said %.2f after %d reports and %d misses", s.Stations[from].Call, s.Stations[to].Call, e.Decode, e.Reports, e.Misses)
		}
	})
	if n < 50 || never < 20 {
		t.Errorf("%d closed links, %d of them never heard", n, never)
	}
}

// analyse asks for the weak points among the stations that listen at a moment.
func (p planner) analyse(t testing.TB, links *mesh.Links, at time.Time, threshold float64) *cut.Report {
	t.Helper()
	var list []cut.Link
	p.eachLink(func(from, to, channel int) {
		e, ok := links.Edge(from, to, channel, at.Unix())
		if ok && p.net.OpenSlot(from, to, channel, at.Unix()) {
			list = append(list, cut.Link{
				From: from, To: to, Channel: channel, Decode: e.Decode, Known: e.Known, Use: e.Known, Way: e.Direction,
			})
		}
	})
	g, err := cut.New(len(p.net.Stations), list)
	if err != nil {
		t.Fatal(err)
	}
	report, err := cut.Analyse(context.Background(), g, cut.Options{Threshold: threshold})
	if err != nil {
		t.Fatal(err)
	}
	return report
}

// From its two weeks farhop finds what is hidden in the night: the weak station
// at every threshold and no other with so many pairs, the deaf one, the cut off one.
func TestNightShowsWhatIsPlanted(t *testing.T) {
	p, s := newPlanner(t), New()
	plant := s.Plant()
	for _, threshold := range cut.CertainThresholds {
		r := p.analyse(t, tonight(t), s.End, threshold)
		if len(r.SingleStations) == 0 || s.Stations[r.SingleStations[0].Station].Call != plant.Weak {
			t.Fatalf("at %v the single points of failure are %+v, want %s first", threshold, r.SingleStations, plant.Weak)
		}
		if !slices.Contains(names(s, r.Isolated), plant.Isolated) {
			t.Errorf("at %v isolated are %v, want %s among them", threshold, names(s, r.Isolated), plant.Isolated)
		}
		if got := names(s, r.Deaf); !slices.Equal(got, []string{plant.Deaf}) {
			t.Errorf("at %v deaf are %v, want %s", threshold, got, plant.Deaf)
		}
	}
}

func names(s *Scenario, stations []int) (calls []string) {
	for _, i := range stations {
		calls = append(calls, s.Stations[i].Call)
	}
	return calls
}

// Without the weak station farhop's open links join nobody of the south to
// anybody else, as in truth; with it they join all.
func TestCutOffAgreesWithTruth(t *testing.T) {
	p, s, truth := newPlanner(t), New(), newTruth(t)
	links := tonight(t)
	open := func(from, to int) bool {
		e, ok := links.Edge(from, to, Night, s.End.Unix())
		return ok && e.Known && e.Decode >= 0.5 && p.net.OpenSlot(from, to, Night, s.End.Unix())
	}
	weak := index(s.Stations, s.Plant().Weak)
	for _, without := range []int{-1, weak} {
		for from := range s.Stations {
			want := truth.Reached(from, s.End, 0.5, without)
			if got := reached(len(s.Stations), from, without, open); !slices.Equal(got, want) {
				t.Errorf("%s reaches %v, in truth %v (without station %d)", s.Stations[from].Call, got, want, without)
			}
		}
	}
}

// A message of 100 characters gets from HARBOR to whoever is truly reached, and to
// nobody else, within four hours; to the south it takes the weak station as relay.
func TestHarborsMessagesArrive(t *testing.T) {
	p, s, truth := newPlanner(t), New(), newTruth(t)
	harbor := index(s.Stations, "HARBOR")
	table, err := routing.New(p.net, tonight(t)).Table(context.Background(), routing.TableRequest{
		Station: harbor,
		Request: routing.Request{Frames: p.net.Slots.Frames(100), Start: s.End.Unix(), Deadline: 4 * time.Hour},
	})
	if err != nil {
		t.Fatal(err)
	}
	want := truth.Reached(harbor, s.End, 0.5, -1)
	rows := 0
	for _, r := range table.Rows {
		if r.From != harbor {
			continue
		}
		rows++
		call := s.Stations[r.To].Call
		if (r.Delivered >= 0.75) != want[r.To] || (!want[r.To] && r.Delivered > 0.1) {
			t.Errorf("to %s with %.3f over %v, truly reached: %v", call, r.Delivered, names(s, r.Stations), want[r.To])
		}
		if slices.Contains(s.Ridge.South, call) && !slices.Contains(names(s, r.Stations), s.Plant().Weak) {
			t.Errorf("to %s over %v, without %s", call, names(s, r.Stations), s.Plant().Weak)
		}
	}
	if rows != len(s.Stations)-1 {
		t.Errorf("%d rows from HARBOR", rows)
	}
}

// reached marks who can be reached over open links.
func reached(stations, from, without int, open func(from, to int) bool) []bool {
	seen := make([]bool, stations)
	if from == without {
		return seen
	}
	seen[from] = true
	for queue := []int{from}; len(queue) > 0; queue = queue[1:] {
		for to := range seen {
			if !seen[to] && to != without && open(queue[0], to) {
				seen[to] = true
				queue = append(queue, to)
			}
		}
	}
	return seen
}

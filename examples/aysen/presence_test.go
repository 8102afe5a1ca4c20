package aysen

import (
	"bytes"
	"context"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/observations"
)

// history draws the log of another history of the net, and reads it.
func history(t testing.TB, seed uint64) (*Truth, planner) {
	t.Helper()
	s := New()
	s.Seed = seed
	truth, err := NewTruth(s)
	if err != nil {
		t.Fatal(err)
	}
	var csv bytes.Buffer
	if err := WriteCSV(&csv, truth.Observations()); err != nil {
		t.Fatal(err)
	}
	var p planner
	if p.net, err = s.Net(); err != nil {
		t.Fatal(err)
	}
	if p.log, err = observations.Read(context.Background(), []observations.Input{{Text: csv.String()}}, observations.Options{Newest: true}); err != nil {
		t.Fatal(err)
	}
	return truth, p
}

// meets reports whether in any slot of the hour one station may send on the channel
// while the other listens to it.
func (t *Truth) meets(from, to, channel int, hour time.Time) bool {
	for at := hour; at.Before(hour.Add(time.Hour)); at = at.Add(t.Scenario.Slots.Length) {
		if t.holds(t.onAir[from], at) && t.holds(t.windows[channel], at) && t.Watches(to, channel, at) {
			return true
		}
	}
	return false
}

// No link is called known and open at an hour of the day at which nobody was there to
// hear it, and those at which somebody was stay as known as their climate allows,
// whether or not the plan says when the operators work.
func TestNothingKnownWhenNobodyIsThere(t *testing.T) {
	for seed := range uint64(3) {
		truth, p := history(t, 7+seed)
		for _, says := range []bool{true, false} {
			if !says {
				p.net = p.net.Clone()
				for i := range p.net.Stations {
					p.net.Stations[i].OnAir = mesh.Windows{}
				}
				if issues := p.net.Prepare(); len(issues) > 0 {
					t.Fatal(issues)
				}
			}
			for _, ago := range []time.Duration{0, 20 * time.Hour, 8 * 24 * time.Hour} {
				nobody, known, certain := p.presence(t, truth, truth.Scenario.End.Add(-ago))
				t.Logf("seed %d, plan says hours: %v, %v before the end: %d hours of links without anybody; with somebody %d known, %d by their climate",
					7+seed, says, ago, nobody, known, certain)
				if nobody < 8000 || known < 4000 || float64(known) < 0.99*float64(certain) {
					t.Errorf("%d hours without anybody, %d known of %d", nobody, known, certain)
				}
			}
		}
	}
}

// presence looks at every link at each quarter of the hours to come.
func (p planner) presence(t *testing.T, truth *Truth, end time.Time) (nobody, known, certain int) {
	t.Helper()
	links := p.learn(t, end)
	first := end.Truncate(time.Hour).Add(time.Hour)
	p.eachLink(func(from, to, channel int) {
		for hour := first; hour.Before(first.Add(24 * time.Hour)); hour = hour.Add(time.Hour) {
			meets := truth.meets(from, to, channel, hour)
			if !meets {
				nobody++
			}
			for at := hour; at.Before(hour.Add(time.Hour)); at = at.Add(15 * time.Minute) {
				e, ok := links.Edge(from, to, channel, at.Unix())
				switch {
				case !ok:
				case !meets && e.Known && e.Decode >= 0.5:
					t.Errorf("%v: %s to %s on channel %d is called known and open", at, truth.all[from].Call, truth.all[to].Call, channel)
				case meets && e.ClimateSD <= p.net.Link.KnownSD && !e.Inferred:
					certain++
					if e.Known {
						known++
					}
				}
			}
		}
	})
	return nobody, known, certain
}

package simulate

import (
	"context"
	"math"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/meshtest"
)

// start is a slot boundary of 40 s slots, 2026-03-02 18:00 UTC.
var start = time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC).Unix()

// scene is a scenario over all stations of a net in the order of their calls, on
// its first channel, after change has been made to the net.
func scene(t testing.TB, text string, frames int, deadline time.Duration, change func(*mesh.Net)) Scenario {
	t.Helper()
	n := meshtest.Net(t, text)
	if change != nil {
		change(n)
		if issues := n.Prepare(); len(issues) > 0 {
			t.Fatalf("%s: %s", issues[0].Path, issues[0].Message)
		}
	}
	links, err := mesh.Learn(context.Background(), n, nil, start)
	if err != nil {
		t.Fatal(err)
	}
	s := Scenario{Net: n, Links: links, Frames: frames, Start: start, Deadline: deadline}
	for i := range n.Stations {
		s.Stations = append(s.Stations, i)
		if i > 0 {
			s.Channels = append(s.Channels, 0)
		}
	}
	return s
}

// playing runs a scenario with one worker.
func playing(t testing.TB, s Scenario, runs int, seed uint64) *Result {
	t.Helper()
	r, err := Run(context.Background(), s, Options{Runs: runs, Seed: seed, Workers: 1})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// within fails the test if a counted figure lies more than four standard errors
// from what it should be.
func within(t *testing.T, what string, counted interface{ Away(float64) float64 }, want float64) {
	t.Helper()
	if away := counted.Away(want); math.IsNaN(away) || math.Abs(away) > 4 {
		t.Errorf("%s: %+v is %.1f standard errors from %.6g", what, counted, away, want)
	}
}

// windows parses windows that are right.
func windows(t testing.TB, list ...string) mesh.Windows {
	t.Helper()
	w, err := mesh.ParseWindows(list)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

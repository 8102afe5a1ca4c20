package routing

import (
	"context"
	"reflect"
	"testing"
	"time"
)

// A planner that was asked about other deadlines before answers as a new one does.
func TestDeadlinesShare(t *testing.T) {
	deadlines := []time.Duration{2 * time.Hour, 6 * time.Hour, 20 * time.Minute, 4 * time.Hour, 10 * time.Minute}
	for _, shape := range shapes {
		n, l := scattered(3, 9, 0.6, shape.link)
		p := New(n, l)
		for _, d := range deadlines {
			r := reference(n)
			r.Deadline = d
			got, err := p.Route(context.Background(), r)
			if err != nil {
				t.Fatal(err)
			}
			want, err := New(n, l).Route(context.Background(), r)
			if err != nil {
				t.Fatal(err)
			}
			if len(got.Chains) != len(want.Chains) || got.Proven != want.Proven {
				t.Fatalf("%s, %v: %d chains, want %d", shape.name, d, len(got.Chains), len(want.Chains))
			}
			for i := range got.Chains {
				g, w := &got.Chains[i], &want.Chains[i]
				if !reflect.DeepEqual(g.Stations, w.Stations) || g.Delivered != w.Delivered || g.Frames != w.Frames || !reflect.DeepEqual(g.Arrival, w.Arrival) {
					t.Errorf("%s, %v, chain %d: %v %v, want %v %v", shape.name, d, i, g.Stations, g.Delivered, w.Stations, w.Delivered)
				}
			}
		}
	}
}

// Hops are taken over only from a scene to which a later deadline adds nothing.
func TestSettled(t *testing.T) {
	for _, shape := range shapes {
		n, l := scattered(3, 9, 0.6, shape.link)
		p := New(n, l)
		s, err := p.scene(reference(n).filled().terms())
		if err != nil {
			t.Fatal(err)
		}
		if want := shape.name != "estimated"; s.settled != want {
			t.Errorf("%s: settled %v", shape.name, s.settled)
		}
	}
}

package simulate

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
)

// stated answers for links as a test says.
type stated func(from, to int, unix int64) (mesh.Edge, bool)

func (s stated) Edge(from, to, channel int, unix int64) (mesh.Edge, bool) {
	e, ok := s(from, to, unix)
	e.From, e.To, e.Channel = from, to, channel
	return e, ok
}

// same answers with one direction for every link of the chain.
func same(d link.Direction) stated {
	return func(from, to int, _ int64) (mesh.Edge, bool) {
		return mesh.Edge{Known: true, Direction: d}, from-to == 1 || to-from == 1
	}
}

// average integrates f over a standard normal variable by the trapezoid rule.
func average(f func(z float64) float64) (sum float64) {
	const step = 1.0 / 64
	for z := -9.0; z <= 9; z += step {
		sum += step * math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) * f(z)
	}
	return sum
}

func single(n *mesh.Net) { n.Slots.Rounds = 1 }

func TestDecode(t *testing.T) {
	for _, d := range []link.Direction{
		{},
		link.FixedDecode(0.3),
		link.FixedDecode(1),
		link.FixedSNR(-14, 4, -16, 1.5),
		link.FixedSNR(-14, 0, -16, 1.5),
		{Kind: link.Gaussian, Margin: -3, SD: 5, Common: 3, Noise: 2},
		{Kind: link.Gaussian, Margin: 3, SD: 2, Common: 2, Noise: 4},
	} {
		for _, own := range []float64{-6, -1, 0, 0.3, 2, 5} {
			for _, net := range []float64{-4, 0, 1.5} {
				if got, want := decode(d, own, net), d.Frame(own, net); math.Abs(got-want) > 1e-13 {
					t.Errorf("%+v at %v, %v: %v, not %v", d, own, net, got, want)
				}
			}
		}
	}
}

// TestSharedDeviate: both directions of a hop are good or bad together.
func TestSharedDeviate(t *testing.T) {
	s := scene(t, "A-B:-15dB±4/-17dB±6", 1, time.Hour, single)
	r := playing(t, s, 100_000, 1)
	there, back := link.FixedSNR(-15, 4, -16, 1.5), link.FixedSNR(-17, 6, -16, 1.5)
	within(t, "delivered", r.Delivered, there.Mean())
	read := average(func(z float64) float64 { return there.Frame(z, 0) * back.Frame(z, 0) })
	within(t, "confirmed", r.Confirmed, read)
	if apart := there.Mean() * back.Mean(); r.Confirmed.Away(apart) < 20 {
		t.Errorf("confirmed as if the directions were independent: %v, %v", r.Confirmed.Value(), apart)
	}
}

// TestHopsApart: different hops have deviates of their own, the net-wide one is
// common to them and to the reply.
func TestHopsApart(t *testing.T) {
	d := link.Direction{Kind: link.Gaussian, Margin: 1, SD: 5, Common: 3, Noise: 2}
	given := func(net float64, f func(chance float64) float64) float64 {
		return average(func(own float64) float64 { return f(d.Frame(own, net)) })
	}
	once := func(p float64) float64 { return p }
	square := func(p float64) float64 { return p * p }

	s := scene(t, chain(2, 1, 1), 1, time.Hour, single)
	s.Links = same(d)
	r := playing(t, s, 100_000, 1)
	within(t, "first hop", r.Hops[0].Done, d.Mean())
	two := average(func(net float64) float64 { return square(given(net, once)) })
	within(t, "both", r.Delivered, two)
	if r.Delivered.Away(square(d.Mean())) < 10 {
		t.Error("no sign of the net-wide deviate")
	}

	s = scene(t, chain(1, 1, 1), 1, time.Hour, single)
	s.Links, s.Confirm = same(d), true
	r = playing(t, s, 100_000, 1)
	within(t, "reply", r.Confirmed, average(func(net float64) float64 { return square(given(net, square)) }))
}

// TestQuarters: a hop takes its link states at the first slot open to it, rounded
// down to a whole quarter of an hour after the start, midway through it, and keeps them.
func TestQuarters(t *testing.T) {
	for _, c := range []struct {
		name   string
		window string
		late   int64   // start, seconds after 18:00
		want   []int64 // moments of the two hops, seconds after 18:00
	}{
		{"at once", "00:00-24:00", 0, []int64{0, 0}},
		{"slot 0 begins later", "00:00-24:00", 33, []int64{33, 33}},
		{"window ahead", "18:30-19:00", 0, []int64{1800, 1800}},
		{"quarters count from the start", "18:30-19:00", 33, []int64{33 + 900, 33 + 1800}},
		{"a second before a quarter has passed", "18:15-19:00", 21, []int64{21, 21 + 900}},
		{"a second after", "18:15-19:00", 19, []int64{19 + 900, 19 + 900}},
		{"second hop in the next quarter", "18:10-19:00", 0, []int64{0, 900}},
		{"a slot a day", "18:14-18:15", 0, []int64{0, 8 * 86400}}, // 5 frames and 3 more slots, past the deadline
	} {
		s := scene(t, chain(2, 1, 1), 5, 48*time.Hour, func(n *mesh.Net) { n.Channels[0].Windows = windows(t, c.window) })
		s.Start += c.late
		midway := int64(s.Net.Slots.Midway(s.Frames) / time.Second)
		var asked []int64
		s.Links = stated(func(from, to int, unix int64) (mesh.Edge, bool) {
			if from < to {
				asked = append(asked, unix-start-midway)
			}
			return mesh.Edge{Fixed: true, Direction: link.FixedDecode(1)}, true
		})
		playing(t, s, 3, 1)
		if !slices.Equal(asked, c.want) {
			t.Errorf("%s: asked for %v s after 18:00, not %v", c.name, asked, c.want)
		}
	}
}

// TestStateIsKept: a hop keeps the state that it began with, however long it
// takes, and what a later one finds is what holds then.
func TestStateIsKept(t *testing.T) {
	s := scene(t, chain(2, 1, 1), 30, 4*time.Hour, nil)
	shut := start + 900 + int64(s.Net.Slots.Midway(30)/time.Second)
	s.Links = stated(func(_, _ int, unix int64) (mesh.Edge, bool) {
		if unix < shut {
			return mesh.Edge{Fixed: true, Direction: link.FixedDecode(1)}, true
		}
		return mesh.Edge{Fixed: true, Direction: link.FixedDecode(0)}, true
	})
	r := playing(t, s, 3, 1) // 30 frames are 20 minutes
	if r.Hops[0].Done.Count != 3 || r.Hops[1].Done.Count != 0 || r.GivenUp.Count != 3 {
		t.Errorf("%+v", r.Hops)
	}
}

// TestUsable: unknown and inferred directions are closed unless asked for; what
// isn't there stays closed.
func TestUsable(t *testing.T) {
	sure := link.FixedDecode(1)
	for _, c := range []struct {
		edge              mesh.Edge
		absent            bool
		unknown, inferred bool
		want              float64
	}{
		{edge: mesh.Edge{Known: true, Direction: sure}, want: 1},
		{edge: mesh.Edge{Direction: sure}, want: 0},
		{edge: mesh.Edge{Direction: sure}, inferred: true, want: 0},
		{edge: mesh.Edge{Direction: sure}, unknown: true, want: 1},
		{edge: mesh.Edge{Known: true, Inferred: true, Direction: sure}, want: 0},
		{edge: mesh.Edge{Known: true, Inferred: true, Direction: sure}, unknown: true, want: 0},
		{edge: mesh.Edge{Known: true, Inferred: true, Direction: sure}, inferred: true, want: 1},
		{edge: mesh.Edge{Inferred: true, Direction: sure}, inferred: true, want: 0},
		{edge: mesh.Edge{Inferred: true, Direction: sure}, inferred: true, unknown: true, want: 1},
		{edge: mesh.Edge{Fixed: true, Direction: sure}, want: 1},
		{edge: mesh.Edge{Known: true, Direction: sure}, absent: true, unknown: true, inferred: true, want: 0},
		{edge: mesh.Edge{Known: true}, want: 0},
	} {
		s := scene(t, chain(1, 1, 1), 4, time.Hour, nil)
		s.Unknown, s.Inferred = c.unknown, c.inferred
		s.Links = stated(func(_, _ int, _ int64) (mesh.Edge, bool) { return c.edge, !c.absent })
		r := playing(t, s, 10, 1)
		if r.Delivered.Value() != c.want || r.GivenUp.Value() != 1-c.want {
			t.Errorf("%+v: delivered %v, given up %v", c, r.Delivered, r.GivenUp)
		}
		if c.want == 0 && r.Airtime.Value != 4+5 { // the message once, then polls
			t.Errorf("%+v: %v frames into nothing", c, r.Airtime.Value)
		}
	}
}

// TestOneWay: where nothing comes back a message still moves on, relay by relay,
// but nothing is confirmed.
func TestOneWay(t *testing.T) {
	s := scene(t, "A-B:1/- B-C:1/-", 3, time.Hour, nil)
	s.Confirm = true
	r := playing(t, s, 10, 1)
	if r.Delivered.Count != 10 || r.Confirmed.Count != 0 {
		t.Errorf("delivered %v, confirmed %v", r.Delivered, r.Confirmed)
	}
	want := []float64{3, 1 + 3 + 5, 6} // the destination answers every round
	for i, m := range r.Stations {
		if m.Value != want[i] {
			t.Errorf("station %d keyed %v frames, not %v", i, m.Value, want[i])
		}
	}
	s.Net.Slots.Block = 2
	if r = playing(t, s, 10, 1); r.GivenUp.Count != 10 || r.Hops[0].Done.Count != 0 {
		t.Error(fmt.Sprint("a block went on without an acknowledgment: ", r.GivenUp, r.Hops))
	}
}

package sounding

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
	"time"

	"farhop/mesh"
)

func make1(t testing.TB, n *mesh.Net, f Source, r Request) *Plan {
	t.Helper()
	p, err := Make(context.Background(), n, f, r)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Each link that can't be kept is told with the reason.
func TestReasons(t *testing.T) {
	const start = dawn + 10*3600
	for _, c := range []struct {
		name   string
		change func(*mesh.Net)
		setup  func(*mesh.Net, *fake, *Request)
		want   Reason
		later  bool // kept later on
	}{
		{name: "kept", want: Kept},
		{
			name: "never on the air together", want: Away,
			change: func(n *mesh.Net) {
				n.Stations[0].OnAir = windows(t, "10:00-11:00")
				n.Stations[1].OnAir = windows(t, "11:00-14:00")
			},
		},
		{
			name: "no way for the list", want: NoWay,
			setup: func(_ *mesh.Net, _ *fake, r *Request) { r.Coordinator, r.Passes = 2, nil },
		},
		{
			name: "above at first", want: TooLate, later: true,
			setup: func(_ *mesh.Net, f *fake, _ *Request) { f.know(0, 1, 0, 0, start-86400) },
		},
		{
			name: "never decoded", want: TooLittle,
			setup: func(_ *mesh.Net, f *fake, _ *Request) { f.raise = 70 },
		},
		{
			name: "two stations want the only slot before", want: NoFreeSlot,
			change: func(n *mesh.Net) {
				n.Channels[0].OffsetsHz = nil
				n.Slots.Length, n.Slots.Keyed = quarter, 10*time.Minute
			},
			setup: func(n *mesh.Net, f *fake, r *Request) {
				r.Horizon = 2 * quarter
				f.know(0, 1, 0, 0, start-86400)
				f.know(2, 1, 0, 0, start-86400)
				always(r, [2]int{2, 1})
				// Only the second quarter counts: at the first nothing can be done.
				for i := range r.Needs {
					r.Needs[i].Start += 900
				}
			},
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			n := testNet(t, 3, 40*time.Second, func(n *mesh.Net) {
				if c.change != nil {
					c.change(n)
				}
			})
			f := newFake(t, n, -4)
			f.know(0, 1, 0, 0, start)
			r := Request{Start: start, Horizon: 4 * time.Hour, Coordinator: 1}
			always(&r, [2]int{0, 1})
			if c.setup != nil {
				c.setup(n, f, &r)
			}
			p := make1(t, n, f, r)
			check(t, n, f, p)
			found := false
			for _, o := range p.Links {
				found = found || o.Reason == c.want
				if o.Reason == c.want && (o.WithinFrom > 0) != c.later {
					t.Errorf("kept from %d on", o.WithinFrom)
				}
			}
			if !found {
				t.Errorf("%+v", p.Links)
			}
		})
	}
}

// Two stations at once: with two offsets both get the slot, unless they are to hear
// each other.
func TestOffsetsAreShared(t *testing.T) {
	n := testNet(t, 3, quarter, nil)
	f := newFake(t, n, -4)
	r := Request{Start: dawn + 36000, Horizon: 2 * quarter, Coordinator: 2}
	for _, from := range []int{0, 1} {
		f.know(from, 2, 0, 0, r.Start-86400)
		r.Needs = append(r.Needs, Need{From: from, To: 2, Start: r.Start + 900, End: r.Start + 1800})
	}
	p := make1(t, n, f, r)
	check(t, n, f, p)
	if p.Count != 2 || p.Soundings[0].Start != p.Soundings[1].Start || p.Soundings[0].Offset == p.Soundings[1].Offset {
		t.Errorf("%+v", p.Soundings)
	}
	f.know(0, 1, 0, 0, r.Start-86400)
	r.Needs = append(r.Needs, Need{From: 0, To: 1, Start: r.Start + 900, End: r.Start + 1800})
	straight(n, &r)
	p = make1(t, n, f, r)
	check(t, n, f, p)
	if p.Count != 1 {
		t.Errorf("one of them would be deaf to the other: %+v", p.Soundings)
	}
}

// Channels of one band share their evidence: a sounding on the one that the
// receiver watches keeps a link known that matters on the other.
func TestBandsShareEvidence(t *testing.T) {
	n := testNet(t, 2, 40*time.Second, func(n *mesh.Net) {
		n.Channels = append(n.Channels, mesh.Channel{Name: "second", Frequency: 7_140_000, Windows: windows(t, "12:00-14:00")})
		n.Channels[0].Windows = windows(t, "08:00-12:00")
	})
	f := newFake(t, n, -4)
	f.band = []int{0, 0}
	r := Request{Start: dawn + 36000, Horizon: 4 * time.Hour, Coordinator: 1}
	f.know(0, 1, 0, 0, r.Start)
	r.WithinDB = 7
	r.Needs = []Need{{From: 0, To: 1, Channel: 1, Start: r.Start, End: r.Start + 14400}}
	p := make1(t, n, f, r)
	check(t, n, f, p)
	channels := map[int]int{}
	for _, s := range p.Soundings {
		channels[s.Channel]++
	}
	if len(p.Links) != 1 || !p.Links[0].Within || channels[0] == 0 || channels[1] == 0 {
		t.Errorf("%+v\n%+v", p.Soundings, p.Links)
	}
}

func TestNothingToDo(t *testing.T) {
	n := testNet(t, 2, 40*time.Second, nil)
	f := newFake(t, n, -4)
	r := Request{Start: dawn, Coordinator: 1}
	if p := make1(t, n, f, r); p.Count != 0 || p.WorstLink != -1 || len(p.Links) != 0 || p.AirtimeSeconds() != 0 {
		t.Errorf("without needs: %+v", p)
	}
	always(&r, [2]int{0, 1})
	if p := make1(t, n, f, r); p.Count != 0 || len(p.Links) != 0 {
		t.Errorf("a stated link: %+v", p)
	}
	f.know(0, 1, 0, 0, dawn)
	r.WithinDB = 30
	if p := make1(t, n, f, r); p.Count != 0 || len(p.Links) != 1 || !p.Links[0].Within || p.None.WorstSDDB > 30 {
		t.Errorf("a limit that is never reached: %+v", p)
	}
}

func TestRequestsThatMakeNoSense(t *testing.T) {
	n := testNet(t, 2, 40*time.Second, nil)
	f := newFake(t, n, -4)
	for _, c := range []struct {
		r    Request
		want error
	}{
		{Request{Horizon: -1}, ErrHorizon},
		{Request{Horizon: 200 * time.Hour}, ErrHorizon},
		{Request{WithinDB: -1}, ErrLimit},
		{Request{WithinDB: math.NaN()}, ErrLimit},
		{Request{Gap: -1}, ErrSpan},
		{Request{Lists: time.Millisecond}, ErrSpan},
		{Request{Coordinator: 2}, ErrStation},
		{Request{Needs: []Need{{From: 0, To: 5}}}, ErrStation},
		{Request{Needs: []Need{{From: 0, To: 0}}}, ErrStation},
		{Request{Needs: []Need{{From: 0, To: 1, Channel: 1}}}, ErrChannel},
		{Request{Passes: []Pass{{Receiver: 0, Stations: []int{0, 1}}}}, ErrStation},
	} {
		if _, err := Make(context.Background(), n, f, c.r); !errors.Is(err, c.want) {
			t.Errorf("%+v: %v, want %v", c.r, err, c.want)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Make(ctx, n, f, Request{}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// The order of needs and passes doesn't matter, nor does it which run it is.
func TestSameAnswerEveryTime(t *testing.T) {
	n, f, r := drawn(t, 7, 8)
	want := make1(t, n, f, r)
	rnd := rand.New(rand.NewPCG(1, 1))
	for range 3 {
		rnd.Shuffle(len(r.Needs), func(i, j int) { r.Needs[i], r.Needs[j] = r.Needs[j], r.Needs[i] })
		rnd.Shuffle(len(r.Passes), func(i, j int) { r.Passes[i], r.Passes[j] = r.Passes[j], r.Passes[i] })
		got := make1(t, n, f, r)
		got.Request = want.Request
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("%+v\n%+v", got.Soundings, want.Soundings)
		}
	}
	if want.Count == 0 {
		t.Error("nothing was planned")
	}
}

func TestStride(t *testing.T) {
	for slot, want := range map[int64]int64{15: 60, 40: 120, 60: 60, 90: 180, 120: 120, 7200: 7200, 27: 540, 32: 480, 864: 864, 54: 540} {
		if got := stride(slot); got != want {
			t.Errorf("slots of %d s: every %d s, want %d", slot, got, want)
		}
	}
}

func TestReasonNames(t *testing.T) {
	seen := map[string]bool{}
	for r := Kept; r <= NoFreeSlot+1; r++ {
		if s := r.String(); s == "" || seen[s] {
			t.Errorf("reason %d is %q", r, s)
		} else {
			seen[s] = true
		}
	}
}

func BenchmarkMake(b *testing.B) {
	for _, stations := range []int{10, 20} {
		b.Run(map[int]string{10: "10 stations, 6 h", 20: "20 stations, 6 h"}[stations], func(b *testing.B) {
			b.ReportAllocs()
			n, f, r := drawn(b, 3, stations)
			for b.Loop() {
				make1(b, n, f, r)
			}
		})
	}
}

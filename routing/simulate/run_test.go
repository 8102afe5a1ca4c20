package simulate

import (
	"context"
	"errors"
	"math"
	"reflect"
	"testing"
	"time"

	"pgregory.net/rapid"

	"farhop/mesh"
	"farhop/mesh/link"
)

func TestSameForAnyWorkers(t *testing.T) {
	s := scene(t, "A-B:-14dB±4 B-C:0.6/0.5", 5, 2*time.Hour, func(n *mesh.Net) { n.Slots.Busy, n.Slots.Block = 0.2, 2 })
	s.Confirm = true
	play := func(workers int, seed uint64) *Result {
		r, err := Run(context.Background(), s, Options{Runs: 5*batchRuns + 17, Seed: seed, Workers: workers})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	one := play(1, 7)
	if one.Runs != 5*batchRuns+17 {
		t.Errorf("%d runs", one.Runs)
	}
	for _, workers := range []int{0, 2, 3, 16} {
		if r := play(workers, 7); !reflect.DeepEqual(r, one) {
			t.Errorf("%d workers: %+v, not %+v", workers, r.Delivered, one.Delivered)
		}
	}
	if r := play(1, 8); reflect.DeepEqual(r.Arrivals, one.Arrivals) {
		t.Error("another seed makes no difference")
	}
}

// TestBatchesDiffer: were batches played with the same randomness, twice the runs
// would count twice the same.
func TestBatchesDiffer(t *testing.T) {
	s := scene(t, chain(1, 0.5, 0.5), 5, time.Hour, nil)
	one, two := playing(t, s, batchRuns, 1), playing(t, s, 2*batchRuns, 1)
	equal := true
	for i, n := range one.Arrivals {
		equal = equal && two.Arrivals[i] == 2*n
	}
	if equal {
		t.Error("the second batch repeats the first")
	}
}

func TestProgress(t *testing.T) {
	s := scene(t, chain(1, 0.5, 0.5), 2, time.Hour, nil)
	var seen []int
	_, err := Run(context.Background(), s, Options{Runs: 3*batchRuns + 1, Workers: 2, Progress: func(done int) { seen = append(seen, done) }})
	if err != nil || len(seen) != 4 || seen[3] != 3*batchRuns+1 {
		t.Errorf("%v, %v", seen, err)
	}
	for i := 1; i < len(seen); i++ {
		if seen[i] <= seen[i-1] {
			t.Errorf("progress %v", seen)
		}
	}
}

func TestCancelled(t *testing.T) {
	s := scene(t, chain(1, 0.5, 0.5), 2, time.Hour, nil)
	ctx, cancel := context.WithCancel(context.Background())
	most := 0
	r, err := Run(ctx, s, Options{Runs: 1000 * batchRuns, Workers: 2, Progress: func(done int) { most = done; cancel() }})
	if r != nil || !errors.Is(err, context.Canceled) {
		t.Errorf("%v, %v", r, err)
	}
	if most > 4*batchRuns {
		t.Errorf("%d runs were played after all", most)
	}
}

func TestRefused(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*Scenario)
		want   error
	}{
		{"no net", func(s *Scenario) { s.Net = nil }, ErrNet},
		{"no links", func(s *Scenario) { s.Links = nil }, ErrNet},
		{"net not prepared", func(s *Scenario) { s.Net = &mesh.Net{} }, ErrNet},
		{"always busy", func(s *Scenario) { s.Net.Slots.Busy = 1 }, ErrNet},
		{"busy is no number", func(s *Scenario) { s.Net.Slots.Busy = math.NaN() }, ErrNet},
		{"no rounds", func(s *Scenario) { s.Net.Slots.Rounds = 0 }, ErrNet},
		{"no station", func(s *Scenario) { s.Stations, s.Channels = nil, nil }, ErrChain},
		{"one station", func(s *Scenario) { s.Stations, s.Channels = []int{0}, nil }, ErrChain},
		{"a station too many", func(s *Scenario) { s.Stations = []int{0, 9} }, ErrChain},
		{"a station below", func(s *Scenario) { s.Stations = []int{-1, 0} }, ErrChain},
		{"twice", func(s *Scenario) { s.Stations = []int{1, 1} }, ErrChain},
		{"a channel short", func(s *Scenario) { s.Channels = nil }, ErrChain},
		{"no such channel", func(s *Scenario) { s.Channels = []int{1} }, ErrChain},
		{"no frames", func(s *Scenario) { s.Frames = 0 }, ErrFrames},
		{"too many frames", func(s *Scenario) { s.Frames = 1 << 30 }, ErrFrames},
		{"no time", func(s *Scenario) { s.Deadline = 0 }, ErrDeadline},
		{"too much time", func(s *Scenario) { s.Deadline = math.MaxInt64 }, ErrDeadline},
	} {
		s := scene(t, chain(1, 0.5, 0.5), 2, time.Hour, nil)
		c.change(&s)
		if r, err := Run(context.Background(), s, Options{Runs: 1}); r != nil || !errors.Is(err, c.want) {
			t.Errorf("%s: %v, %v", c.name, r, err)
		}
	}
	s := scene(t, chain(1, 0.5, 0.5), 2, time.Hour, nil)
	for _, o := range []Options{{Runs: -1}, {Workers: -1}} {
		if _, err := Run(context.Background(), s, o); !errors.Is(err, ErrRuns) {
			t.Errorf("%+v: %v", o, err)
		}
	}
}

func TestNoAllocationPerRun(t *testing.T) {
	s := scene(t, "A-B:-14dB±4 B-C:0.6/0.5", 5, 24*time.Hour, func(n *mesh.Net) { n.Slots.Busy, n.Slots.Block = 0.1, 3 })
	s.Confirm = true
	c, err := s.course()
	if err != nil {
		t.Fatal(err)
	}
	p, all := c.newPlayer(), c.newTally()
	play := func() { all.count(p.play(), p.keyed) }
	for range 5000 {
		play()
	}
	n := math.Inf(1)
	for try := 0; try < 20 && n >= 0.5; try++ { // what other tests have left running is counted too
		n = min(n, testing.AllocsPerRun(2000, play))
	}
	if n >= 0.5 {
		t.Errorf("%v allocations per run", n)
	}
}

// TestKeepsAccount plays all sorts of scenarios and checks what must hold
// whatever the dice say.
func TestKeepsAccount(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		hops := rapid.IntRange(1, 4).Draw(rt, "hops")
		s := scene(t, chain(hops, 1, 1), rapid.IntRange(1, 12).Draw(rt, "frames"), time.Duration(rapid.IntRange(1, 20_000).Draw(rt, "deadline"))*time.Second, func(n *mesh.Net) {
			n.Slots.Ack = rapid.IntRange(0, 3).Draw(rt, "ack")
			n.Slots.Turnaround = rapid.IntRange(0, 2).Draw(rt, "turnaround")
			n.Slots.Rounds = rapid.IntRange(1, 7).Draw(rt, "rounds")
			n.Slots.Block = rapid.IntRange(0, 6).Draw(rt, "block")
			n.Slots.Busy = rapid.Float64Range(0, 0.6).Draw(rt, "busy")
			if rapid.Bool().Draw(rt, "windows") {
				n.Channels[0].Windows = windows(t, "18:20-19:00", "20:00-20:10")
			}
		})
		s.Confirm = rapid.Bool().Draw(rt, "confirm")
		s.Start += rapid.Int64Range(-100_000, 100_000).Draw(rt, "start")
		margin := rapid.Float64Range(-4, 6).Draw(rt, "margin")
		s.Links = same(link.Direction{Kind: link.Gaussian, Margin: margin, SD: 4, Common: 3, Noise: 2})
		keepsAccount(rt, s, playing(t, s, 300, rapid.Uint64().Draw(rt, "seed")))
	})
}

func keepsAccount(t *rapid.T, s Scenario, r *Result) {
	if r.Delivered.Count+r.GivenUp.Count+r.Late.Count != r.Runs {
		t.Errorf("%v delivered, %v given up, %v late", r.Delivered, r.GivenUp, r.Late)
	}
	if r.By(len(r.Arrivals)) != r.Delivered || r.By(-1).Count != 0 {
		t.Error("arrivals don't add up")
	}
	if r.Confirmed.Count > r.Delivered.Count {
		t.Errorf("%v confirmed of %v delivered", r.Confirmed, r.Delivered)
	}
	begun, sum := r.Runs, 0.0
	for _, h := range r.Hops {
		if h.Begun.Count != begun || h.Done.Count > begun {
			t.Errorf("hops %v", r.Hops)
		}
		begun = h.Done.Count
	}
	if begun != r.Runs-r.GivenUp.Count {
		t.Errorf("%d runs went all the way, %v were given up", begun, r.GivenUp)
	}
	for _, m := range r.Stations {
		sum += m.Value
	}
	if math.Abs(sum-r.Airtime.Value) > 1e-9 || r.Airtime.Value < 1 {
		t.Errorf("airtime %v of %v", r.Airtime, r.Stations)
	}
	if s.Net.Slots.Block == 0 && r.Stations[0].Value < float64(s.Frames) {
		t.Errorf("the origin keyed %v of %d frames", r.Stations[0], s.Frames)
	}
	if first := r.Quantile(1e-9); first >= 0 && first < len(r.Hops)*s.Frames-1 {
		t.Errorf("%d frames over %d hops arrive in slot %d", s.Frames, len(r.Hops), first)
	}
}

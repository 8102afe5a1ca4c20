package routing

import (
	"context"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"
	"time"

	"farhop/mesh"
)

// What a sender turns to is what a search for that alone finds, on a planner that was
// asked nothing else.
func TestThenAlone(t *testing.T) {
	compared := 0
	for seed := range uint64(howMany(t, 40)) {
		r := rand.New(rand.NewPCG(seed, 31))
		stations := 4 + r.IntN(3)
		n, all := randomCase(t, r, stations)
		req := caseRequest(r, stations)
		q, err := New(n, all).question(req)
		if err != nil {
			t.Fatal(err)
		}
		if q.scene.clock.slots == 0 {
			continue
		}
		a, list, err := q.answer(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		for c, f := range list {
			result, _, _ := q.result(f)
			for i, h := range a.Chains[c].Hops {
				want := thenAlone(t, New(n, all), req, q.depart, f, i, result.Hops[i].GiveUpAt)
				switch {
				case (want == nil) != (h.Then == nil):
					t.Fatalf("seed %d, chain %v, hop %d: %v, alone %v", seed, f.stations, i, h.Then, want)
				case want == nil:
				case !slices.Equal(want.Stations, h.Then.Stations) || !slices.Equal(want.Channels, h.Then.Channels) || want.Delivered != h.Then.Delivered:
					t.Fatalf("seed %d, chain %v, hop %d: %v, alone %v", seed, f.stations, i, *h.Then, *want)
				default:
					compared++
				}
			}
		}
	}
	if compared < howMany(t, 40) {
		t.Fatalf("only %d compared", compared)
	}
}

// thenAlone looks for one follow-up.
func thenAlone(t *testing.T, p *Planner, r Request, depart int, f *found, i, giveUp int) *Branch {
	t.Helper()
	q, err := p.question(r)
	if err != nil {
		t.Fatal(err)
	}
	q.depart = depart
	if giveUp < 0 || giveUp+1 >= q.scene.clock.slots {
		return nil
	}
	g := &best{order: q.Order, k: 1}
	s := q.search(f.stations[i], g)
	for _, v := range f.stations[:i] {
		s.barred[v] = true
	}
	s.avoid = f.hops[i]
	if _, err := s.run(context.Background(), s.root(q.scene.eval.StartAt(giveUp+1))); err != nil {
		t.Fatal(err)
	}
	if len(g.list) == 0 {
		return nil
	}
	return &Branch{Stations: g.list[0].stations, Channels: g.list[0].channels, Delivered: g.list[0].arrival.Chance()}
}

// The answer is the same to the last figure on one processor and on several.
func TestRouteOnProcessors(t *testing.T) {
	n, all := scattered(2, 9, 0.5, estimatedLink)
	r := reference(n)
	sameOnProcessors(t, n, all, r)
	r.Order, r.Confirm, r.Deadline = Lightest, true, time.Hour // replies are worked out beside each other as well
	sameOnProcessors(t, n, all, r)
}

func sameOnProcessors(t *testing.T, n *mesh.Net, all links, r Request) {
	t.Helper()
	want := ""
	for _, procs := range []int{1, 2, 4} {
		was := runtime.GOMAXPROCS(procs)
		a, err := New(n, all).Route(context.Background(), r)
		runtime.GOMAXPROCS(was)
		if err != nil || len(a.Chains) == 0 {
			t.Fatalf("%d chains, %v", len(a.Chains), err)
		}
		if got := describe(a); want == "" {
			want = got
		} else if got != want {
			t.Fatalf("on %d processors: %s", procs, differ(got, want))
		}
	}
}

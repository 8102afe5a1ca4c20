package timetable

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/meshtest"
)

var weights = [...]int{8, 4, 2, 1}

// exact finds the least total weighted lateness over all timetables of a few
// messages with given chains, by going through all orders of their hops: every
// timetable that can't be tightened comes up when hops are taken by their starts.
type exact struct {
	p     *planner
	chain [][]hop
	jobs  []job
	n     [][]int // slots of each hop
	due   []int
	best  int
	mark  int     // entries booked before the search
	kept  []entry // of the best timetable
}

func (x *exact) search(next, ready []int, last, cost int) {
	bound, done := cost, true
	for m := range next {
		if next[m] == len(x.chain[m]) {
			continue
		}
		done = false
		end := max(ready[m], last)
		for _, n := range x.n[m][next[m]:] {
			end += n
		}
		bound += x.lateness(m, end)
	}
	if bound >= x.best {
		return
	}
	if done {
		x.best, x.kept = cost, slices.Clone(x.p.book.entries[x.mark:])
		return
	}
	for m := range next {
		k := next[m]
		if k == len(x.chain[m]) {
			continue
		}
		h := x.chain[m][k]
		e := entry{from: h.from, to: []int{h.to}, channel: h.channel, n: x.n[m][k], start: max(ready[m], last)}
		for ; !x.fits(&e); e.start++ {
		}
		mark, was := len(x.p.book.entries), ready[m]
		x.p.book.add(e)
		next[m], ready[m] = k+1, e.end()
		more := 0
		if k+1 == len(x.chain[m]) {
			more = x.lateness(m, e.end())
		}
		x.search(next, ready, e.start, cost+more)
		next[m], ready[m] = k, was
		x.p.book.back(mark)
	}
}

// byPrecedence is the least lateness when each precedence takes the best it can
// have in what those above it leave: EMERGENCY alone, then PRIORITY …
func (x *exact) byPrecedence(ready []int) (sum int) {
	for level := mesh.Emergency; level <= mesh.Routine; level++ {
		next := make([]int, len(ready))
		for m := range next {
			if x.p.messages[m].Precedence != level {
				next[m] = len(x.chain[m])
			}
		}
		x.best, x.kept = math.MaxInt, nil
		x.search(next, slices.Clone(ready), 0, 0)
		sum += x.best
		for _, e := range x.kept {
			x.p.book.add(e)
		}
		x.mark = len(x.p.book.entries)
	}
	return sum
}

func (x *exact) fits(e *entry) bool {
	if x.p.room(e).nextGap(e.start, e.end()) < e.end() {
		return false
	}
	offset, _, ok := x.p.offset(e)
	e.offset = offset
	return ok
}

func (x *exact) lateness(m, end int) int {
	return weights[x.p.messages[m].Precedence] * max(0, end-x.due[m])
}

// lateNet is two chains of stations that meet, on one channel with one or two
// offsets.
func lateNet(t *testing.T, offsets int) (*mesh.Net, *mesh.Links) {
	n := meshtest.Net(t, "A-B:0.9 B-C:0.85 C-D:0.9 B-E:0.9 C-F:0.8 E-F:0.02")
	n.Slots.Busy = 0.1
	n.Channels[0].OffsetsHz = []int{1000, 1500}[:offsets]
	return prepared(t, n)
}

func lateTraffic(r *rand.Rand, n *mesh.Net) (list []mesh.Message) {
	for i := range 3 + r.IntN(4) {
		from := r.IntN(len(n.Stations))
		to := (from + 1 + r.IntN(len(n.Stations)-1)) % len(n.Stations)
		ready := start.Add(time.Duration(r.IntN(30)) * time.Minute)
		list = append(list, mesh.Message{
			ID: fmt.Sprint("M", i), From: from, To: to, Characters: 20 + r.IntN(60), Precedence: mesh.Precedence(r.IntN(4)),
			Ready: ready, Deadline: ready.Add(time.Duration(10+r.IntN(50)) * time.Minute),
		})
	}
	return list
}

// Over random cases the timetable is close to the least total weighted lateness
// that any timetable with the same chains has, though it never lets a lower
// precedence delay a higher one and the least may.
func TestDistanceFromOptimal(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 3))
	ours, least, ruled, cases := 0, 0, 0, 0
	for cases < 60 {
		n, links := lateNet(t, 1+cases%2)
		list := lateTraffic(r, n)
		o := Options{Start: start.Unix(), CatchUp: NoCatchUp, Late: true, Horizon: 12 * time.Hour}
		made := mustMake(t, n, links, list, o)
		o, _ = o.filled()
		x := &exact{p: newPlanner(newGround(n, links, o), list, o), best: math.MaxInt}
		hops, cost := 0, 0
		next, ready := make([]int, len(list)), make([]int, len(list))
		for m := range list {
			x.jobs = append(x.jobs, x.p.job(m))
			ready[m] = x.jobs[m].ready
			x.due = append(x.due, x.jobs[m].limit)
			c := made.Messages[m].Chain
			var chain []hop
			for i := 1; i < len(c); i++ {
				chain = append(chain, hop{c[i-1], c[i], 0})
			}
			hops += len(chain)
			x.chain = append(x.chain, chain)
			ex, err := x.p.exchangesOf(x.jobs[m].frames)
			if err != nil {
				t.Fatal(err)
			}
			var lengths []int
			for _, h := range chain {
				lengths = append(lengths, ex.of(x.p.state(h, 0, ex.frames)).slots(math.Pow(o.Margin, 1/float64(len(chain)))))
			}
			x.n = append(x.n, lengths)
			cost += x.lateness(m, x.p.before(made.Messages[m].Arrival))
		}
		if hops > 13 {
			continue // too many orders
		}
		cases++
		x.best = cost + 1
		x.search(next, ready, 0, 0)
		if x.best > cost {
			t.Fatalf("case %d: the exact search finds no timetable as good as ours, %d", cases, cost)
		}
		ours, least = ours+cost, least+x.best
		ruled += x.byPrecedence(ready)
	}
	over := func(least int) float64 { return 100 * (float64(ours)/float64(least) - 1) }
	t.Logf("%d cases: total weighted lateness %d slots; least by precedence %d (%.1f %% over it), least at all %d (%.1f %% over it)",
		cases, ours, ruled, over(ruled), least, over(least))
	if least == 0 || over(ruled) > 10 {
		t.Errorf("weighted lateness %d, least by precedence %d", ours, ruled)
	}
}

// The same question gives the same answer.
func TestRepeatable(t *testing.T) {
	n, links := randomNet(t, 4, 12)
	list := randomTraffic(rand.New(rand.NewPCG(5, 5)), 12, 30)
	list[3].To = mesh.EveryMember
	a := fmt.Sprintf("%+v", mustMake(t, n, links, list, Options{}))
	for range 3 {
		if b := fmt.Sprintf("%+v", mustMake(t, n, links, list, Options{})); a != b {
			t.Fatal("two answers differ")
		}
	}
}

func TestOptions(t *testing.T) {
	n, links := lateNet(t, 1)
	for _, o := range []Options{{Margin: 1}, {Margin: -0.1}, {Margin: math.NaN()}, {CatchUp: time.Hour}, {Horizon: 15 * 24 * time.Hour}, {Relays: 9}} {
		if _, err := Make(context.Background(), n, links, nil, o); err == nil {
			t.Errorf("%+v is taken", o)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Make(ctx, n, links, lateTraffic(rand.New(rand.NewPCG(1, 1)), n), Options{}); err == nil {
		t.Error("a cancelled context is no error")
	}
}

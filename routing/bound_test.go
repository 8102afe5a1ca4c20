package routing

import (
	"math/rand/v2"
	"testing"
)

// No chain arrives by any slot with a larger chance than the table for that slot
// says, whatever it starts with.
func TestBoundHolds(t *testing.T) {
	compared, cases := 0, howMany(t, 60)
	for seed := range uint64(cases) {
		r := rand.New(rand.NewPCG(seed, 9))
		stations := 3 + r.IntN(3)
		n, all := randomCase(t, r, stations)
		req := caseRequest(r, stations)
		q, err := New(n, all).question(req)
		if err != nil {
			t.Fatal(err)
		}
		s := q.scene
		if s.clock.slots < 4 {
			continue
		}
		begin := r.IntN(s.clock.slots / 3)
		start := &stem{prefix: s.eval.StartAt(begin)}
		for range 3 {
			slot := begin + r.IntN(s.clock.slots-begin)
			b := newBound(s, q.To, begin, slot+1, q.Relays+1, 0, func(int) bool { return true })
			q.bounds.spent = 0
			check := &checkBound{t: t, b: b, slot: slot, start: start, seed: seed}
			if _, err := q.search(q.From, check).run(t.Context(), start); err != nil {
				t.Fatal(err)
			}
			compared += check.chains
		}
	}
	if compared < 5*cases {
		t.Fatalf("only %d chains compared", compared)
	}
}

// checkBound is a goal that wants every chain and compares it with a bound, from
// every one of its beginnings.
type checkBound struct {
	t      *testing.T
	b      *bound
	slot   int
	start  *stem
	seed   uint64
	chains int
}

func (c *checkBound) hopeless(*prospect) bool { return false }

func (c *checkBound) offer(f *found) {
	c.chains++
	at := c.start
	exact := f.arrival.Delivered[c.slot]
	for i, hop := range f.hops {
		per := c.b.per(at.mass(c.b), c.b.via[c.b.levels-i][hop])
		if bound := f.scene.mean(per); bound < exact-1e-9 {
			c.t.Fatalf("seed %d: %v arrives by slot %d with %.6f, but from hop %d on at most %.6f", c.seed, f.stations, c.slot, exact, i, bound)
		}
		if i < len(f.hops)-1 {
			at = at.extend(f.scene, hop)
		}
	}
}

// Without windows, with steady links and buckets of one slot, the first table is
// exact for direct chains.
func TestBoundIsExactForOneHop(t *testing.T) {
	n := openNet(2)
	q, err := New(n, links{{0, 1, 0}: certain(0.8), {1, 0, 0}: certain(0.7)}).question(Request{From: 0, To: 1, Frames: 5, Start: noon})
	if err != nil {
		t.Fatal(err)
	}
	b := newBound(q.scene, 1, 0, 30, 1, 0, func(int) bool { return true })
	arrival := q.scene.finish(q.root().prefix, []int{0}, options{}).arrival
	for slot := range 30 {
		if got, want := b.via[1][0].of[29-slot], arrival.Delivered[slot]; got < want-1e-12 || got > want+1e-12 {
			t.Errorf("%d slots: %v, exactly %v", slot+1, got, want)
		}
	}
}

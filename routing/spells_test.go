package routing

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"
)

// promised remembers what was thought possible of every branch, and compares it
// with what the chains that came of it do.
type promised struct {
	t      *testing.T
	seed   uint64
	chance map[string]float64
	later  map[string]int // the last slot by which surely no half arrive, −1 = none
	chains int
}

func (g *promised) hopeless(p *prospect) bool {
	branch := fmt.Sprint(append(append([]int(nil), p.search.hops...), p.hop))
	g.chance[branch] = p.chance()
	g.later[branch] = -1
	for slot := 0; slot < p.search.scene.clock.slots; slot += 1 + slot/4 {
		if p.later(slot) {
			g.later[branch] = slot
		}
	}
	return false
}

func (g *promised) offer(f *found) {
	g.chains++
	for i := range f.hops {
		branch := fmt.Sprint(f.hops[:i+1])
		if most := g.chance[branch]; f.arrival.Chance() > most+1e-4 {
			g.t.Fatalf("seed %d: %v delivers %.6f, but after hop %d at most %.6f was thought possible", g.seed, f.stations, f.arrival.Chance(), i, most)
		}
		if f.time <= g.later[branch] {
			g.t.Fatalf("seed %d: %v is half there by slot %d, but after hop %d later than %d was thought sure", g.seed, f.stations, f.time, i, g.later[branch])
		}
	}
}

// No branch is given less than its chains turn out to deliver, nor a later time,
// over deadlines in which links and windows come and go.
func TestProspectsHold(t *testing.T) {
	chains, cases := 0, howMany(t, 120)
	for seed := range uint64(cases) {
		r := rand.New(rand.NewPCG(seed, 10))
		stations := 3 + r.IntN(3)
		n, all := randomCase(t, r, stations)
		req := caseRequest(r, stations)
		req.Deadline = time.Duration(1+r.IntN(14)) * time.Hour
		q, err := New(n, all).question(req)
		if err != nil {
			t.Fatal(err)
		}
		if seed%3 == 0 {
			q.bounds.spent = 1 << 30
		}
		g := &promised{t: t, seed: seed, chance: map[string]float64{}, later: map[string]int{}}
		s := q.search(q.From, g)
		if seed%3 < 2 {
			s.tried = 1 << 30 // bounds as close as they get
		}
		if _, err := s.run(t.Context(), q.root()); err != nil {
			t.Fatal(err)
		}
		chains += g.chains
	}
	if chains < 2*cases {
		t.Fatalf("only %d chains compared", chains)
	}
}

func TestSpellsCoverTheClock(t *testing.T) {
	for _, c := range []struct {
		deadline time.Duration
		count    int
	}{{time.Hour - time.Second, 1}, {4 * time.Hour, 4}, {24 * time.Hour, 11}, {7 * 24 * time.Hour, 12}} {
		n, all := scattered(1, 4, 2, estimatedLink)
		r := Request{Frames: 3, Start: noon + 17, Deadline: c.deadline}
		s, err := New(n, all).scene(r.terms())
		if err != nil {
			t.Fatal(err)
		}
		p := s.spells[coarse]
		if p.count() != c.count || p.first[0] != 0 || p.first[p.count()] != s.clock.slots {
			t.Errorf("%v: %d spells from %v", c.deadline, p.count(), p.first)
		}
		for k := range p.count() {
			if a, b := p.of(s, p.first[k]), p.of(s, p.first[k+1]-1); a != k || b != k {
				t.Errorf("%v: spell %d begins in %d and ends in %d", c.deadline, k, a, b)
			}
		}
	}
}

// No hop takes more open slots than the longest, but for a chance below 1e-12.
func TestLongest(t *testing.T) {
	for _, busy := range []float64{0, 0.1, 0.6} {
		n, all := scattered(2, 3, 2, gaussianLink)
		n.Slots.Busy, n.Slots.Block = busy, 4
		s, err := New(n, all).scene(Request{Frames: 9, Start: noon, Deadline: 10 * time.Hour}.terms())
		if err != nil {
			t.Fatal(err)
		}
		for i := range s.hops {
			first, pmf := s.eval.Times(s.hops[i].leg, 0, 0, true)
			sum := 0.0
			for k, x := range pmf {
				if first+k > s.longest {
					sum += x
				}
			}
			if sum > 1e-12 || first+len(pmf) < s.longest/4 {
				t.Errorf("busy %v: longest %d, beyond it %v; times %d to %d", busy, s.longest, sum, first, first+len(pmf))
			}
		}
	}
}

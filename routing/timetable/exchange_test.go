package timetable

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"farhop/mesh/link"
)

// waiting agrees with the binomial: so many slots hold the frames with the chance
// told, and one slot less is not enough.
func TestWaiting(t *testing.T) {
	atLeast := func(slots, frames int, free float64) (sum float64) {
		for k := frames; k <= slots; k++ {
			a, _ := math.Lgamma(float64(slots + 1))
			b, _ := math.Lgamma(float64(k + 1))
			c, _ := math.Lgamma(float64(slots - k + 1))
			sum += math.Exp(a - b - c + float64(k)*math.Log(free) + float64(slots-k)*math.Log(1-free))
		}
		return sum
	}
	for _, frames := range []int{1, 3, 20} {
		for _, busy := range []float64{0.05, 0.3, 0.8} {
			n, chance := waiting(frames, busy, 0.99)
			if want := atLeast(n, frames, 1-busy); math.Abs(chance-want) > 1e-9 || want < 0.99 {
				t.Errorf("%d frames, busy %g: %d slots with %g; the binomial says %g", frames, busy, n, chance, want)
			}
			if atLeast(n-1, frames, 1-busy) >= 0.99 {
				t.Errorf("%d frames, busy %g: %d slots are one too many", frames, busy, n)
			}
		}
	}
	if n, chance := waiting(7, 0, 0.99); n != 7 || chance != 1 {
		t.Errorf("never busy: %d slots with %g", n, chance)
	}
}

// blind agrees with playing: every frame must decode in one of its sendings,
// under one deviation for all.
func TestBlind(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	for _, d := range []link.Direction{link.FixedDecode(0.7), link.FixedSNR(-14, 3, -16, 1.5), link.FixedSNR(-18, 5, -16, 1.5)} {
		const runs, frames, sendings = 40000, 5, 3
		through := 0
		for range runs {
			p := d.Frame(r.NormFloat64(), 0)
			all := true
			for range frames {
				one := false
				for range sendings {
					one = one || r.Float64() < p
				}
				all = all && one
			}
			if all {
				through++
			}
		}
		got, want := blind(d, frames)[sendings-1], float64(through)/runs
		if math.Abs(got-want) > 4*math.Sqrt(want*(1-want)/runs) {
			t.Errorf("%+v: %g, played %g", d, got, want)
		}
	}
}

// An exchange whose every frame decodes takes the frames and the pause after
// them; a closed one never ends.
func TestExchangeOfSureHop(t *testing.T) {
	n, links := lateNet(t, 1)
	n.Slots.Busy = 0
	o := mustFill(t, Options{Start: start.Unix()})
	p := newPlanner(newGround(n, links, o), nil, o)
	x, err := p.exchangesOf(6)
	if err != nil {
		t.Fatal(err)
	}
	sure := x.of(state{link.FixedDecode(1), link.FixedDecode(1)})
	if got, want := sure.slots(0.999), 6+2*n.Slots.Turnaround+n.Slots.Ack; got != want {
		t.Errorf("a sure hop takes %d slots, not %d", got, want)
	}
	if sent, answered := sure.keyed(); sent != 6 || answered != 1 {
		t.Errorf("it keys %g and %g frames", sent, answered)
	}
	if got := x.of(state{}).slots(0.1); got != 0 {
		t.Errorf("a closed hop takes %d slots", got)
	}
}

func mustFill(t *testing.T, o Options) Options {
	t.Helper()
	o, err := o.filled()
	if err != nil {
		t.Fatal(err)
	}
	return o
}

// The best way by hops equals that of trying all ways.
func TestCandidatesAreCheapest(t *testing.T) {
	for seed := range uint64(4) {
		n, links := randomNet(t, seed, 7)
		o := mustFill(t, Options{Start: start.Unix(), Relays: 3})
		p := newPlanner(newGround(n, links, o), nil, o)
		r, err := p.rated(rating{0, 8})
		if err != nil {
			t.Fatal(err)
		}
		for from := range n.Stations {
			for to := range n.Stations {
				if from == to {
					continue
				}
				list, err := p.candidates(request{from, to, 0.8, false}, 8, 0)
				if err != nil {
					t.Fatal(err)
				}
				for most := 1; most <= 4; most++ {
					level := math.Pow(0.8, 1/float64(most)) - ratingError
					best, got := cheapest(r, from, to, most, level), math.Inf(1)
					for _, c := range list {
						sure := !slices.ContainsFunc(c.hops, func(h hop) bool { return r.chance(h) < level })
						if sure && len(c.hops) <= most {
							got = min(got, c.cost)
						}
					}
					if best.walks && (math.IsInf(best.cost, 1) != math.IsInf(got, 1) || got > best.cost+1e-12) {
						t.Fatalf("seed %d, %d to %d, %d hops: cost %g, cheapest %g", seed, from, to, most, got, best.cost)
					}
				}
				best, got := cheapest(r, from, to, 4, 0), math.Inf(1)
				if len(list) > 0 {
					got = list[0].cost
				}
				if math.IsInf(best.cost, 1) != math.IsInf(got, 1) || got > best.cost+1e-12 {
					t.Fatalf("seed %d, %d to %d: cost %g, cheapest %g", seed, from, to, got, best.cost)
				}
			}
		}
	}
}

// way is the cheapest way by trying all; walks says that no cheaper walk comes to a
// station twice.
type way struct {
	cost  float64
	walks bool
}

func cheapest(r *rated, from, to, most int, level float64) way {
	simple, any := math.Inf(1), math.Inf(1)
	var walk func(v, hops int, cost float64, seen int, again bool)
	walk = func(v, hops int, cost float64, seen int, again bool) {
		if v == to {
			any = min(any, cost)
			if !again {
				simple = min(simple, cost)
			}
			return
		}
		for _, h := range r.out[v] {
			if hops < most && h.chance >= level && cost+h.cost < simple {
				walk(h.to, hops+1, cost+h.cost, seen|1<<h.to, again || seen&(1<<h.to) != 0)
			}
		}
	}
	walk(from, 0, 0, 1<<from, false)
	return way{simple, any >= simple-1e-12}
}

// chance is that of a hop.
func (r *rated) chance(h hop) float64 {
	for _, e := range r.out[h.from] {
		if e.hop == h {
			return e.chance
		}
	}
	return 0
}

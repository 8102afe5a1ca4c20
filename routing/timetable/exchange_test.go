package timetable

import (
	"math"
	"math/rand/v2"
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
		got, want := blind(d, frames, sendings), float64(through)/runs
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
	p := newPlanner(n, links, nil, mustFill(t, Options{Start: start.Unix()}))
	x, err := p.exchangesOf(6)
	if err != nil {
		t.Fatal(err)
	}
	sure := x.of(state{link.FixedDecode(1), link.FixedDecode(1)})
	if got, want := sure.slots(0.999), 6+2*n.Slots.Turnaround+n.Slots.Ack; got != want {
		t.Errorf("a sure hop takes %d slots, not %d", got, want)
	}
	if sure.sent != 6 || sure.answered != 1 {
		t.Errorf("it keys %g and %g frames", sure.sent, sure.answered)
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
		p := newPlanner(n, links, nil, mustFill(t, Options{Start: start.Unix(), Relays: 3}))
		r, err := p.rated(rating{0, 8})
		if err != nil {
			t.Fatal(err)
		}
		for from := range n.Stations {
			for to := range n.Stations {
				if from == to {
					continue
				}
				best := math.Inf(1)
				var walk func(v, hops int, cost float64, seen int)
				walk = func(v, hops int, cost float64, seen int) {
					if v == to {
						best = min(best, cost)
						return
					}
					for _, h := range r.out[v] {
						if hops < 4 && seen&(1<<h.to) == 0 {
							walk(h.to, hops+1, cost+h.cost, seen|1<<h.to)
						}
					}
				}
				walk(from, 0, 0, 1<<from)
				list, err := p.candidates(from, to, 8, 0)
				if err != nil {
					t.Fatal(err)
				}
				got := math.Inf(1)
				if len(list) > 0 {
					got = list[0].cost
				}
				if math.IsInf(best, 1) != math.IsInf(got, 1) || got > best+1e-12 {
					t.Fatalf("seed %d, %d to %d: cost %g, cheapest %g", seed, from, to, got, best)
				}
			}
		}
	}
}

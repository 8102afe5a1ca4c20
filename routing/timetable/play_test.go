package timetable

import (
	"math"
	"math/rand/v2"
	"testing"

	"farhop/mesh"
	"farhop/mesh/link"
)

// dice plays a hop frame by frame, from the rules of the exchange alone.
type dice struct {
	*rand.Rand
	slots mesh.Slots
}

// pass is how many slots go by until so many are free.
func (d *dice) pass(free int) (n int) {
	for free > 0 {
		n++
		if d.Float64() >= d.slots.Busy {
			free--
		}
	}
	return n
}

func (d *dice) all(frames int, chance float64) bool {
	for range frames {
		if d.Float64() >= chance {
			return false
		}
	}
	return true
}

// block plays one block; used slots until it is over, and whether it is.
func (d *dice) block(frames int, p, q float64, last bool) (used int, ok bool) {
	lacks, known := frames, true // known: the sender knows what is lacking
	for range d.slots.Rounds {
		heard := false
		if known {
			used += d.pass(lacks)
			for range lacks {
				if d.Float64() < p {
					lacks--
					heard = true
				}
			}
		} else {
			used += d.pass(1)
			heard = d.Float64() < p
		}
		used += d.pass(2*d.slots.Turnaround + d.slots.Ack)
		known = heard && d.all(d.slots.Ack, q)
		if lacks == 0 && (last || known) {
			return used, true
		}
	}
	return used, false
}

// hop plays a hop under one deviation for both directions.
func (d *dice) hop(forward, reverse link.Direction, frames int) (used int, ok bool) {
	zeta := d.NormFloat64()
	p, q := forward.Frame(zeta, 0), reverse.Frame(zeta, 0)
	size := d.slots.Block
	for frames > 0 {
		n := frames
		if size > 0 {
			n = min(n, size)
		}
		frames -= n
		more, ok := d.block(n, p, q, frames == 0)
		used += more
		if !ok {
			return used, false
		}
	}
	return used, true
}

// Played with dice, messages are through by their planned arrivals as often as the
// timetable says, which is at least the margin.
func TestPlayedTimetableKeepsItsMargin(t *testing.T) {
	for _, margin := range []float64{0.6, 0.8, 0.95} {
		n, links := randomNet(t, 3, 12)
		list := randomTraffic(rand.New(rand.NewPCG(8, 8)), 12, 25)
		made := mustMake(t, n, links, list, Options{Margin: margin})
		d := &dice{rand.New(rand.NewPCG(9, uint64(margin*100))), n.Slots}
		const runs = 1500
		through, want, variance, messages := 0.0, 0.0, 0.0, 0.0
		for m := range made.Messages {
			planned := &made.Messages[m]
			if !planned.Fits {
				continue
			}
			messages++
			want += planned.Chance
			variance += planned.Chance * (1 - planned.Chance) / runs
			if planned.Chance < margin-1e-9 {
				t.Errorf("margin %g: %s is through with %g", margin, list[m].ID, planned.Chance)
			}
			for range runs {
				if d.keeps(links, made, m) {
					through += 1.0 / runs
				}
			}
		}
		if messages < 10 {
			t.Fatalf("margin %g: only %g messages fit", margin, messages)
		}
		t.Logf("margin %g: %.0f messages: through by the planned arrival %.4f, said %.4f", margin, messages, through/messages, want/messages)
		if math.Abs(through-want) > 4*math.Sqrt(variance) {
			t.Errorf("margin %g: through %g of %g messages, said %g ± %g", margin, through, messages, want, math.Sqrt(variance))
		}
	}
}

// keeps plays a message's reservations; whether each hop is over in its slots.
func (d *dice) keeps(links *mesh.Links, made *Timetable, m int) bool {
	for i := range made.Reservations {
		r := &made.Reservations[i]
		if r.Message != m {
			continue
		}
		if !d.keepsHop(links, r) {
			return false
		}
	}
	return true
}

// keepsHop plays a reservation; whether the hop is over in its slots.
func (d *dice) keepsHop(links *mesh.Links, r *Reservation) bool {
	e, _ := links.Edge(r.From, r.To[0], r.Channel, start.Unix())
	back, _ := links.Edge(r.To[0], r.From, r.Channel, start.Unix())
	used, ok := d.hop(e.Direction, back.Direction, r.Frames)
	return ok && used <= r.Slots
}

// Played with dice, a message to every member reaches each of those it is said to
// cover with the margin at least: nobody answers, every frame goes out so many
// times in the slots that others leave free.
func TestPlayedMessageToAllReachesEachMember(t *testing.T) {
	relayed := 0
	for seed := range uint64(3) {
		n, links := randomNet(t, seed, 12)
		made := mustMake(t, n, links, []mesh.Message{{ID: "M", From: 0, To: mesh.EveryMember, Characters: 40}}, Options{})
		d := &dice{rand.New(rand.NewPCG(seed, 4)), n.Slots}
		const runs = 4000
		got := map[int]int{}
		for range runs {
			for v := range d.reaches(links, made) {
				got[v]++
			}
		}
		for _, v := range made.Messages[0].Chain[1:] {
			if share, margin := float64(got[v])/runs, made.Margin; share < margin-3*math.Sqrt(margin*(1-margin)/runs) {
				t.Errorf("seed %d: %d gets it with %.3f", seed, v, share)
			}
		}
		for _, r := range made.Reservations {
			if r.From != 0 {
				relayed++
			}
		}
	}
	if relayed == 0 {
		t.Error("nobody sends it on: the test shows nothing of that")
	}
}

// reaches plays a message to every member once; who has it.
func (d *dice) reaches(links *mesh.Links, made *Timetable) map[int]bool {
	has := map[int]bool{0: true}
	for i := range made.Reservations {
		r := &made.Reservations[i]
		if !has[r.From] {
			continue
		}
		if r.Sendings == 0 {
			has[r.To[0]] = d.keepsHop(links, r)
			continue
		}
		if d.pass(r.Frames*r.Sendings) > r.Slots {
			continue // others left too few slots free
		}
		for _, to := range r.To {
			e, _ := links.Edge(r.From, to, r.Channel, start.Unix())
			p, all := e.Direction.Frame(d.NormFloat64(), 0), true
			for range r.Frames {
				one := false
				for range r.Sendings {
					one = d.Float64() < p || one
				}
				all = all && one
			}
			has[to] = all
		}
	}
	for v, yes := range has {
		if !yes {
			delete(has, v)
		}
	}
	return has
}

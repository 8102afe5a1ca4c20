package delivery

import (
	"fmt"
	"math"
	"sync"
	"testing"
)

// Many blocks are given up in the same slots, and as often, by way of spectra as one
// block after the other.
func TestGiveUpMany(t *testing.T) {
	for _, c := range []struct{ frames, block, rounds, ack int }{
		{10, 2, 3, 1}, {47, 10, 6, 1}, {50, 10, 6, 2}, {297, 10, 6, 1}, {64, 8, 8, 0}, {1000, 20, 4, 1},
	} {
		pr := &Protocol{Frames: c.frames, Block: c.block, Rounds: c.rounds, Ack: c.ack, Turnaround: 1}
		b, w := newBlocks(pr, false), &bench{}
		for _, p := range []float64{1e-3, 0.1, 0.35, 0.6, 0.85, 0.99, 1} {
			b.set(w, p, 1-p, kindLost)
			for _, q := range []float64{0, 0.2, 0.7, 1} {
				first, got := b.answer(w, q, kindLost)
				many := slots(first, got)
				few := slots(b.giveUpFew(w))
				total := 0.0
				for slot := range max(len(many), len(few)) {
					d := at(many, slot) - at(few, slot)
					if total += d; math.Abs(d) > 1e-13 {
						t.Fatalf("%+v, p %g, q %g: slot %d: %g, want %g", c, p, q, slot, at(many, slot), at(few, slot))
					}
				}
				if math.Abs(total) > 1e-11 {
					t.Errorf("%+v, p %g, q %g: %g too much in all", c, p, q, total)
				}
			}
		}
	}
}

func slots(first int, of []float64) []float64 { return append(make([]float64, first), of...) }

func at(of []float64, i int) float64 {
	if i < len(of) {
		return of[i]
	}
	return 0
}

// The averages of a long message don't hang on who else asks at the same time.
func TestLongTogether(t *testing.T) {
	plan := messagePlan(60, 6, 10, benchShare)
	legs := []Leg{estimated(6), estimated(3), estimated(9)}
	told := func(together bool) string {
		e, ids := evaluator(t, plan, legs...)
		if !e.grid.points().near {
			t.Fatal("the message is too short for this test")
		}
		out := make([]string, len(ids))
		var group sync.WaitGroup
		for i, id := range ids {
			work := func() { out[i] = fmt.Sprint(e.Chain(id, id).Delivered, e.GivenUp(e.Start(), id).Chance()) }
			if together {
				group.Go(work)
			} else {
				work()
			}
		}
		group.Wait()
		return fmt.Sprint(out)
	}
	if alone, together := told(false), told(true); alone != together {
		t.Errorf("alone %.300s…, together %.300s…", alone, together)
	}
}

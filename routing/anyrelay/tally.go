package anyrelay

import (
	"context"
	"math"
	"runtime"
	"sync"
	"sync/atomic"
)

// batchRuns is how many runs have randomness of their own, whoever plays them.
const batchRuns = 250

// tally counts whole numbers, so that its sum does not depend on its order. The
// squares don't fit into 32 bits.
type tally struct {
	runs                         int
	arrivals                     []int
	frames, duplicates, needless moments
}

// moments are a sum and that of the squares.
type moments struct{ sum, squares int64 }

func (m *moments) count(n int) {
	m.sum, m.squares = m.sum+int64(n), m.squares+int64(n)*int64(n)
}

func (m *moments) add(o moments) {
	m.sum, m.squares = m.sum+o.sum, m.squares+o.squares
}

// mean is that over some runs.
func (m moments) mean(runs int) Estimate {
	n := float64(runs)
	v := float64(m.sum) / n
	return Estimate{v, math.Sqrt(max(0, float64(m.squares)/n-v*v) / max(1, n-1))}
}

// count adds the run to a tally.
func (p *player) count(t *tally) {
	t.runs++
	if p.arrived < len(t.arrivals) {
		t.arrivals[p.arrived]++
	}
	t.frames.count(p.frames)
	t.duplicates.count(p.duplicates)
	t.needless.count(p.needless)
}

func (t *tally) add(o *tally) {
	t.runs += o.runs
	t.frames.add(o.frames)
	t.duplicates.add(o.duplicates)
	t.needless.add(o.needless)
	for i, n := range o.arrivals {
		t.arrivals[i] += n
	}
}

// played plays the plan with dice.
func (c *course) played(ctx context.Context, o Options) (*Result, error) {
	batches := (o.Runs + batchRuns - 1) / batchRuns
	tallies := make([]tally, min(batches, runtime.GOMAXPROCS(0)))
	var next atomic.Int64
	var wait sync.WaitGroup
	for i := range tallies {
		t := &tallies[i]
		t.arrivals = make([]int, c.inTime)
		wait.Go(func() {
			p := c.newPlayer()
			for b := next.Add(1) - 1; b < int64(batches) && ctx.Err() == nil; b = next.Add(1) - 1 {
				p.pcg.Seed(o.Seed, uint64(b))
				for range min(batchRuns, o.Runs-int(b)*batchRuns) {
					p.play()
					p.count(t)
				}
			}
		})
	}
	wait.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	for i := range tallies[1:] {
		tallies[0].add(&tallies[i+1])
	}
	return c.counted(&tallies[0]), nil
}

// counted turns counts into estimates.
func (c *course) counted(t *tally) *Result {
	r := c.newResult()
	r.Runs = t.runs
	sum := 0
	for i, k := range t.arrivals {
		sum += k
		r.Arrival[i] = float64(sum) / float64(t.runs)
	}
	r.Delivered = moments{int64(sum), int64(sum)}.mean(t.runs)
	r.Low, r.High = wilson(sum, t.runs)
	r.Frames, r.Duplicates, r.Needless = t.frames.mean(t.runs), t.duplicates.mean(t.runs), t.needless.mean(t.runs)
	return r
}

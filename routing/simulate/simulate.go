// Package simulate plays a message over a chain of stations many times, slot by
// slot and frame by frame, and counts what became of it. It states the exchange a
// second time, in another form than the exact computation and without its code
// or tables, so that each can be held against the other.
//
// What is played. A message is F frames on every hop, sent in blocks of B (0 = one
// block), the last of them what is left. A hop may use the slots in which both
// stations listen to its channel, less those taken by others, each with chance
// b. A round is: the frames that the receiver lacks, one a slot; G slots of
// turnaround; A slots for the acknowledgment, which the receiver keys if anything
// of this round decoded and the sender reads if all A frames of it decode; G
// slots. After a round without a read acknowledgment the next one is a poll of a
// single frame that carries nothing of the message. After R rounds a block is
// given up.
//
//   - A block that isn't the last goes on to the next when its acknowledgment was
//     read; else the try ends, even if the receiver has the block.
//   - With the last block a relay that has everything sends on when its round is
//     over, and the one before it falls silent, acknowledged or not.
//   - On the last hop the message is delivered in the slot in which the last lacking
//     frame decodes. The sender polls on until it reads an acknowledgment, which
//     confirms the delivery, or its rounds are used up.
//   - With a reply asked for, 2 frames return over the reversed chain from the end of
//     the round in which the last sender read; their arrival confirms instead.
//
// The chance that a frame decodes is that of the link at the first slot open to
// the hop, rounded down to a whole quarter of an hour after the start, and as much later
// as [mesh.Slots.Midway] says (estimated links), under two
// standard normal deviates: one drawn for the hop, the same for both directions, and
// one drawn for the whole net.
//
// The same scenario, number of runs and seed give the same result, whatever the
// number of workers.
package simulate

import (
	"context"
	"errors"
	"math/rand/v2"
	"runtime"
	"sync"
)

// DefaultRuns makes a standard error of about 0.1 points of a share.
const DefaultRuns = 200_000

// batchRuns is how many runs a worker takes at a time, each batch with
// randomness of its own.
const batchRuns = 500

// Options says how often and with which randomness a scenario is played.
type Options struct {
	Runs     int            // 0 = DefaultRuns
	Seed     uint64         // all randomness comes from it
	Workers  int            // goroutines, 0 = as many as may run at once
	Progress func(done int) // called now and then with the runs done so far, from one goroutine at a time; nil = not
}

// ErrRuns says that a negative number of runs or workers was asked for.
var ErrRuns = errors.New("the numbers of runs and workers must not be negative")

// Run plays the scenario. The error is that of a scenario that makes no sense, or
// of the context when it ended before all runs were done; there is no result then.
// The time grows with runs × slots that a run takes, 10 to 20 ns each.
func Run(ctx context.Context, s Scenario, o Options) (*Result, error) {
	if o.Runs < 0 || o.Workers < 0 {
		return nil, ErrRuns
	}
	c, err := s.course()
	if err != nil {
		return nil, err
	}
	if o.Runs == 0 {
		o.Runs = DefaultRuns
	}
	if o.Workers == 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	work := &batches{left: o.Runs, seeds: rand.NewPCG(o.Seed, o.Seed), progress: o.Progress}
	tallies := make([]*tally, min(o.Workers, (o.Runs-1)/batchRuns+1))
	var wait sync.WaitGroup
	for i := range tallies {
		tallies[i] = c.newTally()
		wait.Go(func() { work.play(ctx, c, tallies[i]) })
	}
	wait.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	sum := tallies[0]
	for _, t := range tallies[1:] {
		sum.add(t)
	}
	return c.result(sum), nil
}

// batches hands out the runs. The seeds of a batch depend on its number only,
// not on who plays it; the tallies are whole numbers, so their sum does not depend on
// its order.
type batches struct {
	sync.Mutex
	left, done int
	seeds      *rand.PCG
	progress   func(done int)
}

// play takes batches until none is left or the context has ended.
func (b *batches) play(ctx context.Context, c *course, t *tally) {
	p := c.newPlayer()
	for {
		runs, one, two := b.take()
		if runs == 0 {
			return
		}
		p.dice.seed(one, two)
		for range runs {
			if ctx.Err() != nil {
				return
			}
			t.count(p.play(), p.keyed)
		}
		b.finished(runs)
	}
}

// take hands out the next batch.
func (b *batches) take() (runs int, one, two uint64) {
	b.Lock()
	defer b.Unlock()
	runs = min(b.left, batchRuns)
	b.left -= runs
	return runs, b.seeds.Uint64(), b.seeds.Uint64()
}

// finished reports progress.
func (b *batches) finished(runs int) {
	b.Lock()
	defer b.Unlock()
	b.done += runs
	if b.progress != nil {
		b.progress(b.done)
	}
}

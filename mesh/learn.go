package mesh

import (
	"context"
	"fmt"
	"math/bits"
	"runtime"
	"sync"

	"farhop/mesh/link"
	"farhop/observations"
)

// Learn follows every link of the net through the evidence of a log up to and
// including the moment at, and returns what is known then. Without observations (a nil
// log, or one into which nothing was read) only the plan's fixed links exist.
// The rules of evidence are those of Trace. The net must be prepared and must
// not change while the links are in use; the log may be dropped afterwards.
//
// An error means that the context was cancelled or that the net's link settings
// can't be used. Time is linear in the evidence; memory is some 500 bytes for each
// pair and band with an opportunity, twice that where the sender has fallen silent.
func Learn(ctx context.Context, n *Net, log *observations.Log, at int64) (*Links, error) {
	model, err := link.NewModel(n.Link)
	if err != nil {
		return nil, fmt.Errorf("mesh: %w", err)
	}
	l := &Links{
		net: n, at: at, model: model, bands: makeBands(n), prior: model.NewState(),
		fixed: make(map[direction]int32),
	}
	for i, f := range n.Fixed {
		l.fixed[direction{int32(f.From), int32(f.To), int32(f.Channel)}] = int32(i)
	}
	if log == nil {
		l.table, l.presence = newLinkTable(len(n.Stations), len(l.bands.list)), newPresence(len(n.Stations), len(l.bands.list))
		return l, nil
	}
	l.estimated = log.Counts.Read > 0 || len(log.Reports) > 0
	if err := l.follow(ctx, log); err != nil {
		return nil, err
	}
	return l, nil
}

// follow runs the evidence through the filter of every link. Links are dealt out to
// workers, a power of two of them, by number, so each is followed by one worker in
// order of time.
func (l *Links) follow(ctx context.Context, log *observations.Log) error {
	shift := uint(min(bits.Len(uint(runtime.GOMAXPROCS(0)))-1, 3))
	if len(log.Reports) < 1<<14 {
		shift = 0
	}
	shards := 1 << shift
	free := make(spares, 2*mostKept/batchSize)
	workers := make([]*follower, shards)
	for i := range workers {
		workers[i] = &follower{model: l.model, shift: shift, done: free.put}
	}
	var t *tracer
	var err error
	if shards == 1 {
		t = newTracer(l.net, log, l.at, 1, func(_ int, batch []Event) []Event {
			workers[0].take(batch)
			return free.get()
		})
		err = t.run(ctx, noStop)
		workers[0].settle()
	} else {
		t, err = l.followTogether(ctx, log, workers, free)
	}
	if err != nil {
		return err
	}
	l.table, l.presence, l.account = t.links, t.presence, t.account()
	l.Counts = l.account.Counts
	l.records = make([]record, len(l.table.pairs))
	for i := range l.records {
		l.records[i] = workers[i&(shards-1)].records[i>>shift]
	}
	return nil
}

func noStop() error { return nil }

// spares are empty batches to be used again.
type spares chan []Event

func (s spares) get() []Event {
	select {
	case batch := <-s:
		return batch
	default:
		return make([]Event, 0, batchSize)
	}
}

func (s spares) put(batch []Event) {
	select {
	case s <- batch:
	default:
	}
}

// followTogether lets the workers run beside the pass over the reports.
func (l *Links) followTogether(ctx context.Context, log *observations.Log, workers []*follower, free spares) (*tracer, error) {
	const ahead = 32 // batches that a worker may be behind
	var wait sync.WaitGroup
	work := make([]chan []Event, len(workers))
	for i, w := range workers {
		work[i] = make(chan []Event, ahead)
		wait.Go(func() {
			for batch := range work[i] {
				w.take(batch)
			}
			w.settle()
		})
	}
	t := newTracer(l.net, log, l.at, len(workers), func(shard int, batch []Event) []Event {
		work[shard] <- batch
		return free.get()
	})
	err := t.run(ctx, noStop)
	for _, c := range work {
		close(c)
	}
	wait.Wait()
	return t, err
}

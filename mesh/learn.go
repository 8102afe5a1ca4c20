package mesh

import (
	"context"
	"fmt"
	"math"
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
// pair and band with an opportunity.
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

// record is what is known of one link.
type record struct {
	state                        *link.State
	newest                       int64 // time of the newest report or miss
	reports, unwitnessed, misses int
}

// follow runs the evidence through the filter of every link. Links are dealt out to
// workers by number, so each is followed by one worker in order of time.
func (l *Links) follow(ctx context.Context, log *observations.Log) error {
	shards := min(runtime.GOMAXPROCS(0), 8)
	if len(log.Reports) < 1<<14 {
		shards = 1
	}
	workers := make([]*follower, shards)
	for i := range workers {
		workers[i] = &follower{model: l.model, shards: int32(shards)}
	}
	var t *tracer
	var err error
	if shards == 1 {
		t = newTracer(l.net, log, l.at, 1, func(_ int, batch []Event) []Event {
			workers[0].take(batch)
			return batch[:0]
		})
		err = t.run(ctx, noStop)
	} else {
		t, err = l.followTogether(ctx, log, workers)
	}
	if err != nil {
		return err
	}
	l.table, l.presence, l.account = t.links, t.presence, t.account()
	l.Counts = l.account.Counts
	l.records = make([]record, len(l.table.pairs))
	for i := range l.records {
		l.records[i] = workers[i%shards].records[i/shards]
	}
	return nil
}

func noStop() error { return nil }

// followTogether lets the workers run beside the pass over the reports.
func (l *Links) followTogether(ctx context.Context, log *observations.Log, workers []*follower) (*tracer, error) {
	const spare = 8
	var wait sync.WaitGroup
	work := make([]chan []Event, len(workers))
	free := make(chan []Event, spare*len(workers))
	for i, w := range workers {
		work[i] = make(chan []Event, spare)
		wait.Go(func() {
			for batch := range work[i] {
				w.take(batch)
				free <- batch[:0]
			}
		})
	}
	for range spare * len(workers) {
		free <- make([]Event, 0, batchSize)
	}
	t := newTracer(l.net, log, l.at, len(workers), func(shard int, batch []Event) []Event {
		next := <-free
		work[shard] <- batch
		return next
	})
	err := t.run(ctx, noStop)
	for _, c := range work {
		close(c)
	}
	wait.Wait()
	return t, err
}

// follower applies events to the links of one shard.
type follower struct {
	model   *link.Model
	shards  int32
	records []record
}

func (f *follower) take(batch []Event) {
	for i := range batch {
		e := &batch[i]
		at := int(e.Link / f.shards)
		for at >= len(f.records) {
			f.records = append(f.records, record{state: f.model.NewState(), newest: math.MinInt64})
		}
		f.records[at].take(f.model, e)
	}
}

func (r *record) take(m *link.Model, e *Event) {
	switch e.Kind {
	case EventReport:
		r.reports++
		m.Report(r.state, e.Unix, e.Value, true)
	case EventUnwitnessed:
		r.reports++
		r.unwitnessed++
		m.Unwitnessed(r.state, e.Unix, e.Value, e.Raise)
	case EventMiss:
		r.misses++
		m.Miss(r.state, e.Unix, e.Raise)
	case EventMove:
		m.Move(r.state, e.Unix, e.Value)
		return
	}
	r.newest = max(r.newest, e.Unix)
}

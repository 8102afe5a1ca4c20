package mesh

import (
	"math"

	"farhop/mesh/link"
)

// record is what is known of one link.
type record struct {
	state                        *link.State
	newest                       int64 // time of the newest report or miss
	reports, unwitnessed, misses int

	before int64 // newest as it was when the sender fell silent
}

// follower applies events to the links of one shard. A big net's states don't fit
// into the processor's caches, and fetching one takes longer than an update. So
// batches are kept until there are some events for each link, then these are brought
// into order of links, those of one link staying in order of time.
type follower struct {
	model   *link.Model
	shift   uint // links of the shard are numbered by dropping so many bits
	records []record
	kept    [][]Event
	count   int // of the events kept
	sorted  []Event
	next    []int32       // where the next event of each link goes in sorted
	done    func([]Event) // gets batches back, emptied
}

// How many events are kept: so many a link, within bounds.
const (
	keptEach   = 4
	fewestKept = 1 << 14
	mostKept   = 1 << 19
)

// take keeps a batch until it is done with it.
func (f *follower) take(batch []Event) {
	f.kept = append(f.kept, batch)
	if f.count += len(batch); f.count >= min(max(keptEach*len(f.records), fewestKept), mostKept) {
		f.settle()
	}
}

// settle applies what has been kept.
func (f *follower) settle() {
	f.sort()
	for i := range f.sorted {
		e := &f.sorted[i]
		f.records[e.Link>>f.shift].take(f.model, e)
	}
	f.kept, f.count = f.kept[:0], 0
}

// sort brings what has been kept into order of links, by counting.
func (f *follower) sort() {
	for _, batch := range f.kept {
		for i := range batch {
			at := int(batch[i].Link >> f.shift)
			for at >= len(f.records) {
				f.records = append(f.records, record{newest: math.MinInt64, before: math.MinInt64})
				f.next = append(f.next, 0)
			}
			f.next[at]++
		}
	}
	sum := int32(0)
	for i, n := range f.next {
		f.next[i] = sum
		sum += n
	}
	if cap(f.sorted) < f.count {
		f.sorted = make([]Event, 2*f.count)
	}
	f.sorted = f.sorted[:f.count]
	for _, batch := range f.kept {
		for i := range batch {
			at := &f.next[batch[i].Link>>f.shift]
			f.sorted[*at] = batch[i]
			*at++
		}
		f.done(batch[:0])
	}
	clear(f.next)
}

func (r *record) take(m *link.Model, e *Event) {
	if r.state == nil {
		r.state = m.NewState()
	}
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
	case EventSilent:
		m.Keep(r.state)
		r.before = r.newest
		return
	case EventOutage:
		m.Return(r.state)
		r.newest, r.before = r.before, math.MinInt64
		return
	}
	r.newest = max(r.newest, e.Unix)
}

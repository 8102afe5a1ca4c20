package mesh

import (
	"math/rand/v2"
	"reflect"
	"testing"

	"farhop/mesh/link"
)

// drawEvents draws evidence of so many links in order of time.
func drawEvents(seed uint64, links, count int) []Event {
	r := rand.New(rand.NewPCG(seed, 4))
	list := make([]Event, count)
	unix := int64(1_772_409_600)
	for i := range list {
		unix += int64(r.IntN(40))
		e := Event{Unix: unix, Link: int32(r.IntN(1 + links*min(i+1, 1000)/1000)), Kind: EventKind(r.IntN(6))}
		switch e.Kind {
		case EventReport, EventUnwitnessed:
			e.Value = -30 + 20*r.Float64()
		case EventMiss:
			e.Raise = float64(r.IntN(4))
		case EventMove:
			e.Value = r.Float64()
		}
		list[i] = e
	}
	return list
}

// Keeping events and sorting them by link comes to the same as taking each when it
// comes, to the last bit.
func TestFollowerKeepsTheOrder(t *testing.T) {
	model, err := link.NewModel(link.Defaults())
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct{ links, count int }{{1, 5}, {3, 2*fewestKept + 17}, {2 * fewestKept, 3 * fewestKept}} {
		events := drawEvents(uint64(tt.links), tt.links, tt.count)
		var want []record
		for i := range events {
			e := &events[i]
			for int(e.Link) >= len(want) {
				want = append(want, record{newest: never, before: never})
			}
			want[e.Link].take(model, e)
		}
		for shift := range uint(3) {
			back := 0
			workers := make([]*follower, 1<<shift)
			for i := range workers {
				workers[i] = &follower{model: model, shift: shift, done: func(batch []Event) { back += cap(batch) }}
			}
			given := 0
			out := newOutbox(len(workers), func(shard int, batch []Event) []Event {
				given += cap(batch)
				workers[shard].take(batch)
				return make([]Event, 0, batchSize)
			})
			for _, e := range events {
				out.send(e)
			}
			out.flushAll()
			got := make([]record, len(want))
			for i := range got {
				w := workers[i&(len(workers)-1)]
				w.settle()
				if i>>shift < len(w.records) {
					got[i] = w.records[i>>shift]
				} else {
					got[i].newest, got[i].before = never, never
				}
			}
			if !reflect.DeepEqual(got, want) {
				t.Errorf("%d links, %d events, %d workers: other records", tt.links, tt.count, len(workers))
			}
			if back != given {
				t.Errorf("%d of %d places of batches came back", back, given)
			}
		}
	}
}

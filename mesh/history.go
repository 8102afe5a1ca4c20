package mesh

import (
	"context"
	"math"

	"farhop/mesh/link"
	"farhop/observations"
)

// Entry is one piece of evidence of one link.
type Entry struct {
	Unix  int64     // as in Event
	Told  int64     // when it is known at the earliest, ≥ Unix: a claim tells of slots before it
	Value float32   // as in Event
	Raise float32   // as in Event
	Kind  EventKind // as in Event
}

// Opportunity reports whether the entry is a report or a miss of a transmission
// that was known of anyway, so that both could have come of it.
func (e *Entry) Opportunity() bool { return e.Kind == EventReport || e.Kind == EventMiss }

// Update takes the entry into a link's state.
func (e *Entry) Update(m *link.Model, s *link.State) {
	switch e.Kind {
	case EventReport:
		m.Report(s, e.Unix, float64(e.Value), true)
	case EventUnwitnessed:
		m.Unwitnessed(s, e.Unix, float64(e.Value), float64(e.Raise))
	case EventMiss:
		m.Miss(s, e.Unix, float64(e.Raise))
	case EventMove:
		m.Move(s, e.Unix, float64(e.Value))
	case EventSilent:
		m.Keep(s)
	case EventOutage:
		m.Return(s)
	}
}

// History is the evidence of a log laid out by link, to be gone through more than once.
type History struct {
	Account *Account
	Links   [][]Entry // by index into Account.Pairs, in the order of Told
	First   int64     // Unix of the earliest report or miss
	Last    int64     // of the latest; below First where there is none
}

// Gather lays out the evidence of a log up to and including the moment at, as
// Trace tells it. It takes 32 bytes for each report and miss. An error means
// that the context was cancelled.
func Gather(ctx context.Context, n *Net, log *observations.Log, at int64) (*History, error) {
	h := &History{First: math.MaxInt64, Last: math.MinInt64}
	length, newest := n.Slots.Seconds(), int64(math.MinInt64)
	account, err := Trace(ctx, n, log, at, func(batch []Event) error {
		for i := range batch {
			e := &batch[i]
			for int(e.Link) >= len(h.Links) {
				h.Links = append(h.Links, nil)
			}
			newest = max(newest, e.Unix)
			told := e.Unix
			if e.Unix < floorDiv(newest, length)*length {
				told = newest
			}
			h.Links[e.Link] = append(h.Links[e.Link], Entry{e.Unix, told, float32(e.Value), float32(e.Raise), e.Kind})
			if e.Kind.Evidence() {
				h.First, h.Last = min(h.First, e.Unix), max(h.Last, e.Unix)
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	h.Account = account
	return h, nil
}

package mesh

import (
	"context"

	"farhop/observations"
)

// EventKind says what an Event tells of a link.
type EventKind uint8

const (
	EventReport      EventKind = iota // decoded, and the transmission was known of anyway
	EventUnwitnessed                  // decoded; nothing else proves the transmission
	EventMiss                         // sent and listened for, but not decoded
	EventMove                         // an end of the link has moved
	EventSilent                       // a sounding of the sender that nobody reported, the first since anybody did: it may have gone off the air
	EventOutage                       // it had: what was missed since EventSilent doesn't count
)

// Evidence reports whether an event is a report or a miss.
func (k EventKind) Evidence() bool { return k <= EventMiss }

// Event is one piece of evidence about one link.
type Event struct {
	Unix  int64   // a report's time, the start of a miss's slot, a move's first report, the start of the slot in which a silence begins or is found to be an outage
	Value float64 // SNR in dB scaled to planned power, or the share a of what is known that a move leaves
	Raise float64 // dB that the half-decode SNR was above the plan's, because of the power: 10·log10(planned/actual); 0 for the others
	Link  int32   // index into Account.Pairs
	Kind  EventKind
}

// Pair is a link that has had an opportunity: directed, on one band.
type Pair struct{ From, To, Band int32 }

// Account is what a pass over the evidence leaves beside its events.
type Account struct {
	Pairs        []Pair              // in the order of their first events
	Bands        []observations.Band // what Pair.Band counts
	Counts       observations.Counts // complete
	Problems     []observations.Problem
	ProblemCount int      // of all, kept in Problems or not
	Moves        []Moved  // in order of time
	Places       []string // newest known locator of each station, "" = none
	Newest       int64    // Unix seconds of the newest report used, 0 = none
}

// Moved is a station's change of place as reports show it.
type Moved struct {
	Station  int
	Unix     int64 // of the first report from the new place
	From, To string
	KM       float64
	Times    int // how often the station has moved so far, this time included
}

// Trace goes once through the evidence of a log up to and including the moment
// at, and hands over events in batches, each only valid during the call. An error
// of take or a cancelled context ends the pass.
//
// The rules. A report belongs to the slot that holds its time; reports of the
// same slot, band, receiver and sender are one (the highest SNR, then the earliest
// time). A transmission is witnessed for a receiver if another station, of the
// net or not, reported it in the same slot on the same band, or if it is a
// planned sounding, its slot is over and anybody reported the sender on any
// band within Evidence.SilentAfter before the slot. A receiver watches a band
//
//   - with WatchHeard, if it reported anybody on it in the slot or in the
//     Evidence.ListeningWindow before the slot;
//   - with WatchDeclared, if it is on the air and the plan has it listen there;
//   - with WatchAll, if it is on the air and a channel of its own on that band is in window;
//
// unless it sent in the slot, on any band, or (WatchAll aside) reported anybody on
// another band in the slot or after its last report on this band. With
// WatchDeclared, reports from before the plan brought the receiver to the band
// don't count for the latter: else a station that changes bands by the plan would
// be taken for absent until its first report. Every witnessed transmission
// and watching receiver is an opportunity, so a report or a miss; a report that
// nobody else confirms counts as well, as unwitnessed. A claim makes its receiver a
// watcher over the listening window that ends with it: each witnessed transmission
// there by a station it does not list is a miss, unless it is one already, or the
// receiver sent or (WatchAll aside) reported another band in that slot. It is told
// when the claim is known, so it may be older than the link's last event.
//
// Once nobody has reported a sender on any band for Evidence.SilentAfter, it is taken
// to have been off the air ever since it was last heard, and what was missed of its
// soundings since then is taken back: an outage must not teach that the paths are
// shut. As nobody knows beforehand how a silence ends, all links of the sender are told of its
// first unheard sounding (EventSilent) and, that much later, of the outage.
//
// A station moves when a report gives it a locator that neither continues nor
// shortens its last; the plan's locator counts until the first report with one.
//
// SNRs are scaled to the sender's planned power. A miss counts at the highest power
// that a report of the transmission states, else at the planned one. A report
// without frequency belongs to the channel it names, else to the one its receiver
// watches by the plan, else it is rejected. The slot that holds the moment is judged by the
// reports that are in.
//
// Nothing looks ahead: events from up to a slot don't depend on later reports. The
// pass is linear in reports and misses.
func Trace(ctx context.Context, n *Net, log *observations.Log, at int64, take func([]Event) error) (*Account, error) {
	var err error
	t := newTracer(n, log, at, 1, func(_ int, batch []Event) []Event {
		if err == nil {
			err = take(batch)
		}
		return batch[:0]
	})
	if runErr := t.run(ctx, func() error { return err }); runErr != nil {
		return nil, runErr
	}
	if err != nil {
		return nil, err
	}
	return t.account(), nil
}

// Package timetable puts a list of messages onto the channels of a net: who
// sends what to whom in which slots, so that no two reservations clash.
//
// Messages go by precedence, within one by deadline. Each is given the surest
// chain that arrives in time, or a less sure one where that is through an hour
// earlier (a quarter of one for EMERGENCY and PRIORITY), and every hop of it a
// reservation: so many slots
// that the hop, begun with the first of them, is over with a chance of
// margin^(1/hops) by the last, the message's frames, fills and polls,
// turnarounds and acknowledgments included. What is placed stays: a message of
// lower precedence never moves one of higher precedence, so the timetable of the
// higher ones is the same with and without it.
//
// Two reservations clash when they overlap in time and share a station (one
// radio, which can't send and listen at once), or share channel and offset
// while any station of one can hear any of the other, or when a signal on
// another offset of the channel is too strong for a receiver beside the one it
// wants. A reservation holds open slots only: both stations on the air and
// listening to the channel. The end of every hour is kept free for catching up
// after an overrun.
//
// Nothing here reads the clock or depends on the order of a map.
package timetable

import (
	"errors"
	"time"

	"farhop/mesh"
)

// Source is what is asked of a net's links; *mesh.Links is one. False means
// that there is no such link.
type Source interface {
	Edge(from, to, channel int, unix int64) (mesh.Edge, bool)
}

// Defaults of Options.
const (
	DefaultMargin  = 0.8
	DefaultHorizon = 24 * time.Hour
	DefaultCatchUp = 5 * time.Minute
	DefaultRelays  = 4
)

// mostHorizon is how far ahead can be planned.
const mostHorizon = 14 * 24 * time.Hour

// Audible is the decode chance from which a station counts as hearing another.
const Audible = 0.05

// Options says how to plan. The zero value of a field is its default.
type Options struct {
	Start    int64         // the moment planned from, Unix seconds
	Horizon  time.Duration // how far ahead to plan, up to 14 days
	Margin   float64       // chance wanted that a message is through by its planned arrival, over 0 and under 1
	CatchUp  time.Duration // kept free at the end of every hour, under an hour; NoCatchUp = none
	Relays   int           // most relays a chain may have; DirectOnly = none
	Unknown  bool          // use links of which too little is known
	Inferred bool          // use links inferred from the opposite direction
	Late     bool          // also reserve messages that miss their deadline
	Spare    []int         // stations that are to relay only what finds no other way
	Compare  bool          // also plan with one reservation at a time in the whole net
	Single   bool          // one reservation at a time in the whole net
	AnyHour  bool          // plan into quiet hours too
	AnyDuty  bool          // plan past the limits of duty
	NoAdvice bool          // don't look for what would make messages fit
}

// NoCatchUp as Options.CatchUp keeps nothing free.
const NoCatchUp = -1

// DirectOnly as Options.Relays allows no relay.
const DirectOnly = -1

// Reservation is a stretch of slots for one hop, or for one sending that many
// stations hear.
type Reservation struct {
	Message  int   // index into the list of messages
	Hop      int   // from 1; for every member, the number of the sending
	From     int   // station
	To       []int // stations that are to receive it, in order
	Channel  int
	OffsetHz int   // audio offset, 0 where the channel states none
	Start    int64 // Unix seconds, a slot boundary
	End      int64 // end of the last slot
	Slots    int
	Frames   int     // of the message on this hop
	Sendings int     // how often each frame is sent without acknowledgment; 0 = acknowledged
	Chance   float64 // that the hop is over by End once begun at Start
	// Sent and Answered are the expected frames keyed by the sender and by the
	// receiver over the whole try.
	Sent, Answered float64
}

// Planned is what becomes of one message.
type Planned struct {
	Message  int
	Chain    []int    // stations; for every member the origin and who is covered, by time
	Chance   float64  // that it is through by Arrival: product over its reservations
	Arrival  int64    // end of its last reservation, Unix seconds; 0 = none
	Deadline int64    // the message's, or the end of the horizon; Unix seconds
	Fits     bool     // reserved, and through by the deadline
	Missing  []int    // members that no sending covers, for every member
	Fewest   bool     // for every member: proven that no fewer transmissions, at any time by the deadline, reach all it covers
	WhyNot   string   // plain words, "" when it fits
	Changes  []string // any one of these makes it fit or, for every member, reach more: tried by planning again
	Untried  bool     // not all changes were tried, for there are too many messages that don't fit
}

// Timetable is the plan for a list of messages.
type Timetable struct {
	First        int64         // start of slot 0
	Slots        int           // in the horizon
	SlotSeconds  int64         // length of a slot
	Reservations []Reservation // by start, then channel, offset and sender
	Messages     []Planned     // in the order of the list
	Order        []int         // messages in the order in which they were placed
	// Occupancy is the share of the horizon's open channel slots in which something is
	// reserved on the channel.
	Occupancy float64
	Duty      []float64 // of each station: expected frames keyed per slot of the horizon, its soundings included
	Shares    []StationShare
	Reserved  int         // slots of all reservations, one after another
	Used      int         // slots in which anything is reserved: the difference goes on side by side
	Single    *Comparison // with one reservation at a time; nil unless asked for
	CatchUp   time.Duration
	Margin    float64
	Spare     []int // as in Options
}

// Comparison is what becomes of the same messages under other rules.
type Comparison struct {
	Fit  int   // messages through in time
	Last int64 // end of the last reservation, Unix seconds; 0 = none
}

// StationShare is a station's share of the slots, its soundings included.
type StationShare struct {
	Limit     float64 // most it may transmit of a clock hour
	Busiest   float64 // share of the clock hour in which it transmits most, as expected
	BusiestAt int64   // begin of that hour, Unix seconds
}

// ErrOptions is what Make returns, with the reason, for options out of range.
var ErrOptions = errors.New("timetable: options out of range")

// end is the end of the horizon, Unix seconds.
func (o Options) end() int64 { return o.Start + int64(o.Horizon/time.Second) }

func (o Options) filled() (Options, error) {
	if o.Margin == 0 {
		o.Margin = DefaultMargin
	}
	if o.Horizon == 0 {
		o.Horizon = DefaultHorizon
	}
	switch {
	case o.CatchUp == 0:
		o.CatchUp = DefaultCatchUp
	case o.CatchUp < 0:
		o.CatchUp = 0
	}
	switch {
	case o.Relays == 0:
		o.Relays = DefaultRelays
	case o.Relays < 0:
		o.Relays = 0
	}
	ok := o.Margin > 0 && o.Margin < 1 && o.Horizon > 0 && o.Horizon <= mostHorizon &&
		o.CatchUp < time.Hour && o.Relays <= 8
	if !ok {
		return o, ErrOptions
	}
	return o, nil
}

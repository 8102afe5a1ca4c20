// Package sounding plans which stations should sound, on which channel and when,
// so that the links that matter stay known well enough with little airtime.
//
// What a link's SNR is worth knowing to is a standard deviation of x, the SNR a slot
// would have on average. It grows by itself as evidence ages, and a sounding that the
// receiver listens for brings it down. Both are foreseen with the link's own
// filter: between soundings by its forecast, at a sounding by the covariance that
// is expected of it (link.Model.Expect), the chance of a decode being that of the
// forecast. Reports of other traffic would come on top and aren't counted.
//
// A report helps nobody before it is passed on. So receivers send the coordinator a
// list of what they heard once a period, over the chain that is best then, and the
// airtime of these lists counts like that of the soundings. Knowledge is
// judged where it was heard; the coordinator's picture is as old as the newest lists.
//
// Make keeps these rules:
//   - A sounding takes one whole slot and is made while its sender is on the air and
//     not in quiet hours, on a channel of the sender's that is in its window. Slots that start on whole minutes
//     come first, where the slot scheme has them every ten minutes or oftener.
//   - It counts for a receiver that listens to that channel in that slot, doesn't
//     sound in it, and has a way to pass its list on in that period.
//   - In one slot no two stations sound on the same offset of a channel, or on offsets
//     nearer to each other than the net's limits allow, and offsets keep clear of
//     noise that the plan states at the receivers, where there are such.
//   - Two soundings of a station are at least Request.Gap apart, and no clock hour holds
//     more of them than its limit of duty allows.
//   - Links are judged every Step, while both ends listen to a channel on which the link
//     matters. What no allowed number of soundings could bring within the limit
//     doesn't count, and is reported with the reason.
//
// The plan is found greedily in time, the most variance above the limit taken away
// for the airtime first, and then made lighter by local changes: it is not
// proven to be the lightest. Equal input gives equal results.
package sounding

import (
	"errors"
	"fmt"
	"time"

	"farhop/mesh"
)

// Step is how often links are judged.
const Step = 15 * time.Minute

// Defaults of a Request.
const (
	DefaultHorizon  = 12 * time.Hour
	DefaultWithinDB = 8.0
	DefaultGap      = 30 * time.Minute // a choice: oftener is a strain on batteries and patience
	DefaultLists    = 4 * time.Hour    // a choice
)

// maxHorizon bounds what a plan may be asked for.
const maxHorizon = 7 * 24 * time.Hour

// Need is a link that matters on a channel from Start to before End, in Unix seconds.
// Stations and channels are indexes into the net.
type Need struct {
	From, To, Channel int
	Start, End        int64
}

// Pass is how a receiver's list gets to the coordinator in a period: what each
// station on the way keys for a frame of the list, and for each block of frames
// besides.
type Pass struct {
	Receiver, Period           int
	Stations                   []int // the receiver first, the coordinator last
	FrameSeconds, BlockSeconds []float64
	Delivered                  float64 // chance that a message gets there at all
}

// Request is what is to be kept known, and how well.
type Request struct {
	Start       int64         // the moment asked for, Unix seconds
	Horizon     time.Duration // 0 = DefaultHorizon
	Lists       time.Duration // a list is passed on once in such a period, counted from the first slot; 0 = DefaultLists
	WithinDB    float64       // largest standard deviation of x; 0 = DefaultWithinDB
	Gap         time.Duration // between soundings of one station; 0 = DefaultGap
	Coordinator int           // who needs no list
	Needs       []Need
	Passes      []Pass // receivers and periods without one can't pass their lists on
}

// Source is what a plan asks of a net's links; *mesh.Links is one.
type Source interface {
	Growth(from, to, channel int) (mesh.Growth, bool)
}

// Plan is who sounds when, and what that does.
type Plan struct {
	Request    Request // as asked, defaults filled in
	First, End int64   // the horizon, from the first slot's start, Unix seconds
	Soundings  []Sounding
	Lists      []List    // by time and receiver
	Links      []Outcome // the links that matter, by sender, receiver and channel
	Stations   []Burden  // those that key anything, in order
	Tally                // of the whole plan
	Halved     Tally     // with every second sounding of each station left out
	Scheduled  Tally     // of the schedule in the stations' own plan, in place of this one
	None       Tally     // without any sounding
}

// Sounding is one transmission of one slot.
type Sounding struct {
	Station, Channel int
	Offset           int   // index into the channel's offsets, 0 where it has none
	Start            int64 // Unix seconds
	For              []int // receivers whose link from Station needs it passed on, ascending
}

// List is a receiver's report of the soundings it heard in a period.
type List struct {
	Receiver int
	At       int64   // end of the period, Unix seconds
	Reports  float64 // expected soundings in it
	Frames   int     // on each hop; 0 at the coordinator itself
	Stations []int   // the way it takes
	Seconds  float64 // expected keyed time of all stations
}

// Tally is what a schedule costs and does. Deviations are judged where the plan keeps
// within the limit, so that schedules can be compared.
type Tally struct {
	Count           int     // soundings
	SoundingSeconds float64 // keyed seconds of soundings
	ListSeconds     float64 // keyed seconds of passing lists on
	WorstSDDB       float64 // largest standard deviation of x of any link at any time; 0 when nothing is judged
	WorstLink       int     // index into Plan.Links, −1 when nothing is judged
	WorstAt         int64   // when that is
	Over            int     // links above the limit at some time
}

// AirtimeSeconds is the keyed time of soundings and lists.
func (t Tally) AirtimeSeconds() float64 { return t.SoundingSeconds + t.ListSeconds }

// Burden is what a station keys in the whole plan.
type Burden struct {
	Station                      int
	Soundings                    int
	SoundingSeconds, ListSeconds float64
	EnergyWh                     float64 // to key them; NaN when the station states no supply
}

// Reason is why a link isn't kept within the limit all the time.
type Reason uint8

const (
	Kept       Reason = iota // it is
	Away                     // while it matters, its ends never listen to the channel together, or no sounding can be heard
	NoWay                    // the receiver can't pass its list on
	TooLate                  // it is above the limit before the first sounding that could be heard
	TooLittle                // as many soundings as are allowed don't suffice
	NoFreeSlot               // other soundings stand in the way
)

var reasonNames = [...]string{"kept", "never listening together", "no way for the list", "above the limit at first", "soundings say too little", "no free slot"}

// String is the reason in plain words.
func (r Reason) String() string {
	if int(r) < len(reasonNames) {
		return reasonNames[r]
	}
	return "?"
}

// Outcome is what becomes of a link that matters.
type Outcome struct {
	From, To, Channel int     // the first channel of its band on which it matters
	Decode            float64 // chance a frame decodes when it first matters
	NowSDDB           float64 // standard deviation when it first matters
	WorstSDDB         float64 // largest while it matters; 0 when it is never judged
	WorstAt           int64
	LeastSDDB         float64 // with as many soundings as are allowed: the largest of the times when it is above the limit all the same; 0 when Kept
	Within            bool    // all the time
	WithinFrom        int64   // from when on it is kept within, 0 = never or always
	AboveMinutes      int     // how long above the limit in all
	Reason            Reason
}

// Errors that a Request can earn.
var (
	ErrStation = errors.New("no such station")
	ErrChannel = errors.New("no such channel")
	ErrHorizon = fmt.Errorf("the horizon must be over zero and up to %v", maxHorizon)
	ErrLimit   = errors.New("the standard deviation to keep within must be over 0 dB")
	ErrSpan    = errors.New("the gap and the time between lists must be over zero")
)

// filled is the request with its defaults in place.
func (r Request) filled() Request {
	if r.Horizon == 0 {
		r.Horizon = DefaultHorizon
	}
	if r.Lists == 0 {
		r.Lists = DefaultLists
	}
	if r.WithinDB == 0 {
		r.WithinDB = DefaultWithinDB
	}
	if r.Gap == 0 {
		r.Gap = DefaultGap
	}
	return r
}

// check says what is wrong with a filled request on a net.
func (r Request) check(n *mesh.Net) error {
	switch {
	case r.Horizon < 0 || r.Horizon > maxHorizon:
		return ErrHorizon
	case !(r.WithinDB > 0):
		return ErrLimit
	case r.Gap < 0 || r.Lists < time.Second:
		return ErrSpan
	}
	station := func(v int) bool { return v >= 0 && v < len(n.Stations) }
	ok := station(r.Coordinator)
	for _, d := range r.Needs {
		ok = ok && station(d.From) && station(d.To) && d.From != d.To
		if d.Channel < 0 || d.Channel >= len(n.Channels) {
			return ErrChannel
		}
	}
	for _, p := range r.Passes {
		ok = ok && station(p.Receiver) && len(p.FrameSeconds) == len(p.Stations) && len(p.BlockSeconds) == len(p.Stations)
		for _, v := range p.Stations {
			ok = ok && station(v)
		}
	}
	if !ok {
		return ErrStation
	}
	return nil
}

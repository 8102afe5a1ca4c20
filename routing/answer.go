package routing

import (
	"time"

	"farhop/mesh"
)

// Answer is the best chains for a message, and what to do when they fail.
// Stations and channels are indexes into the net. Minutes count from the moment
// asked for to the end of the slot of arrival and are NaN when that share of
// all tries has not arrived by the deadline.
type Answer struct {
	Request  Request       // as asked, defaults filled in
	First    int64         // Unix second in which slot 0 starts
	Slot     time.Duration // length of a slot
	Slots    int           // slots that end by the deadline
	Chains   []Chain       // the best in the asked order, then those only named below
	Best     int           // how many of Chains are the best asked for
	Proven   bool          // no chain within the relays asked for comes before these
	Unbeaten []int         // indexes into Chains
	Backup   *Backup       // nil when no two chains share no relay
	Shared   []int         // relays that every chain passes; only without Backup
	AnyRelay *AnyRelay     // nil when no frame can reach the destination
	Hold     *Hold         // set when a later departure is better
	Warnings []Warning
}

// Chain is one chain and what it promises.
type Chain struct {
	Stations  []int
	Hops      []Hop   // one less than Stations
	Delivered float64 // chance of delivery by the deadline
	Confirmed float64 // chance that the last sender knows by the deadline, or with a reply the origin

	MeanMinutes                                    float64 // given delivery by the deadline
	P50Minutes, P80Minutes, P90Minutes, P95Minutes float64

	Frames         float64   // expected frames keyed over the whole try by all stations
	AirtimeSeconds float64   // the same as keyed time
	StationSeconds []float64 // keyed time of each of Stations
	EnergyWh       float64   // to key them; NaN when a station that keys states no supply
	StationWh      []float64 // of each of Stations, NaN where not known
	Arrival        []float64 // Arrival[s] is the chance it is there by the end of slot s
	Weakest        int       // index into Hops
}

// Hop is one hop of a chain as it is when the message gets there.
type Hop struct {
	From, To, Channel   int
	At                  int64     // Unix second the two edges are taken at
	Edge, Reverse       mesh.Edge // message and answering direction
	HasEdge, HasReverse bool      // false: no such link
	Blind               bool      // sent several times without acknowledgment
	Done                float64   // chance it is done by the deadline if the message gets to From by then
	GiveUp              int64     // Unix second by which 95 % of what ever arrives has; 0 = nothing does
	Then                *Branch   // what to try after that, nil when there is nothing
	Reasons             []Reason  // why it is weak, most telling first
}

// Branch is the best way on for the station that holds the message.
type Branch struct {
	Stations, Channels []int
	Delivered          float64 // chance by the deadline, starting at the give-up time
}

// Backup is the best pair of chains that share no relay.
type Backup struct {
	Chains    [2]int  // indexes into Answer.Chains; the first is sent first
	Delivered float64 // chance that at least one delivers by the deadline
	Both      bool    // both are sent at once
	SwitchAt  int64   // Unix second at which the first is usually given up at its origin, 0 when it never is
}

// Hold says that a later departure is better.
type Hold struct {
	Until           int64   // Unix second to depart at
	Now, Then       float64 // chance by the same deadline of the best chain, leaving now and then
	NowP50, ThenP50 float64 // minutes from the moment asked for, NaN when not reached
	Stations        []int   // the best chain then
	Channels        []int
}

// Reason is why a hop is weak.
type Reason uint8

const (
	Weak        Reason = iota // a frame decodes less often than not
	AnswerWeak                // its acknowledgments are hardly read
	Old                       // the newest evidence is old
	OneReport                 // it rests on one report only
	UnknownHour               // its climate at that hour is not known
	Inferred                  // taken from the opposite direction
)

var reasonNames = [...]string{"weak", "answer weak", "old", "one report only", "unknown at that hour", "inferred"}

// String is the reason in plain words.
func (r Reason) String() string {
	if int(r) < len(reasonNames) {
		return reasonNames[r]
	}
	return "?"
}

// Code names a kind of warning for machines.
type Code string

// String is the code itself.
func (c Code) String() string { return string(c) }

const (
	WarnUnknownForward  Code = "unknown-link"    // hops left out because their link is unknown
	WarnInferredForward Code = "inferred-link"   // hops left out because their link is inferred
	WarnUnknownReverse  Code = "unknown-answer"  // a hop whose answering direction is unknown
	WarnInferredReverse Code = "inferred-answer" // a hop whose answering direction is inferred
	WarnNoReverse       Code = "no-answer"       // a hop without an answering direction
	WarnNotProven       Code = "not-proven"      // the search was cut short
	WarnReserve         Code = "no-supply"       // energy unknown for want of a stated supply
	WarnNoSlots         Code = "no-slots"        // no slot ends by the deadline
	WarnUsesUnknown     Code = "uses-unknown"    // a chain uses an unknown link
	WarnUsesInferred    Code = "uses-inferred"   // a chain uses an inferred link
)

// Warning is something a reader must know beside the numbers.
type Warning struct {
	Code     Code
	Message  string // in plain words, with call signs
	Stations []int  // concerned, sender first where it is about a hop
}

package mesh

import (
	"math"
	"math/bits"
	"time"
)

// Slots is the slot scheme and the exchange on each hop.
type Slots struct {
	Length       time.Duration // whole seconds, divides 24 h
	Keyed        time.Duration // transmitter on, within a slot
	Characters   int           // text characters a frame carries
	Header       int           // H, header frames a message and hop
	Ack          int           // A, acknowledgment frames
	Turnaround   int           // G, slots between sending and listening
	Rounds       int           // R, rounds a block
	Block        int           // B, frames a block, 0 = whole message
	Identify     time.Duration // station identification interval, 0 = none counted
	HalfDecodeDB float64       // θ, SNR at which half the frames decode
	SpreadDB     float64       // δ, spread of the decode curve
	Busy         float64       // b, chance that a slot is taken by others, 0…<1
}

// DefaultSlots is a scheme to start a plan from: 40 s slots with the transmitter
// on for 34 s of them, 18 characters a frame, half of the frames decoded at
// −16 dB. The figures are an example; the mode in use decides them.
func DefaultSlots() Slots {
	return Slots{
		Length: 40 * time.Second, Keyed: 34 * time.Second,
		Characters: 18, Header: 1, Ack: 1, Turnaround: 1, Rounds: 6,
		HalfDecodeDB: -16, SpreadDB: 1.5,
	}
}

// Seconds is the slot length in whole seconds, at least 1.
func (s Slots) Seconds() int64 { return max(1, int64(s.Length/time.Second)) }

// PerDay is how many slots a day has.
func (s Slots) PerDay() int64 { return DaySeconds / s.Seconds() }

// Start is the first slot boundary at or after a Unix time. Boundaries count
// from 00:00 UTC. Slot 0 of anything planned from that time begins there.
func (s Slots) Start(unix int64) int64 {
	length := s.Seconds()
	return -floorDiv(-unix, length) * length
}

// Holding is the start of the slot that holds a Unix time.
func (s Slots) Holding(unix int64) int64 {
	length := s.Seconds()
	return floorDiv(unix, length) * length
}

// Frames is how many frames a message of so many characters takes on every
// hop: F = ⌈characters/Characters⌉ + Header, plus ⌊F·Length/Identify⌋ frames of
// station identification where Identify is set. It is at least 1.
func (s Slots) Frames(characters int) int {
	frames := max(characters, 0)
	if s.Characters > 0 {
		frames = (frames-1)/s.Characters + 1
		if characters <= 0 {
			frames = 0
		}
	}
	frames = max(frames+s.Header, 1)
	if s.Identify <= 0 || s.Length <= 0 {
		return frames
	}
	high, low := bits.Mul64(uint64(frames), uint64(s.Length))
	if high >= uint64(s.Identify) {
		return math.MaxInt32 // more identification than anybody could send
	}
	more, _ := bits.Div64(high, low, uint64(s.Identify))
	return frames + int(min(more, math.MaxInt32))
}

// StateStep is the step of time at which the states of links are taken.
const StateStep = 15 * time.Minute

// Midway is how long after the start of a hop of so many frames the states of estimated
// links are taken: half of the time that the exchange takes when every other frame is lost, so
// as long as it takes when none is. A state taken at the start makes hops look surer than
// they are: what is heard now passes. Twice as long is the span over which fluctuations
// pass ([Edge.Through]). Whole seconds, at most some 30 years.
func (s Slots) Midway(frames int) time.Duration {
	blocks := 1
	if s.Block > 0 {
		blocks = (frames-1)/s.Block + 1
	}
	slots := (float64(frames) + float64(blocks)*float64(2*s.Turnaround+s.Ack)) / (1 - s.Busy)
	return time.Duration(min(math.Round(slots*float64(s.Seconds())), 1e9)) * time.Second
}

// Evidence is how evidence is judged.
type Evidence struct {
	ListeningWindow time.Duration // a report proves that its receiver listens this long
	SilentAfter     time.Duration // soundings count while anyone heard the sender within this time
	MovedKM         float64       // distance over which a station's links become strange
}

// DefaultEvidence is what holds where a plan says nothing: ten minutes, eight
// hours, 300 km. They are choices, not measurements.
func DefaultEvidence() Evidence {
	return Evidence{ListeningWindow: 10 * time.Minute, SilentAfter: 8 * time.Hour, MovedKM: 300}
}

// DefaultCommonDB is the net-wide deviation of estimated links where a plan
// states none. A choice, not a measurement.
const DefaultCommonDB = 3.0

// floorDiv divides rounding down; b > 0.
func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

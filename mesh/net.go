// Package mesh turns a plan of stations and channels and what they heard into a
// directed, weighted, time-decaying graph of who can reach whom.
//
// A Net is the plan. Prepare checks it and brings it into order. Learn goes once
// through the reports of a log, finds out which transmissions each station heard
// and which it missed, and follows the state of every link. The Links it returns
// answer for any station pair, channel and moment, one at a time (Edge) or as a
// graph (Graph).
//
// Stations are known by their index in the order of their call signs, channels by
// their index in plan order. Times are Unix seconds in UTC. Nothing here reads
// the clock, prints, or depends on the order of a map: equal input gives equal
// results.
package mesh

import (
	"time"

	"farhop/mesh/link"
	"farhop/observations/locator"
)

// Net is the stations, their channels and their slot scheme. Prepare must
// have passed it before anything else is asked of it, and again after a change.
type Net struct {
	Name     string
	Slots    Slots
	Channels []Channel // in plan order
	Stations []Station // Prepare sorts them by call; a station's index is its graph id
	Fixed    []FixedLink
	Link     link.Settings // Prepare copies θ and δ of Slots into it
	CommonDB float64       // net-wide deviation c of estimated links in dB
	Evidence Evidence
	Limits   Limits
	Traffic  []Message

	names names // what Find looks up
}

// Channel is a named frequency with the windows in which the net uses it.
type Channel struct {
	Name      string
	Frequency uint32  // Hz
	Windows   Windows // UTC; the zero value becomes Always
	OffsetsHz []int   // audio offsets used on it
	NoisyHz   []int   // audio offsets at which everybody hears a steady noise on it
}

// Watch says how evidence that a station listens is judged.
type Watch uint8

const (
	WatchHeard    Watch = iota // only as its own reports prove (default)
	WatchDeclared              // as its on-air windows and channel list say
	WatchAll                   // several receivers: all its channels at once
)

// String is the word a plan uses.
func (w Watch) String() string {
	switch w {
	case WatchHeard:
		return "heard"
	case WatchDeclared:
		return "declared"
	case WatchAll:
		return "all"
	}
	return "unknown"
}

// Station is a member of the net.
type Station struct {
	Call      string // planning name, upper case
	Licensed  string // licensed call sign, "" when not given
	Also      []string
	Locator   string           // "" when not given
	Position  locator.Position // centre of Locator; meaningless when Locator is ""
	PowerW    float64          // planned transmit power, > 0
	MaxPowerW float64          // what it could do at most, 0 = not stated
	Channels  []int            // indexes into Net.Channels in watch order; none becomes all, in plan order
	OnAir     Windows          // UTC; the zero value becomes Always
	Watch     Watch
	Roles     []string
	Soundings []Sounding
	Supply    *Supply // nil = not stated
	DutyLimit float64 // share of the slots of an hour in which it may transmit, 0 = as the net's limits say
	Quiet     Windows // UTC hours in which it does not transmit, beside the net's
	Noisy     []Noise // steady noises that only it hears
}

// Sounding is a schedule of short transmissions made to be measured.
type Sounding struct {
	Channel int           // index into Net.Channels
	Every   time.Duration // whole seconds, from 00:00 UTC
	After   time.Duration // offset within Every, whole seconds
}

// Supply is a station's battery and what feeds and drains it.
type Supply struct {
	BatteryWh, Reserve  float64 // Reserve is a share of BatteryWh, 0…<1
	ReceiveW, TransmitW float64
	ChargeWhPerDay      float64
}

// FixedLink is a link stated by the plan in place of an estimate.
type FixedLink struct {
	From, To, Channel int     // indexes
	Decode            float64 // chance a frame decodes, when HasDecode
	HasDecode         bool
	SNRDB, SNRSDDB    float64 // otherwise
}

// Precedence orders messages; lower values go first.
type Precedence uint8

const (
	Emergency Precedence = iota
	Priority
	Welfare
	Routine
)

// String is the word a plan uses.
func (p Precedence) String() string {
	switch p {
	case Emergency:
		return "EMERGENCY"
	case Priority:
		return "PRIORITY"
	case Welfare:
		return "WELFARE"
	case Routine:
		return "ROUTINE"
	}
	return "UNKNOWN"
}

// EveryMember as Message.To addresses all stations but the sender.
const EveryMember = -1

// Message is one item of the traffic list.
type Message struct {
	ID         string
	From       int
	To         int    // EveryMember = all others
	Characters int    // 0 = those of Text, which Prepare counts
	Text       string // "" when only the length is planned
	Precedence Precedence
	Ready      time.Time // zero = at once
	Deadline   time.Time // zero = none
	Has        []int     // stations beside From that have it already; a plan can't say so
}

// Clone returns a copy that shares nothing with the net that could be changed.
func (n *Net) Clone() *Net {
	c := *n
	c.Channels = clone(n.Channels)
	for i := range c.Channels {
		c.Channels[i].OffsetsHz, c.Channels[i].NoisyHz = clone(c.Channels[i].OffsetsHz), clone(c.Channels[i].NoisyHz)
	}
	c.Stations = clone(n.Stations)
	for i := range c.Stations {
		s := &c.Stations[i]
		s.Also, s.Channels, s.Roles, s.Soundings = clone(s.Also), clone(s.Channels), clone(s.Roles), clone(s.Soundings)
		s.Noisy = clone(s.Noisy)
		if s.Supply != nil {
			supply := *s.Supply
			s.Supply = &supply
		}
	}
	c.Fixed, c.Traffic = clone(n.Fixed), clone(n.Traffic)
	return &c
}

// clone copies a slice and keeps nil and empty apart.
func clone[T any](s []T) []T {
	if s == nil {
		return nil
	}
	return append(make([]T, 0, len(s)), s...)
}

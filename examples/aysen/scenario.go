// Package aysen is an invented relief net in the fjords and mountains of
// Aysén, Chilean Patagonia, with a known truth: who can hear whom, how well and
// at which hour. From it come the plan and the observations of the worked
// example, and the tests compare what farhop makes of those with the truth.
//
// Everything here is invented: the disaster, the stations, the sites, the path
// losses. Only the shape of the land (distances) and of the ionosphere's day is
// taken from nature, coarsely.
package aysen

import (
	"time"

	"farhop/mesh"
)

// Scenario is the net as it truly is. The fields above the line in Station go
// into the plan; those below it are what nobody in the net knows.
type Scenario struct {
	Name     string
	Seed     uint64    // of everything drawn
	Start    time.Time // first slot of the log
	End      time.Time // start of the last slot of the log
	Channels []Channel
	Stations []Station // members, sorted by call
	Guests   []Station // heard, but not in the plan
	Aliases  []Alias
	Bulletin []Bulletin
	Traffic  []Traffic
	Ridge    Ridge
	Wander   Wander
	Evening  Disturbance
	Slots    mesh.Slots
}

// Channel is a frequency and the times of day (UTC) in which the net uses it.
type Channel struct {
	Name        string
	FrequencyHz uint32
	Windows     []string
	OffsetsHz   []int
	// GainDB is what all paths of the channel have in common: aerials, and the
	// noise of a quiet site. ScreenDBPerKM is what walls of rock around low
	// wires take from paths that leave at low angles, that is from long ones.
	GainDB, ScreenDBPerKM float64
}

// Station is a member of the net.
type Station struct {
	Call      string
	Site      string // what stands there, for the plan's comments
	Also      []string
	Locator   string
	PowerW    float64
	MaxPowerW float64 // what it could send with, 0 = no more
	Channels  []int   // indexes into Scenario.Channels in watch order
	OnAir     []string
	Watch     mesh.Watch
	Roles     []string
	Soundings []mesh.Sounding
	Supply    mesh.Supply

	SiteDB  float64 // what aerial and ground add to every path from and to it
	NoiseDB float64 // receiving noise above a quiet site
	Absent  []Spell // silent spells: neither sends nor listens
	Reduced []Spell // sends with half its planned power, and says so
}

// Spell is a stretch of time, From ≤ t < To.
type Spell struct{ From, To time.Time }

// Alias is a name under which a log knows a station for some time.
type Alias struct {
	Call, As string
	By       string // only in this receiver's reports, "" = in all
	Spell    Spell
}

// Bulletin is a daily message to everybody, sent outside the soundings.
type Bulletin struct {
	Call    string
	Channel int
	At      time.Duration // after 00:00 UTC
	Frames  int
}

// Traffic is one item of the plan's list.
type Traffic struct {
	ID, From, To string // To may be "every-member"
	Characters   int
	Text         string // in place of Characters
	Precedence   mesh.Precedence
	Ready        time.Time
	Deadline     time.Time
}

// Ridge parts the stations South from all others: every path across it loses
// LossDB (by channel), except to and from the station Pass, which stands in the
// gap, and whoever is set up beside it (Gap, nobody to begin with).
type Ridge struct {
	South  []string
	Pass   string
	Gap    []string
	LossDB []float64
}

// Wander is how a link's SNR strays from its mean: Ornstein–Uhlenbeck processes
// common to both directions of a pair, one that the whole net shares, and
// independent fading from slot to slot in each direction. All in dB.
type Wander struct {
	FastDB, SlowDB, NetDB, SlotDB float64
	Fast, Slow, Net               time.Duration // time constants
}

// Disturbance lowers every link at once, by DepthDB after an onset and until a
// recovery that each take Ramp.
type Disturbance struct {
	Spell   Spell
	Ramp    time.Duration
	DepthDB float64
}

// Indexes of the two channels.
const (
	Day = iota
	Night
)

// Planted names what the scenario hides for the planner to find.
type Planted struct {
	Weak      string   // its loss cuts the net at night
	CutOff    []string // those who then reach nobody else but each other
	Deaf      string
	Isolated  string
	DayOnly   []string
	LowSupply []string // small supply and low power
	Gateways  []string
}

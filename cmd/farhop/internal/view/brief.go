package view

import "time"

// Brief is the plan on paper: a page for the net and a sheet for each station,
// made to be used where no computer is.
type Brief struct {
	Head
	Exercise    bool            `json:"exercise"`
	Printed     *time.Time      `json:"printed"` // nil: to be filled in by hand
	Only        string          `json:"station"` // "" = the whole net
	Characters  int             `json:"characters"`
	Frames      int             `json:"frames"`
	DeadlineMin float64         `json:"deadline_minutes"`
	Stale       Stale           `json:"stale"` // of the net
	Slots       SlotScheme      `json:"slots"`
	Members     []BriefMember   `json:"members"`
	Channels    []BriefChannel  `json:"channels"`
	Weak        BriefWeakPoints `json:"weak_points"`
	Sheets      []Sheet         `json:"sheets"`
	Hand        Hand            `json:"by_hand"`
	Timetable   *Timetable      `json:"timetable"`
	Batteries   *Endurance      `json:"batteries"`
	Map         *Drawing        `json:"-"` // nil: no place is known
}

// Stale says until when the next hops of a plan may be trusted.
//
// A next hop counts as spent from the first quarter of an hour on at which its
// stations no longer share the channel (a window that is still to open doesn't count),
// at which too little is known of it for that hour, or at which a frame decodes there
// with less than half the chance it has when the plan begins. The plan is stale when
// half of the destinations that have a next hop have lost it so.
type Stale struct {
	At      *time.Time `json:"at"` // nil: not within Ahead, or there is no next hop
	Ahead   float64    `json:"looked_ahead_hours"`
	NextHop int        `json:"next_hops"` // destinations with a next hop
}

// SlotScheme is what an operator must know of the exchange.
type SlotScheme struct {
	Seconds      float64 `json:"slot_seconds"`
	KeyedSeconds float64 `json:"keyed_seconds"`
	Characters   int     `json:"characters"`
	Header       int     `json:"header_frames"`
	Ack          int     `json:"acknowledgment_frames"`
	Turnaround   int     `json:"turnaround_slots"`
	Rounds       int     `json:"rounds"`
	Block        int     `json:"block_frames"`
	Identify     float64 `json:"identify_seconds"` // a frame of identification for every so much sent; 0 = none
	HalfDecodeDB float64 `json:"half_decode_snr_db"`
}

// BriefMember is a row in the list of members.
type BriefMember struct {
	Call      string   `json:"call"`
	Licensed  string   `json:"licensed_call"`
	Locator   string   `json:"locator"`
	PowerW    float64  `json:"power_w"`
	Roles     []string `json:"roles"`
	Channels  []string `json:"channels"`
	OnAir     string   `json:"on_air"`
	Quiet     []string `json:"quiet"`      // UTC hours in which it does not transmit
	DutyLimit float64  `json:"duty_limit"` // share of the slots of an hour in which it may transmit, 1 = all
	State     string   `json:"state"`      // isolated, deaf, unheard, unknown, off the air, or ""
	Group     int      `json:"group"`      // of those that reach each other both ways, from 1; 0 = in none
}

// BriefChannel is a row of the channel table.
type BriefChannel struct {
	Name        string   `json:"name"`
	FrequencyHz uint32   `json:"frequency_hz"`
	Windows     []string `json:"windows"` // UTC
	OffsetsHz   []int    `json:"offsets_hz"`
	Members     int      `json:"members"`
	Messages    []string `json:"messages"`  // planned on it
	Soundings   int      `json:"soundings"` // schedules on it
}

// BriefWeakPoints is what would break the net at the moment.
type BriefWeakPoints struct {
	Groups   [][]string      `json:"groups"`
	Singles  []SingleStation `json:"single_stations"`
	Isolated []string        `json:"isolated"`
	Deaf     []string        `json:"deaf"`
	Unheard  []string        `json:"unheard"`
	Unknown  []string        `json:"unknown"`
	OffAir   []string        `json:"off_air"`
	Open     int             `json:"open_links"`
	Left     int             `json:"unknown_links"`
}

// Sheet is what one operator needs.
type Sheet struct {
	Member     BriefMember     `json:"member"`
	From       time.Time       `json:"from"`  // the moment the next hops hold for: when the station is next on the air
	Stale      Stale           `json:"stale"` // of the last plan
	Watch      []WatchSpan     `json:"watch"`
	Soundings  []BriefSounding `json:"soundings"`
	Plans      []SheetPlan     `json:"plans"`
	Neighbours []Neighbour     `json:"neighbours"` // heard, or hearing it, at some hour of the day that follows
	Silent     []string        `json:"silent"`     // known to be out of reach both ways at all those hours
	Unsure     []string        `json:"unsure"`     // of whom too little is known
	Map        *Drawing        `json:"-"`          // with the station's own links; nil: no place is known
	Hops       [][2]int        `json:"-"`          // its next hops, as indexes into the map's nodes
	Battery    *BatteryLimit   `json:"battery"`    // nil: no supply is stated
}

// SheetPlan is whom to send to from a time on.
type SheetPlan struct {
	From         time.Time     `json:"from"`
	Stale        Stale         `json:"stale"`
	Destinations []Destination `json:"destinations"`
}

// WatchSpan is a part of the day: what the station listens to from one second of
// the day to another (UTC; a whole day is 0 to 86400).
type WatchSpan struct {
	From     int      `json:"from_second"`
	To       int      `json:"to_second"`
	Channels []string `json:"channels"` // none: off the air
}

// BriefSounding is a schedule of soundings.
type BriefSounding struct {
	Channel      string `json:"channel"`
	EverySeconds int    `json:"every_seconds"`
	AfterSeconds int    `json:"after_seconds"` // 00:00 UTC and every period
}

// Destination is where a message may be bound for, and who takes it there.
type Destination struct {
	To              string     `json:"to"`
	Next            *string    `json:"next"` // nil = no known chain
	Channel         string     `json:"channel"`
	Chain           []string   `json:"chain"`
	Delivered       float64    `json:"delivered_by_deadline"`
	P80Minutes      *float64   `json:"p80_minutes"`
	GiveUpMinutes   *float64   `json:"give_up_minutes"` // after one's first frame: when 95 % of what ever gets to the next hop is there
	BackupNext      *string    `json:"backup_next"`
	BackupChannel   string     `json:"backup_channel"`
	BackupDelivered *float64   `json:"backup_delivered_by_deadline"`
	OnAirAt         *time.Time `json:"on_air_at"`  // it is off the air at the moment of the sheet until then
	Importance      int        `json:"importance"` // the higher, the earlier in a short sheet
}

// Neighbour is a member in earshot.
type Neighbour struct {
	Call  string  `json:"call"`
	Heard Earshot `json:"heard"` // the station hears it
	Hears Earshot `json:"hears"` // it hears the station
}

// Earshot is one direction of a link through a day.
type Earshot struct {
	SNRDB   *float64   `json:"snr_db"` // at the moment of the sheet, nil when not open or not known then
	SNRSDDB *float64   `json:"snr_sd_db"`
	Decode  *float64   `json:"decode"`
	Hours   []HourMark `json:"hours"` // the 24 hours from the full hour of the sheet's moment
}

// HourMark is what is known of one hour.
type HourMark struct {
	State  CellState `json:"state"` // CellNone: no shared watch; CellOpen: known
	Decode float64   `json:"decode"`
}

// BatteryLimit is what a battery allows.
type BatteryLimit struct {
	Station     StationBattery `json:"battery"`
	SpareWh     float64        `json:"spare_wh"`     // above the reserve when it is lowest
	SpareFrames int            `json:"spare_frames"` // that many more frames would use it up
}

// Hand is the table for choosing by hand: minutes until 8 of 10 messages are
// there over one hop.
type Hand struct {
	SDDB       float64      `json:"snr_sd_db"` // uncertainty counted in, that of a fresh report
	SNRDB      []int        `json:"snr_db"`    // rows, the best first
	Characters []int        `json:"characters"`
	Minutes    [][]*float64 `json:"p80_minutes"` // by row and column; nil: don't try
}

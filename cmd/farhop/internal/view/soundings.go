package view

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Soundings is who should sound, on which channel and when.
type Soundings struct {
	Head
	WithinDB          float64   `json:"within_db"`
	Until             time.Time `json:"until"`
	ListsEveryMinutes float64   `json:"lists_every_minutes"`
	GapMinutes        float64   `json:"gap_minutes"`
	Coordinator       string    `json:"coordinator"`
	SinglePoints      []string  `json:"single_points"` // stations whose links matter for that reason
	Sounded           []string  `json:"-"`             // stations that sound by the plan file

	Soundings       []Sounding `json:"soundings"`       // in the order in which they are made
	AirtimeSeconds  float64    `json:"airtime_seconds"` // soundings and lists together
	SoundingSeconds float64    `json:"sounding_seconds"`
	ListSeconds     float64    `json:"list_seconds"`

	Lists     []HeardList       `json:"lists"`
	Stations  []SoundingBurden  `json:"stations"`
	Links     []SoundedLink     `json:"links"`
	Planned   SoundingTally     `json:"planned"`   // all of Soundings
	Halved    SoundingTally     `json:"halved"`    // without every second one of each station
	Scheduled SoundingTally     `json:"scheduled"` // the soundings in the plan file in their place
	None      SoundingTally     `json:"none"`
	Looser    []LooserSoundings `json:"looser"` // what wider limits would take
}

// Sounding is one short transmission.
type Sounding struct {
	Station  string      `json:"station"`
	Channel  string      `json:"channel"`
	OffsetHz *int        `json:"offset_hz"`
	Start    time.Time   `json:"start"`
	ForLinks [][2]string `json:"for_links"` // sender and the receivers that should pass on what they heard
}

// HeardList is what a receiver passes on to the coordinator.
type HeardList struct {
	Receiver       string    `json:"receiver"`
	At             time.Time `json:"at"`
	Reports        float64   `json:"reports"` // expected
	Frames         int       `json:"frames"`
	Chain          []string  `json:"chain"`
	AirtimeSeconds float64   `json:"airtime_seconds"`
}

// SoundingBurden is what a station keys for the plan.
type SoundingBurden struct {
	Station         string   `json:"station"`
	Soundings       int      `json:"soundings"`
	SoundingSeconds float64  `json:"sounding_seconds"`
	ListSeconds     float64  `json:"list_seconds"` // its own lists and those it passes on
	EnergyWh        *float64 `json:"energy_wh"`
	BatteryShare    *float64 `json:"battery_share"` // of a full battery
}

// SoundedLink is a link that matters and what becomes of it.
type SoundedLink struct {
	From         string     `json:"from"`
	To           string     `json:"to"`
	Channel      string     `json:"channel"`
	Decode       float64    `json:"decode"`
	SNRSDDB      float64    `json:"snr_sd_db"` // when it first matters
	WorstSNRSDDB float64    `json:"worst_snr_sd_db"`
	WorstAt      time.Time  `json:"worst_at"`
	Within       bool       `json:"within"`
	WhyNot       string     `json:"why_not"`
	BestSNRSDDB  *float64   `json:"best_snr_sd_db"` // the best that soundings could do when it is above the limit
	WithinFrom   *time.Time `json:"within_from"`    // null: always or never
	AboveMinutes int        `json:"above_minutes"`
}

// SoundingTally is what a set of soundings costs and does, judged where the plan
// keeps within the limit.
type SoundingTally struct {
	Soundings       int        `json:"soundings"`
	SoundingSeconds float64    `json:"sounding_seconds"`
	ListSeconds     float64    `json:"list_seconds"`
	LargestSNRSDDB  float64    `json:"largest_snr_sd_db"`
	LargestOn       []string   `json:"largest_on"` // from, to, channel; empty when nothing is judged
	LargestAt       *time.Time `json:"largest_at"`
	LinksAbove      int        `json:"links_above"`
}

// LooserSoundings is what a wider limit would take.
type LooserSoundings struct {
	WithinDB        float64 `json:"within_db"`
	Soundings       int     `json:"soundings"`
	SoundingSeconds float64 `json:"sounding_seconds"`
	ListSeconds     float64 `json:"list_seconds"`
}

// Document tells the plan of soundings.
func (v *Soundings) Document() Document {
	d := v.open("Who should sound in " + v.Net + " until " + v.Clock.At(v.Until))
	d.Say(v.verdict())
	d.Add(v.timesTable())
	if len(v.Soundings) > 0 {
		d.Title("What it costs, and what less would lose")
		d.Add(v.costTable())
		d.Title("What each station spends")
		d.Add(v.burdenTable())
	}
	v.missed(&d)
	v.close(&d, v.notes()...)
	return d
}

func (v *Soundings) notes() []string {
	return []string{
		fmt.Sprintf("± is how far the SNR expected of a link may well be off (standard deviation, in dB). It grows as reports age. "+
			"A link matters when it is on the best or the backup chain between any two stations, or at a station whose loss cuts the net. "+
			"Judged every 15 minutes, while both ends listen; ABOVE counts links that rise over %s where this plan keeps them below it.", decibels(v.WithinDB)),
		fmt.Sprintf("LISTS: every %s each receiver passes on to %s which of these soundings it heard and how strongly, with what that is "+
			"expected to take in repeats and acknowledgments. %s knows no more than the last lists say.",
			span(v.ListsEveryMinutes*60), v.Coordinator, v.Coordinator),
		"Counted on: that stations keep the plan's hours and watches. Reports of other traffic come on top. Which slots messages need isn't known " +
			"here: a sounding gives way to a message.",
	}
}

func (v *Soundings) verdict() string {
	if len(v.Links) == 0 {
		return "No link of which more could be learnt matters here: nothing to sound for."
	}
	kept := v.kept()
	if len(v.Soundings) == 0 {
		return "No sounding is worth making. " + kept
	}
	return fmt.Sprintf("%s by %s: %s on the air. Passing on to %s what was heard: %s more.\n%s",
		Count(len(v.Soundings), "sounding", "soundings"), Count(v.sounders(), "station", "stations"),
		span(v.SoundingSeconds), v.Coordinator, span(v.ListSeconds), kept)
}

// kept says how many links stay within the limit.
func (v *Soundings) kept() string {
	always, later := 0, 0
	for i := range v.Links {
		switch l := &v.Links[i]; {
		case l.Within:
			always++
		case l.WithinFrom != nil:
			later++
		}
	}
	if always == len(v.Links) {
		return fmt.Sprintf("Every link that matters, %s in all, stays within %s.", Grouped(always), decibels(v.WithinDB))
	}
	text := fmt.Sprintf("Of %s %s within %s all the time", Count(len(v.Links), "link that matters", "links that matter"),
		Count(always, "stays", "stay"), decibels(v.WithinDB))
	if later > 0 {
		text += fmt.Sprintf(", %s only from a later time on", Grouped(later))
	}
	if never := len(v.Links) - always - later; never > 0 {
		text += fmt.Sprintf(", %s can't be kept", Grouped(never))
	}
	return text + ": see below."
}

func (v *Soundings) sounders() int {
	seen := map[string]bool{}
	for i := range v.Soundings {
		seen[v.Soundings[i].Station] = true
	}
	return len(seen)
}

// Records gives the soundings as rows.
func (v *Soundings) Records() ([]string, [][]string) {
	rows := make([][]string, 0, len(v.Soundings))
	for i := range v.Soundings {
		s := &v.Soundings[i]
		offset := ""
		if s.OffsetHz != nil {
			offset = strconv.Itoa(*s.OffsetHz)
		}
		var to []string
		for _, l := range s.ForLinks {
			to = append(to, l[1])
		}
		rows = append(rows, []string{s.Start.Format(time.RFC3339), s.Station, s.Channel, offset, strings.Join(to, " ")})
	}
	return []string{"start", "station", "channel", "offset_hz", "for_receivers"}, rows
}

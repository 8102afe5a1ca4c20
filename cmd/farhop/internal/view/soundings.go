package view

import (
	"fmt"
	"slices"
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

// timesTable has a row for each station and channel, with its times.
func (v *Soundings) timesTable() *Table {
	t := &Table{
		Columns: []Column{
			{Head: "STATION"},
			{Head: "ON", Name: "on"},
			{Head: "SOUNDS AT (UTC)", Name: "sounds at"},
		},
		Empty: "No soundings.",
	}
	var order [][2]string
	times := map[[2]string][]string{}
	for i := range v.Soundings {
		s := &v.Soundings[i]
		key := [2]string{s.Station, s.Channel}
		if times[key] == nil {
			order = append(order, key)
		}
		times[key] = append(times[key], v.slotTime(s))
	}
	sortStable(order, func(a, b *[2]string) bool { return a[0] < b[0] })
	for _, key := range order {
		t.Rows = append(t.Rows, []string{key[0], key[1], strings.Join(times[key], " ")})
	}
	return t
}

// slotTime tells a start, with its day when that isn't clear and the place in the
// audio where it isn't the channel's first.
func (v *Soundings) slotTime(s *Sounding) string {
	layout := "15:04"
	if s.Start.Second() != 0 {
		layout = "15:04:05"
	}
	text := s.Start.UTC().Format(layout)
	if s.Start.Sub(v.At) >= 24*time.Hour {
		text = s.Start.UTC().Format("Jan 2/") + text
	}
	if s.OffsetHz != nil && v.shared(s) {
		text += "/" + strconv.Itoa(*s.OffsetHz) + "Hz"
	}
	return text
}

// shared reports whether another station sounds in the same slot of the channel.
func (v *Soundings) shared(s *Sounding) bool {
	for i := range v.Soundings {
		o := &v.Soundings[i]
		if o.Station != s.Station && o.Channel == s.Channel && o.Start.Equal(s.Start) {
			return true
		}
	}
	return false
}

func (v *Soundings) costTable() *Table {
	t := &Table{Columns: []Column{
		{Head: ""},
		{Head: "SOUNDINGS", Right: true, Name: "soundings"},
		{Head: "AIRTIME", Right: true, Name: "airtime"},
		{Head: "LISTS", Right: true, Name: "lists"},
		{Head: "LARGEST ±", Right: true, Name: "largest deviation"},
		{Head: "ABOVE", Right: true, Name: "links above the limit"},
	}}
	for _, r := range []struct {
		name  string
		tally *SoundingTally
	}{
		{"this plan", &v.Planned},
		{"every second one", &v.Halved},
		{"plan file's own", &v.Scheduled},
		{"none", &v.None},
	} {
		y := r.tally
		t.Rows = append(t.Rows, []string{
			r.name, Grouped(y.Soundings), span(y.SoundingSeconds), span(y.ListSeconds), decibels(y.LargestSNRSDDB), Grouped(y.LinksAbove),
		})
	}
	for _, l := range v.Looser {
		t.Rows = append(t.Rows, []string{"to keep " + decibels(l.WithinDB), Grouped(l.Soundings), span(l.SoundingSeconds), span(l.ListSeconds), "", ""})
	}
	return t
}

func (v *Soundings) burdenTable() *Table {
	t := &Table{Columns: []Column{
		{Head: "STATION"},
		{Head: "SOUNDINGS", Right: true, Name: "soundings"},
		{Head: "AIRTIME", Right: true, Name: "airtime"},
		{Head: "LISTS", Right: true, Name: "lists"},
		{Head: "ENERGY", Right: true, Name: "energy"},
		{Head: "OF BATTERY", Right: true, Name: "share of a full battery"},
	}}
	for i := range v.Stations {
		s := &v.Stations[i]
		t.Rows = append(t.Rows, []string{
			s.Station, Grouped(s.Soundings), span(s.SoundingSeconds), span(s.ListSeconds),
			number(s.EnergyWh, func(f float64) string { return strconv.FormatFloat(f, 'f', 1, 64) + " Wh" }, "?"),
			number(s.BatteryShare, Percent, "?"),
		})
	}
	return t
}

// missed tells the links that aren't kept, a table for each reason, first those that
// aren't kept at all.
func (v *Soundings) missed(d *Document) {
	var reasons []string
	for _, later := range []bool{false, true} {
		for i := range v.Links {
			if l := &v.Links[i]; !l.Within && (l.WithinFrom != nil) == later && !slices.Contains(reasons, l.WhyNot) {
				reasons = append(reasons, l.WhyNot)
			}
		}
	}
	if reasons != nil {
		d.Title("What can't be kept within " + decibels(v.WithinDB) + " all the time")
	}
	for _, why := range reasons {
		d.Say(strings.ToUpper(why[:1]) + why[1:] + ":")
		d.Add(v.missedFor(why))
	}
}

// missedFor gathers the links of one reason by sender and by the time from which on
// they are kept.
func (v *Soundings) missedFor(why string) *Table {
	t := &Table{Columns: []Column{
		{Head: "FROM"},
		{Head: "ON", Name: "on"},
		{Head: "KEPT FROM", Name: "kept from"},
		{Head: "TO", Name: "to"},
	}}
	type key struct{ from, channel, since string }
	var order []key
	to := map[key][]string{}
	for i := range v.Links {
		l := &v.Links[i]
		if l.Within || l.WhyNot != why {
			continue
		}
		k := key{l.From, l.Channel, "never"}
		if l.WithinFrom != nil {
			k.since = v.Clock.Short(*l.WithinFrom)
		}
		if to[k] == nil {
			order = append(order, k)
		}
		to[k] = append(to[k], l.To)
	}
	for _, k := range order {
		t.Rows = append(t.Rows, []string{k.from, k.channel, k.since, strings.Join(to[k], " ")})
	}
	return t
}

// decibels writes a deviation.
func decibels(f float64) string { return strconv.FormatFloat(f, 'f', 1, 64) + " dB" }

// span tells a length of time in hours and minutes, short ones in seconds.
func span(seconds float64) string {
	s := int(seconds + 0.5)
	switch {
	case s < 100:
		return strconv.Itoa(s) + " s"
	case s < 6000:
		return strconv.Itoa((s+30)/60) + " min"
	}
	m := (s + 30) / 60
	if m%60 == 0 {
		return strconv.Itoa(m/60) + " h"
	}
	return fmt.Sprintf("%d h %02d min", m/60, m%60)
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

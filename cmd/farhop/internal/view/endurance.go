package view

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Endurance is the net's batteries under a timetable's traffic.
type Endurance struct {
	Head
	Exercise bool             `json:"exercise"`
	Start    time.Time        `json:"start"`
	End      time.Time        `json:"end"`
	Charge   float64          `json:"charge_at_start"` // share of each battery
	Usable   float64          `json:"usable"`          // share of the capacity left by cold and age
	Stations []StationBattery `json:"stations"`
	Without  []string         `json:"without_supply"` // stations that state none
	Costs    []MessageCost    `json:"messages"`       // dearest first
	Planned  int              `json:"messages_planned"`
	Listed   int              `json:"messages_listed"`
	Only     string           `json:"-"`
}

// StationBattery is one battery over the horizon.
type StationBattery struct {
	Call           string     `json:"call"`
	LowestCharge   float64    `json:"lowest_charge"` // share of the capacity
	LowestAt       time.Time  `json:"lowest_at"`
	HoursToReserve *float64   `json:"hours_to_reserve"` // nil: not within the horizon
	ReserveAt      *time.Time `json:"reserve_at"`
	EmptyAt        *time.Time `json:"empty_at"` // nil: not within the horizon
	Reserve        float64    `json:"reserve"`
	IdleHours      *float64   `json:"hours_to_reserve_without_traffic"`
	Cause          string     `json:"reserve_reached_by"` // message, "" = none or its receiver alone
	CapacityWh     float64    `json:"capacity_wh"`
	UsedWh         float64    `json:"used_wh"`
	ChargedWh      float64    `json:"charged_wh"`
	WastedWh       float64    `json:"wasted_wh"` // given while the battery was full
	ShortWh        float64    `json:"short_wh"`  // wanted while it was empty
	AirtimeSeconds float64    `json:"airtime_seconds"`
	ChargeAtEnd    float64    `json:"charge_at_end"`
	HourlyCharge   []float64  `json:"hourly_charge"` // share at the end of each hour
	ChargedEvenly  bool       `json:"charged_evenly"`
	// Nights are the spans of the horizon in which the sun is down there; none when
	// the place is not known.
	Nights []Span `json:"-"`
}

// Span is a stretch of time.
type Span struct{ From, To time.Time }

// MessageCost is what a message costs beyond listening.
type MessageCost struct {
	ID          string  `json:"id"`
	Wh          float64 `json:"wh"`
	Station     string  `json:"station"` // that pays most of its battery
	StationWh   float64 `json:"station_wh"`
	StationPart float64 `json:"station_share"`
}

// Document tells the batteries, lowest first.
func (v *Endurance) Document() Document {
	title := "Batteries of " + v.Net + ", " + v.Clock.At(v.Start) + " to " + v.Clock.Date(v.End)
	if v.Exercise {
		title = "EXERCISE - " + title
	}
	d := v.open(title)
	d.Say(v.Summary())
	if v.Only == "" {
		d.Add(v.table())
		v.sayCauses(&d)
		d.Title("Charge in per cent, every 3 hours")
		d.Add(v.course())
		d.Title("What the messages cost")
		d.Add(v.costTable())
	} else {
		d.Add(v.hourly())
	}
	if len(v.Without) > 0 {
		d.Say("No battery is stated for " + Names(v.Without) + ".")
	}
	v.close(&d, v.Notes()...)
	return d
}

// mostReserves is how many stations that reach their reserve are named in a sentence.
const mostReserves = 8

// Summary says whose reserve is reached and who runs flat, and when: of many, the first.
func (v *Endurance) Summary() string {
	s := fmt.Sprintf("With %d of %s planned: ", v.Planned, Count(v.Listed, "message", "messages"))
	reserves := v.moments(func(b *StationBattery) *time.Time { return b.ReserveAt })
	switch {
	case len(v.Stations) == 0:
		return s + "no station states a battery."
	case len(reserves) == 0:
		return s + "every battery stays above its reserve."
	}
	s += "the reserve is reached by " + Names(reserves) + "."
	if empty := v.moments(func(b *StationBattery) *time.Time { return b.EmptyAt }); len(empty) > 0 {
		s += " Flat: " + Names(empty) + "."
	}
	return s
}

// moments lists stations with the time at which something happens to their batteries,
// the first first; of many, the rest is counted.
func (v *Endurance) moments(of func(*StationBattery) *time.Time) (names []string) {
	var list []StationBattery
	for i := range v.Stations {
		if of(&v.Stations[i]) != nil {
			list = append(list, v.Stations[i])
		}
	}
	sortStable(list, func(a, b *StationBattery) bool { return of(a).Before(*of(b)) })
	for i := range list[:min(len(list), mostReserves)] {
		names = append(names, list[i].Call+" at "+v.Clock.Short(*of(&list[i])))
	}
	if more := len(list) - len(names); more > 0 {
		names = append(names, Count(more, "more station", "more stations"))
	}
	return names
}

// Sorted lists the batteries, the lowest first.
func (v *Endurance) Sorted() []StationBattery {
	list := append([]StationBattery(nil), v.Stations...)
	sortStable(list, func(a, b *StationBattery) bool { return a.LowestCharge < b.LowestCharge })
	return list
}

func (v *Endurance) table() *Table {
	t := &Table{
		Columns: []Column{
			{Head: "STATION"},
			{Head: "LOWEST %", Right: true, Name: "lowest charge in per cent"},
			{Head: "AT", Name: "at"},
			{Head: "RESERVE IN", Right: true, Name: "reserve in"},
			{Head: "USED Wh", Right: true, Name: "used Wh"},
			{Head: "CHARGED Wh", Right: true, Name: "charged Wh"},
			{Head: "KEYED", Right: true, Name: "keyed"},
		},
		Empty: "No station states a battery: give it a supply in the plan.",
	}
	for _, s := range v.Sorted() {
		in := "-"
		if s.HoursToReserve != nil {
			in = strconv.FormatFloat(*s.HoursToReserve, 'f', 1, 64) + " h"
		}
		t.Rows = append(t.Rows, []string{
			s.Call, Whole(100 * s.LowestCharge), v.Clock.Short(s.LowestAt), in, strconv.FormatFloat(s.UsedWh, 'f', 1, 64),
			strconv.FormatFloat(s.ChargedWh, 'f', 1, 64), Whole(s.AirtimeSeconds) + " s",
		})
	}
	return t
}

// sayCauses tells what takes batteries to their reserve: traffic, or listening alone.
func (v *Endurance) sayCauses(d *Document) {
	var idle []StationBattery
	for _, s := range v.Sorted() {
		switch {
		case s.HoursToReserve == nil:
		case s.IdleHours != nil:
			idle = append(idle, s)
		case s.Cause != "":
			d.Say(fmt.Sprintf("%s reaches its reserve of %s with message %s; without traffic it would not.", s.Call, Percent(s.Reserve), s.Cause))
		}
	}
	switch len(idle) {
	case 0:
	case 1:
		s := &idle[0]
		d.Say(fmt.Sprintf("%s would reach its reserve of %s without any traffic too, after %.1f h: shorten its hours on the air, or bring a battery.",
			s.Call, Percent(s.Reserve), *s.IdleHours))
	default:
		sortStable(idle, func(a, b *StationBattery) bool { return *a.IdleHours < *b.IdleHours })
		var names []string
		for i := range idle {
			names = append(names, fmt.Sprintf("%s after %.1f h", idle[i].Call, *idle[i].IdleHours))
		}
		d.Say("Without any traffic too these would reach their reserve: " + Names(names) + ". Shorten their hours on the air, or bring batteries.")
	}
}

func (v *Endurance) course() *Table {
	t := &Table{Columns: []Column{{Head: "STATION"}}, Empty: "No station states a battery."}
	hours := 0
	for i := range v.Stations {
		hours = max(hours, len(v.Stations[i].HourlyCharge))
	}
	step := max(3, 3*((hours+23)/24))
	for h := step; h <= hours; h += step {
		at := v.Start.Add(time.Duration(h) * time.Hour).UTC().Format("15:04Z")
		t.Columns = append(t.Columns, Column{Head: at, Right: true})
	}
	for _, s := range v.Sorted() {
		row := []string{s.Call}
		for h := step; h <= hours; h += step {
			row = append(row, Whole(100*s.HourlyCharge[h-1]))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func (v *Endurance) hourly() *Table {
	t := &Table{
		Columns: []Column{{Head: "AT"}, {Head: "CHARGE %", Right: true, Name: "charge in per cent"}, {Head: ""}},
		Empty:   v.Only + " states no battery.",
	}
	for i := range v.Stations {
		s := &v.Stations[i]
		if s.Call != v.Only {
			continue
		}
		for h, share := range s.HourlyCharge {
			mark := ""
			switch {
			case share <= 0:
				mark = "flat"
			case share <= s.Reserve:
				mark = "at or below the reserve"
			}
			at := v.Start.Add(time.Duration(h+1) * time.Hour)
			t.Rows = append(t.Rows, []string{v.Clock.At(at), Whole(100 * share), mark})
		}
	}
	return t
}

// mostCosts is how many messages text lists.
const mostCosts = 12

func (v *Endurance) costTable() *Table {
	t := &Table{
		Columns: []Column{
			{Head: "MESSAGE"},
			{Head: "Wh", Right: true, Name: "costs Wh"},
			{Head: "MOST TO", Name: "most to"},
			{Head: "ITS Wh", Right: true, Name: "Wh"},
			{Head: "OF ITS BATTERY", Right: true, Name: "of its battery"},
		},
		Empty: "No message is reserved, or no station that keys states a battery.",
	}
	for _, c := range v.Costs[:min(len(v.Costs), mostCosts)] {
		t.Rows = append(t.Rows, []string{
			c.ID, strconv.FormatFloat(c.Wh, 'f', 1, 64), c.Station, strconv.FormatFloat(c.StationWh, 'f', 1, 64), Percent(c.StationPart),
		})
	}
	return t
}

// Notes say what the figures rest on.
func (v *Endurance) Notes() []string {
	notes := []string{fmt.Sprintf(
		"Batteries begin at %s of a capacity of which %s is usable. LOWEST: share of that. Sending counts as often as is expected with fills and polls; "+
			"planned soundings are counted. Charging follows the sun's height, scaled to the daily energy the plan states; clouds are not known.",
		Percent(v.Charge), Percent(v.Usable))}
	var evenly []string
	for i := range v.Stations {
		if v.Stations[i].ChargedEvenly {
			evenly = append(evenly, v.Stations[i].Call)
		}
	}
	if evenly != nil {
		notes = append(notes, "Charged evenly round the clock, since no locator is known: "+strings.Join(evenly, ", ")+".")
	}
	return notes
}

// stamp is a time for a machine, empty for none.
func stamp(t *time.Time) string {
	if t == nil {
		return ""
	}
	return t.Format(time.RFC3339)
}

// Records gives the batteries as rows.
func (v *Endurance) Records() ([]string, [][]string) {
	names := []string{
		"call", "lowest_charge", "lowest_at", "hours_to_reserve", "used_wh", "charged_wh", "wasted_wh", "short_wh", "airtime_seconds", "charge_at_end", "empty_at",
	}
	var rows [][]string
	for i := range v.Stations {
		s := &v.Stations[i]
		rows = append(rows, []string{
			s.Call, exact(s.LowestCharge), s.LowestAt.Format(time.RFC3339), number(s.HoursToReserve, exact, ""), exact(s.UsedWh),
			exact(s.ChargedWh), exact(s.WastedWh), exact(s.ShortWh), exact(s.AirtimeSeconds), exact(s.ChargeAtEnd), stamp(s.EmptyAt),
		})
	}
	return names, rows
}

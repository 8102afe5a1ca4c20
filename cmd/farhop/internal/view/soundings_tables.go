package view

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

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

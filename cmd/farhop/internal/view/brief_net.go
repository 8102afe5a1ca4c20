package view

import (
	"fmt"
	"strconv"
	"strings"
)

// netDocument is the net's own pages.
func (v *Brief) netDocument() Document {
	var d Document
	d.Title("The net at the moment")
	if v.Compared != nil {
		d.Say(strings.TrimPrefix(v.Compared.said(), "\n"))
	}
	d.Say(v.sayWeak())
	d.Title("Channels")
	d.Add(v.channelTable())
	d.Title("Members")
	d.Add(v.memberTable())
	d.Title("Traffic")
	d.Say(v.Timetable.summary())
	d.Add(v.Timetable.messageTable())
	v.Timetable.sayUnfit(&d)
	d.Title("By slot")
	d.Add(v.Timetable.slotTable())
	d.Title("Batteries")
	d.Say(v.Batteries.Summary())
	d.Add(v.Batteries.table())
	v.Batteries.sayCauses(&d)
	d.Title("Remarks")
	var notes []string
	for _, w := range append(append([]Warning{}, v.Warnings...), v.Timetable.Warnings...) {
		notes = append(notes, w.Message)
	}
	d.Note(append(notes,
		"STALE AFTER: from then on half of the latest next hops share no channel any more, are no longer known for that hour, or decode half as often as when they begin.",
		"Batteries: clouds are not known. "+v.Timetable.Overrun,
		"A plan grants nobody a frequency, a power or a mode; tactical calls don't identify a station. Mind RF exposure near antennas; fuse batteries at the pack, keep lithium packs dry and undamaged.")...)
	return d
}

func (v *Brief) sayWeak() string {
	w := &v.Weak
	lines := []string{fmt.Sprintf("%s open, %s unknown, among %s.", Count(w.Open, "link is", "links are"), Grouped(w.Left), Count(len(v.Members), "member", "members"))}
	for i, g := range w.Groups {
		lines = append(lines, fmt.Sprintf("Group %d, each reaches each: %s.", i+1, Names(g)))
	}
	if len(w.Groups) == 0 {
		lines = append(lines, "No two members reach each other both ways.")
	}
	for i := range w.Singles {
		x := &w.Singles[i]
		line := fmt.Sprintf("Without %s %s all ways", x.Station, Count(x.PairsLost, "pair loses", "pairs lose"))
		if len(x.CutsOff) > 0 {
			line += "; it alone joins " + Names(x.CutsOff)
		}
		if !x.Certain {
			line += " (not sure)"
		}
		lines = append(lines, line+".")
	}
	if len(w.Singles) == 0 {
		lines = append(lines, "No single station's loss parts others.")
	}
	for _, x := range []struct {
		list []string
		what string
	}{
		{w.Isolated, "Isolated"}, {w.Deaf, "Deaf, but heard"}, {w.Unheard, "Unheard, but hears"}, {w.Unknown, "Unknown"}, {w.OffAir, "Off the air at this hour"},
	} {
		if len(x.list) > 0 {
			lines = append(lines, x.what+": "+Names(x.list)+".")
		}
	}
	return strings.Join(lines, "\n")
}

func (v *Brief) channelTable() *Table {
	t := &Table{
		Columns: []Column{
			{Head: "FUNCTION"},
			{Head: "CHANNEL", Name: "channel"},
			{Head: "kHz", Right: true, Name: "kHz"},
			{Head: "MODE", Name: "mode"},
			{Head: "WINDOWS, UTC", Name: "windows"},
			{Head: "REMARKS", Name: ""},
		},
	}
	for i := range v.Channels {
		c := &v.Channels[i]
		function := "watch"
		switch {
		case len(c.Messages) > 0:
			function = "traffic"
		case c.Soundings > 0:
			function = "sounding"
		}
		t.Rows = append(t.Rows, []string{
			function, c.Name, kilohertz(c.FrequencyHz), "text, " + strconv.FormatFloat(v.Slots.Seconds, 'f', -1, 64) + " s",
			strings.Join(c.Windows, ", "), v.channelRemarks(c),
		})
	}
	return t
}

func (v *Brief) channelRemarks(c *BriefChannel) string {
	var remarks []string
	if v.Clock.Zone != nil {
		remarks = append(remarks, strings.Join(v.localWindows(c.Windows), ", ")+" local")
	}
	remarks = append(remarks, Count(c.Members, "member", "members"))
	if len(c.OffsetsHz) > 0 {
		remarks = append(remarks, "side by side at "+hertz(c.OffsetsHz)+" Hz")
	}
	if len(c.Messages) > 0 {
		remarks = append(remarks, "for "+strings.Join(c.Messages, ", "))
	}
	if c.Soundings > 0 {
		remarks = append(remarks, Count(c.Soundings, "sounding schedule", "sounding schedules"))
	}
	return strings.Join(remarks, "; ")
}

// localWindows are windows in the zone.
func (v *Brief) localWindows(list []string) []string {
	local := make([]string, len(list))
	for i, w := range list {
		from, to, _ := strings.Cut(w, "-")
		local[i] = v.local(secondOf(from)) + "-" + v.local(secondOf(to))
	}
	return local
}

// windows are windows in UTC, with local time where a zone is set.
func (v *Brief) windows(list []string) []string {
	out := make([]string, len(list))
	for i, w := range list {
		out[i] = w + "Z"
		if v.Clock.Zone != nil {
			out[i] += " (" + v.localWindows(list[i : i+1])[0] + " local)"
		}
	}
	return out
}

// secondOf reads the clock times that plans are written with.
func secondOf(clock string) int {
	second, unit := 0, 3600
	for part := range strings.SplitSeq(clock, ":") {
		n, _ := strconv.Atoi(part)
		second += n * unit
		unit /= 60
	}
	return second
}

func (v *Brief) memberTable() *Table {
	t := &Table{
		Columns: []Column{
			{Head: "STATION"},
			{Head: "SIGN", Name: "sign"},
			{Head: "LICENSED", Name: "licensed call"},
			{Head: "LOCATOR", Name: "at"},
			{Head: "W", Right: true, Name: "watts"},
			{Head: "HOURS (UTC), CHANNELS, PART", Name: ""},
		},
	}
	signs := v.signs()
	for i := range v.Members {
		m := &v.Members[i]
		licensed := m.Licensed
		if licensed == "" {
			licensed = "________"
		}
		onAir := m.OnAir
		if onAir == "00:00-24:00" {
			onAir = "always"
		}
		notes := []string{onAir}
		if len(m.Channels) < len(v.Channels) {
			notes = append(notes, "only "+Names(m.Channels))
		}
		notes = append(notes, m.Roles...)
		switch {
		case m.State != "":
			notes = append(notes, m.State+" now")
		case m.Group > 0 && len(v.Weak.Groups) > 1:
			notes = append(notes, "group "+strconv.Itoa(m.Group))
		}
		t.Rows = append(t.Rows, []string{m.Call, signs[m.Call], licensed, m.Locator, strconv.FormatFloat(m.PowerW, 'f', -1, 64), strings.Join(notes, "; ")})
	}
	return t
}

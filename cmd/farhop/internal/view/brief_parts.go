package view

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// BriefPart is a run of pages that belong together: the net's, or a station's.
type BriefPart struct {
	Station  string   // "" = the net
	Name     string   // at the head of each of its pages
	Head     []string // what else stands there
	Alert    string   // EXERCISE, or nothing
	Document Document
	Map      *Drawing // nil: none
	Hops     [][2]int // next hops to be drawn on it
}

// Parts are the net's pages, unless one station's sheet was asked for, and the
// sheets.
func (v *Brief) Parts() []BriefPart {
	var parts []BriefPart
	if v.Only == "" {
		net := v.part("", v.Net, v.Stale, v.netDocument())
		net.Map = v.Map
		parts = append(parts, net)
	}
	for i := range v.Sheets {
		s := &v.Sheets[i]
		sheet := v.part(s.Member.Call, v.sheetName(s), s.Stale, v.sheetDocument(s))
		sheet.Map, sheet.Hops = s.Map, s.Hops
		parts = append(parts, sheet)
	}
	return parts
}

func (v *Brief) part(station, name string, stale Stale, d Document) BriefPart {
	p := BriefPart{Station: station, Name: name, Document: d}
	if v.Exercise {
		p.Alert = "EXERCISE EXERCISE EXERCISE"
	}
	p.Head = []string{v.moment(), stale.say(v.Clock)}
	if len(v.Assumed) > 0 {
		p.Head = append(p.Head, "Assumed, against the plan: "+strings.Join(v.Assumed, "; ")+".")
	}
	return p
}

// blank is room to write a call by hand.
const blank = "____________"

func (v *Brief) sheetName(s *Sheet) string {
	licensed := s.Member.Licensed
	if licensed == "" {
		licensed = blank
	}
	return s.Member.Call + ", licensed call " + licensed + ", " + v.Net
}

// moment says what the pages are for and when they were printed.
func (v *Brief) moment() string {
	s := "For " + v.Clock.Date(v.At)
	switch e := v.Evidence; {
	case e == nil:
		s += ", from the plan alone"
	case e.Newest == nil:
		s += ", no evidence"
	default:
		s += ", evidence up to " + v.Clock.At(*e.Newest)
	}
	if v.Printed == nil {
		return s + ", printed " + blank
	}
	return s + ", printed " + v.Clock.Date(*v.Printed)
}

func (s *Stale) say(c Clock) string {
	switch {
	case s.NextHop == 0:
		return "STALE NOW: no next hop is known. Collect reports and plan anew."
	case s.At == nil:
		return fmt.Sprintf("STALE AFTER more than %s h, as far as the plan and the evidence say.", Whole(s.Ahead))
	}
	return "STALE AFTER " + c.Date(*s.At) + ": ask for a new sheet before."
}

// Document tells all parts in a row, without pages.
func (v *Brief) Document() Document {
	var d Document
	for _, p := range v.Parts() {
		d.Title(strings.TrimPrefix(p.Alert+" - "+p.Name, " - "))
		d.Say(strings.Join(p.Head, "\n"))
		d.Blocks = append(d.Blocks, p.Document.Blocks...)
	}
	d.Note(v.Caution)
	return d
}

// local is a second of the UTC day in the zone, "" without one.
func (v *Brief) local(second int) string {
	if v.Clock.Zone == nil {
		return ""
	}
	return time.Unix(int64(second), 0).In(v.Clock.Zone).Format("15:04")
}

// clockTime is a second of the day as a clock shows it, 86400 as 24:00.
func clockTime(second int) string {
	s := fmt.Sprintf("%02d:%02d", second/3600, second/60%60)
	if second%60 != 0 {
		s += fmt.Sprintf(":%02d", second%60)
	}
	return s
}

// kilohertz writes a frequency as a dial shows it.
func kilohertz(hz uint32) string { return strconv.FormatFloat(float64(hz)/1000, 'f', -1, 64) }

// hertz lists audio offsets.
func hertz(offsets []int) string {
	list := make([]string, len(offsets))
	for i, hz := range offsets {
		list[i] = strconv.Itoa(hz)
	}
	return strings.Join(list, ", ")
}

package view

import (
	"fmt"
	"slices"
	"strings"
)

// NetDay is how the net holds together through a day, as a picture: groups, single
// points of failure, who is alone, the worst reach.
type NetDay struct {
	Head
	Stations  int     `json:"stations"`
	Threshold float64 `json:"open_threshold"`
	TwoWay    bool    `json:"two_way"`
	Hours     []Hour  `json:"hours"`            // the moment, and the hours that follow
	Before    []Hour  `json:"before,omitempty"` // without what was assumed
}

// LaneState is what a station is at an hour, where that is told station by station.
type LaneState uint8

// States of a station at an hour.
const (
	LaneNone     LaneState = iota // nothing to tell: in a group, or no single point
	LaneOffAir                    // off the air by the plan
	LaneCertain                   // its loss cuts others off, at whatever threshold
	LaneSingle                    // its loss cuts others off at the threshold asked for
	LaneOneWay                    // in no group: deaf, unheard, or joined one way only
	LaneIsolated                  // hears nobody, heard by nobody
	LaneUnknown                   // too little evidence either way
)

// Lane is one station through the hours.
type Lane struct {
	Call   string
	States []LaneState
	Lost   []int // ordered pairs lost with it, by hour
	hours  int   // in which there is something to tell
}

// Count is the number of hours in which there is something to tell of the station.
func (l *Lane) Count() int { return l.hours }

// Singles are the stations that are a single point of failure at some hour, those
// that are so most often first.
func (v *NetDay) Singles() []Lane {
	return v.lanes(func(h *Hour, take func(call string, state LaneState, lost int)) {
		for _, x := range h.SinglePoints {
			state := LaneSingle
			if x.Certain {
				state = LaneCertain
			}
			take(x.Station, state, x.PairsLost)
		}
	})
}

// Alone are the stations that at some hour are on the air but in no group, those
// that are so most often first.
func (v *NetDay) Alone() []Lane {
	return v.lanes(func(h *Hour, take func(call string, state LaneState, lost int)) {
		for _, call := range h.Alone {
			state := LaneOneWay
			switch {
			case slices.Contains(h.Unknown, call):
				state = LaneUnknown
			case slices.Contains(h.Isolated, call):
				state = LaneIsolated
			}
			take(call, state, 0)
		}
	})
}

// lanes gathers what each hour tells of stations.
func (v *NetDay) lanes(tell func(h *Hour, take func(call string, state LaneState, lost int))) []Lane {
	var list []Lane
	at := map[string]int{}
	for k := range v.Hours {
		tell(&v.Hours[k], func(call string, state LaneState, lost int) {
			i, ok := at[call]
			if !ok {
				i = len(list)
				at[call] = i
				list = append(list, Lane{Call: call, States: make([]LaneState, len(v.Hours)), Lost: make([]int, len(v.Hours))})
			}
			list[i].States[k], list[i].Lost[k] = state, lost
			list[i].hours++
		})
	}
	for k := range v.Hours {
		for _, call := range v.Hours[k].OffAir {
			if i, ok := at[call]; ok {
				list[i].States[k] = LaneOffAir
			}
		}
	}
	sortStable(list, func(a, b *Lane) bool {
		if a.hours != b.hours {
			return a.hours > b.hours
		}
		return a.Call < b.Call
	})
	return list
}

// Summary tells the day in a few sentences.
func (v *NetDay) Summary() []string {
	lines := []string{hoursVerdict(v.Hours, v.Clock)}
	if singles := v.Singles(); len(singles) > 0 {
		lines = append(lines, "Single points of failure: "+v.often(singles)+".")
	} else {
		lines = append(lines, "No single station's loss cuts others off at any of these hours.")
	}
	if alone := v.Alone(); len(alone) > 0 {
		lines = append(lines, "On the air but in no group: "+v.often(alone)+".")
	}
	if w := v.worst(); w != nil {
		lines = append(lines, fmt.Sprintf("Least reach of a pair that has a chain: %s, %s%s%s at %s.",
			DrawnPercents(*w.WorstReach)+" %", w.WorstPair[0], Arrow, w.WorstPair[1], v.Clock.At(w.At)))
	}
	return lines
}

// oftenNamed is how many stations are named one by one.
const oftenNamed = 6

// often names stations with their number of hours.
func (v *NetDay) often(lanes []Lane) string {
	var names []string
	for i := range lanes {
		if i == oftenNamed && len(lanes) > oftenNamed+1 {
			names = append(names, Count(len(lanes)-i, "more", "more"))
			break
		}
		hours := fmt.Sprintf("%d h", lanes[i].hours)
		if lanes[i].hours == len(v.Hours) {
			hours = "every hour"
		}
		names = append(names, lanes[i].Call+" ("+hours+")")
	}
	return Names(names)
}

// worst is the hour with the least reach, nil when no pair has any.
func (v *NetDay) worst() (worst *Hour) {
	for k := range v.Hours {
		h := &v.Hours[k]
		if h.WorstReach != nil && h.WorstPair != nil && (worst == nil || *h.WorstReach < *worst.WorstReach) {
			worst = h
		}
	}
	return worst
}

// Compared tells the day without what was assumed, and with it; nothing when nothing
// was.
func (v *NetDay) Compared() []string {
	if v.Before == nil {
		return nil
	}
	before := NetDay{Head: v.Head, Hours: v.Before}
	return []string{
		"Without the assumptions: " + strings.Join(before.Summary()[:2], " "),
		"With them: " + strings.Join(v.Summary()[:2], " "),
	}
}

// Document tells the hours as a table, and who is where when the net is in parts.
func (v *NetDay) Document() Document {
	d := v.open("The net's day: whole or in parts, hour by hour")
	d.Say(strings.Join(append(v.Summary(), v.Compared()...), "\n"))
	d.Add(hoursTable(v.Hours))
	if t := v.partsTable(); len(t.Rows) > 0 {
		d.Title("Who is not in the largest group")
		d.Add(t)
	}
	v.close(&d, append([]string{hoursNote}, v.LeftOut()...)...)
	return d
}

// partsTable names, hour by hour, who stands apart; equal hours in a row share one.
func (v *NetDay) partsTable() *Table {
	t := &Table{Columns: []Column{{Head: "UTC"}, {Head: "APART", Name: "apart"}}}
	last := ""
	for k := range v.Hours {
		h := &v.Hours[k]
		var parts []string
		for i := 1; i < len(h.Members); i++ {
			parts = append(parts, "group of "+strings.Join(h.Members[i], " "))
		}
		if len(h.Alone) > 0 {
			parts = append(parts, "alone "+strings.Join(h.Alone, " "))
		}
		text := strings.Join(parts, "; ")
		switch at := h.At.UTC().Format("15:04Z"); {
		case text == "":
		case text == last:
			row := t.Rows[len(t.Rows)-1]
			row[0] = row[0][:6] + "-" + at
		default:
			t.Rows = append(t.Rows, []string{at, text})
		}
		last = text
	}
	return t
}

// LeftOut says what doesn't count.
func (v *NetDay) LeftOut() []string {
	both := ""
	if v.TwoWay {
		both = " and its answer with 20 % or more"
	}
	return []string{fmt.Sprintf("A link counts as open when a frame decodes with %s or more%s; unknown ones don't count.", Percent(v.Threshold), both)}
}

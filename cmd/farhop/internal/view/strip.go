package view

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Strip is how the hops of a chain decode through a day, and the direct link beside
// them.
type Strip struct {
	Head
	From      string      `json:"from"`
	To        string      `json:"to"`
	Chain     []string    `json:"chain"` // the best chain now; none when none is known
	ChainText string      `json:"-"`     // how good it is, in words
	Threshold float64     `json:"open_threshold"`
	Hours     []time.Time `json:"hours"` // the moment, and the hours that follow
	Hops      []StripHop  `json:"hops"`
}

// StripHop is a hop through the day, on the channel that is best for it at each hour.
type StripHop struct {
	From    string      `json:"from"`
	To      string      `json:"to"`
	OnChain bool        `json:"on_chain"` // false: the direct link beside it
	Hours   []StripHour `json:"hours"`
}

// StripHour is one hour of a hop: the way there, and the answer's way back.
type StripHour struct {
	Channel string   `json:"channel"` // "" when none is in use
	There   StripWay `json:"there"`
	Back    StripWay `json:"back"`
}

// StripWay is one direction at one hour.
type StripWay struct {
	State  StripState `json:"state"`
	Decode *float64   `json:"decode"` // nil when it is not known or not in use
}

// StripState says what is known of an hour.
type StripState string

// States of an hour.
const (
	StripOpen    StripState = "open"          // decodes with the threshold or better
	StripClosed  StripState = "closed"        // known, below the threshold
	StripUnknown StripState = "unknown"       // too little evidence for that hour
	StripAbsent  StripState = "no link"       // the plan states none
	StripWindow  StripState = "out of window" // the net uses no channel of theirs then
	StripOffAir  StripState = "off the air"   // one end is, by the plan
	StripWatch   StripState = "apart"         // they watch different channels then
)

// Document tells the hours as a table, three columns a hop.
func (v *Strip) Document() Document {
	d := v.open("The day of " + v.From + Arrow + v.To)
	d.Say(v.Summary())
	names := &Table{
		Columns: []Column{{Head: "NO", Right: true}, {Head: "FROM", Name: "from"}, {Head: "TO", Name: "to"}, {Head: "", Name: ""}},
		Empty:   "There is no hop to show.",
	}
	t := &Table{Columns: []Column{{Head: "UTC"}}}
	for i := range v.Hops {
		no := strconv.Itoa(i + 1)
		note := "hop of the chain"
		if !v.Hops[i].OnChain {
			note = "direct"
		}
		names.Rows = append(names.Rows, []string{no, v.Hops[i].From, v.Hops[i].To, note})
		t.Columns = append(t.Columns, Column{Head: no + " ON", Name: "no " + no + " on"}, Column{Head: "THERE", Right: true, Chance: true, Name: "there"},
			Column{Head: "BACK", Right: true, Chance: true, Name: "back"})
	}
	for k, at := range v.Hours {
		row := []string{at.UTC().Format("15:04Z")}
		for i := range v.Hops {
			h := &v.Hops[i].Hours[k]
			row = append(row, h.Channel, h.There.short(), h.Back.short())
		}
		t.Rows = append(t.Rows, row)
	}
	d.Add(names)
	d.Title("Chance in per cent that a frame decodes, by the hour")
	d.Add(t)
	v.close(&d, "?: unknown, too little evidence for that hour. none: the plan states no such link. shut: no channel of theirs is in its window. "+
		"off: one end is off the air by the plan. apart: they watch different channels then. BACK: the answer's way.")
	return d
}

// Summary tells the chain, and in how many hours all of it is open.
func (v *Strip) Summary() string {
	if len(v.Chain) == 0 {
		return "No chain is known now: the direct link alone."
	}
	return fmt.Sprintf("Best chain now: %s, %s. All of it is known to be open, there and back, at %d of %d hours.",
		strings.Join(v.Chain, Arrow), v.ChainText, v.openHours(), len(v.Hours))
}

// openHours is at how many hours the whole chain is.
func (v *Strip) openHours() (hours int) {
	for k := range v.Hours {
		if v.openAt(k) {
			hours++
		}
	}
	return hours
}

func (v *Strip) openAt(hour int) bool {
	for i := range v.Hops {
		h := &v.Hops[i]
		if h.OnChain && (h.Hours[hour].There.State != StripOpen || h.Hours[hour].Back.State != StripOpen) {
			return false
		}
	}
	return true
}

func (w *StripWay) short() string {
	switch w.State {
	case StripOpen, StripClosed:
		return number(w.Decode, Percents, "?")
	case StripUnknown:
		return "?"
	case StripAbsent:
		return "none"
	case StripWindow:
		return "shut"
	case StripWatch:
		return "apart"
	}
	return "off"
}

// Records gives an hour of a hop a row.
func (v *Strip) Records() ([]string, [][]string) {
	names := []string{"from", "to", "at", "channel", "state", "decode", "back_state", "back_decode"}
	var rows [][]string
	for i := range v.Hops {
		for k := range v.Hops[i].Hours {
			h := &v.Hops[i].Hours[k]
			rows = append(rows, []string{
				v.Hops[i].From, v.Hops[i].To, v.Hours[k].Format(time.RFC3339), h.Channel,
				string(h.There.State), number(h.There.Decode, exact, ""), string(h.Back.State), number(h.Back.Decode, exact, ""),
			})
		}
	}
	return names, rows
}

package view

import (
	"fmt"
	"strconv"
	"strings"
)

// Document tells what the picture shows.
func (v *Drawing) Document() Document {
	d := v.open("The net in words: stations and open links")
	d.Say(strings.Join(v.Summary(), "\n"))
	d.Add(v.stationTable())
	d.Add(v.linkTable())
	v.close(&d, v.LeftOut()...)
	return d
}

// Summary tells the gist of the picture in a few sentences.
func (v *Drawing) Summary() []string {
	lines := []string{fmt.Sprintf("%s, %s on which a frame decodes with %s or more.", Count(len(v.Nodes), "station", "stations"),
		Count(len(v.Edges), "pair with an open link", "pairs with an open link"), Percent(v.Threshold))}
	for i, g := range v.Groups {
		if len(g) > 1 {
			lines = append(lines, fmt.Sprintf("Group %d, %d stations that reach each other both ways: %s.", i+1, len(g), Names(v.calls(g))))
		}
	}
	if single := v.which(func(n *Node) bool { return n.Single }); single != nil {
		lines = append(lines, "Loss cuts others off: "+Names(single)+".")
	} else {
		lines = append(lines, "No single station's loss cuts others off.")
	}
	for _, note := range []string{"isolated", "unknown", "deaf", "unheard", "off the air"} {
		if some := v.which(func(n *Node) bool { return n.Note == note }); some != nil {
			lines = append(lines, strings.ToUpper(note[:1])+note[1:]+": "+Names(some)+".")
		}
	}
	if c := v.Chain; c != nil {
		lines = append(lines, "Chain "+strings.Join(v.calls(c.Stations), Arrow)+": "+c.Text+".")
	}
	return lines
}

// LeftOut says what the picture leaves out; a matrix leaves out nothing.
func (v *Drawing) LeftOut() []string {
	if v.View == MatrixView {
		return []string{Count(v.UnknownDirections, "direction is", "directions are") + " unknown."}
	}
	left := "Left out: links below " + Percent(v.Threshold)
	if v.UnknownDirections > 0 {
		left += ", and " + Count(v.UnknownDirections, "unknown direction", "unknown directions")
	}
	notes := []string{left + "."}
	if calls := v.Unplaced(); len(calls) > 0 && v.View == MapView {
		notes = append(notes, "Without a locator, so not on the map: "+Names(calls)+".")
	}
	return notes
}

func (v *Drawing) calls(indexes []int) []string {
	out := make([]string, len(indexes))
	for i, k := range indexes {
		out[i] = v.Nodes[k].Call
	}
	return out
}

func (v *Drawing) which(is func(*Node) bool) (calls []string) {
	for i := range v.Nodes {
		if is(&v.Nodes[i]) {
			calls = append(calls, v.Nodes[i].Call)
		}
	}
	return calls
}

func (v *Drawing) stationTable() *Table {
	t := &Table{Columns: []Column{
		{Head: "STATION"}, {Head: "GROUP", Right: true, Name: "group"}, {Head: "LOCATOR", Name: "locator"},
	}}
	if v.Centre >= 0 {
		t.Columns = append(t.Columns, Column{Head: "KM", Right: true, Name: "km"}, Column{Head: "BEARING", Right: true, Name: "bearing"})
	}
	t.Columns = append(t.Columns, Column{Head: "NOTE", Name: "note"})
	group := v.GroupOf()
	for i := range v.Nodes {
		n := &v.Nodes[i]
		row := []string{n.Call, "", n.Locator}
		if group[i] > 0 {
			row[1] = strconv.Itoa(group[i])
		}
		if v.Centre >= 0 {
			km, bearing := "", ""
			if n.Placed() && i != v.Centre {
				km, bearing = Whole(n.KM), Whole(n.Bearing)+"°"
			}
			row = append(row, km, bearing)
		}
		note := n.Note
		if n.Single {
			note = strings.TrimPrefix(note+", its loss cuts others off", ", ")
		}
		t.Rows = append(t.Rows, append(row, note))
	}
	return t
}

func (v *Drawing) linkTable() *Table {
	t := &Table{Columns: []Column{
		{Head: "FROM"},
		{Head: "TO", Name: "to"},
		{Head: "DECODES", Right: true, Chance: true, Name: "decodes"},
		{Head: "BACK", Right: true, Chance: true, Name: "back"},
		{Head: "ON", Name: "on"},
		{Head: "KM", Right: true, Name: "km"},
		{Head: "NOTE", Name: "note"},
	}, Empty: "No link is known to be open."}
	for i := range v.Edges {
		e := &v.Edges[i]
		back, km := "-", ""
		if e.Both {
			back = Percent(e.Back)
		}
		if e.KM > 0 {
			km = Whole(e.KM)
		}
		t.Rows = append(t.Rows, []string{
			v.Nodes[e.From].Call, v.Nodes[e.To].Call, Percent(e.There), back, e.Channels, km, e.note(),
		})
	}
	return t
}

// note names what is doubtful about a link.
func (e *DrawnLink) note() string {
	var notes []string
	for _, n := range []struct {
		is   bool
		text string
	}{{e.Stale, "stale"}, {e.Inferred, "inferred"}, {e.Guessed, "guessed"}, {e.Stated, "stated"}} {
		if n.is {
			notes = append(notes, n.text)
		}
	}
	return strings.Join(notes, ", ")
}

package view

import (
	"fmt"
	"strconv"
	"strings"
)

// Compared is an answer in short, without and with what was assumed against the plan.
type Compared struct {
	Without string `json:"without"`
	With    string `json:"with"`
}

// Comparing is an answer that can be set beside the same one without what was
// assumed. Route, Resilience and NetDay compare in ways of their own.
type Comparing interface {
	InShort() string // sentences
	Compare(without, with string)
}

// Compare notes the answer in short without and with what was assumed.
func (h *Head) Compare(without, with string) { h.Compared = &Compared{without, with} }

// said is the comparison in lines, nothing when there is none.
func (c *Compared) said() string {
	if c == nil {
		return ""
	}
	return "\nWithout the assumptions: " + c.Without + "\nWith them: " + c.With
}

// oneLine joins the lines of a text.
func oneLine(text string) string { return strings.ReplaceAll(text, "\n", " ") }

// halfDecodes is from where on a link counts as open in the short form of the links.
const halfDecodes = 0.5

// InShort counts the links.
func (v *Links) InShort() string {
	known, open := 0, 0
	for i := range v.Links {
		l := &v.Links[i]
		if l.Known || l.Fixed {
			known++
			if l.InWindow && l.Decode >= halfDecodes {
				open++
			}
		}
	}
	return fmt.Sprintf("%s known, %s open now (a frame decodes with %s or more).",
		Count(known, "direction", "directions"), Grouped(open), Percent(halfDecodes))
}

// InShort counts whom the station likely reaches, or how many pairs likely reach each
// other.
func (v *Reach) InShort() string {
	if v.Station != "" {
		first, _, _ := strings.Cut(v.summary(), "\n")
		return first
	}
	likely := 0
	for i := range v.Rows {
		if v.Rows[i].DeliveredByDeadline >= 0.8 {
			likely++
		}
	}
	return fmt.Sprintf("Likely (8 in 10 or better): %s of %s.", Grouped(likely), Count(len(v.Rows), "ordered pair", "ordered pairs"))
}

// InShort tells what fits.
func (v *Timetable) InShort() string { return oneLine(v.summary()) }

// InShort tells whose reserve is reached, and the lowest battery.
func (v *Endurance) InShort() string {
	text := oneLine(v.Summary())
	if list := v.Sorted(); len(list) > 0 {
		text += fmt.Sprintf(" The lowest: %s, %s %% at %s.", list[0].Call, Whole(100*list[0].LowestCharge), v.Clock.Short(list[0].LowestAt))
	}
	return text
}

// InShort tells what the plan takes and does.
func (v *Soundings) InShort() string {
	return strings.Replace(oneLine(v.verdict()), ": see below.", ".", 1)
}

// InShort tells the first chain and the chance computed for it.
func (v *Simulation) InShort() string {
	if len(v.Chains) == 0 {
		return "no chain."
	}
	c := &v.Chains[0]
	text := strings.Join(c.Stations, Arrow)
	if len(c.Figures) > 0 {
		row := c.Figures[0].row()
		text += fmt.Sprintf(", %s %s computed, %s played", row[0], row[1], row[2])
	}
	return text + "."
}

// InShort tells groups and single points of failure.
func (v *Drawing) InShort() string {
	w := Wholeness{Groups: len(v.Groups), SingleStations: v.which(func(n *Node) bool { return n.Single })}
	for _, g := range v.Groups {
		w.LargestGroup = max(w.LargestGroup, len(g))
	}
	return fmt.Sprintf("%s, the largest of %s; %s; single points of failure: %s.", Count(w.Groups, "group", "groups"), strconv.Itoa(w.LargestGroup),
		Count(len(v.Edges), "pair with an open link", "pairs with an open link"), Names(w.SingleStations))
}

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
// assumed. Route, Resilience, NetDay and Brief compare in ways of their own.
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
		if v.Rows[i].DeliveredByDeadline >= likelyFrom {
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
	return fmt.Sprintf("%s; %s; single points of failure: %s.", groupsInShort(v.Groups),
		Count(len(v.Edges), "pair with an open link", "pairs with an open link"), Names(v.which(func(n *Node) bool { return n.Single })))
}

func groupsInShort[T any](groups [][]T) string {
	if len(groups) == 0 {
		return "no group"
	}
	largest := 0
	for _, g := range groups {
		largest = max(largest, len(g))
	}
	return Count(len(groups), "group", "groups") + ", the largest of " + strconv.Itoa(largest)
}

// InShort tells the best chain, and in how many hours it is open.
func (v *Strip) InShort() string {
	if len(v.Chain) == 0 {
		return "no chain is known now."
	}
	return fmt.Sprintf("%s, %s; known to be open at %d of %d hours.", strings.Join(v.Chain, Arrow), v.ChainText, v.openHours(), len(v.Hours))
}

// NetInShort tells groups, weak points, and the traffic that fits.
func (v *Brief) NetInShort() string {
	w, singles := &v.Weak, make([]string, len(v.Weak.Singles))
	for i := range w.Singles {
		singles[i] = w.Singles[i].Station
	}
	return fmt.Sprintf("%s; %s; single points of failure: %s; isolated: %s. %s", groupsInShort(w.Groups), Count(w.Open, "link open", "links open"),
		Names(singles), Names(w.Isolated), v.Timetable.InShort())
}

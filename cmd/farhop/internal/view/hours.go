package view

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Hour is how the net holds together at one hour. Stations off the air by the plan
// don't count in groups.
type Hour struct {
	At             time.Time    `json:"at"`
	OnAir          int          `json:"on_air"`
	OffAir         []string     `json:"off_air"`
	OpenLinks      int          `json:"open_links"`
	KnownLinks     int          `json:"known_links"`
	UnknownLinks   int          `json:"unknown_links"`
	Groups         int          `json:"groups"` // of two stations or more
	LargestGroup   int          `json:"largest_group"`
	Members        [][]string   `json:"members"` // of these groups, the largest first
	Alone          []string     `json:"alone"`   // on the air, in no group with another
	Isolated       []string     `json:"isolated"`
	Unknown        []string     `json:"unknown"` // on the air, and no known link either way
	SingleStations []string     `json:"single_stations"`
	SinglePoints   []HourSingle `json:"single_points"` // the same with what they cost
	PairsLost      int          `json:"pairs_lost"`    // by the worst of them
	WorstReach     *float64     `json:"worst_reach"`
	WorstPair      *[2]string   `json:"worst_pair"`
}

// HourSingle is a station whose loss at an hour cuts others off.
type HourSingle struct {
	Station   string `json:"station"`
	PairsLost int    `json:"pairs_lost"`
	Certain   bool   `json:"certain"`
}

// whole reports whether all stations on the air are in one group.
func (h *Hour) whole() bool { return h.OnAir > 0 && h.LargestGroup == h.OnAir }

func (v *Resilience) hours(d *Document) {
	if len(v.Hours) == 0 {
		return
	}
	d.Title("Through the next " + strconv.Itoa(len(v.Hours)) + " hours")
	d.Say(hoursVerdict(v.Hours, v.Clock))
	d.Add(hoursTable(v.Hours))
}

func hoursTable(hours []Hour) *Table {
	t := &Table{Columns: []Column{
		{Head: "UTC"},
		{Head: "ON AIR", Right: true, Name: "on the air"},
		{Head: "GROUPS", Right: true, Name: "groups"},
		{Head: "LARGEST", Right: true, Name: "largest"},
		{Head: "ALONE", Right: true, Name: "alone"},
		{Head: "OPEN", Right: true, Name: "directions open"},
		{Head: "UNKNOWN", Right: true, Name: "unknown"},
		{Head: "WORST %", Right: true, Chance: true, Name: "worst reach in per cent"},
		{Head: "SINGLE POINTS", Name: "single points of failure"},
	}}
	for i := range hours {
		h := &hours[i]
		t.Rows = append(t.Rows, []string{
			h.At.UTC().Format("15:04Z"), strconv.Itoa(h.OnAir), strconv.Itoa(h.Groups), strconv.Itoa(h.LargestGroup),
			strconv.Itoa(len(h.Alone)), strconv.Itoa(h.OpenLinks), strconv.Itoa(h.UnknownLinks),
			number(h.WorstReach, DrawnPercents, "-"), strings.Join(h.SingleStations, " "),
		})
	}
	return t
}

// hoursVerdict says at how many hours the net is whole, and when it is most parted.
func hoursVerdict(hours []Hour, clock Clock) string {
	if len(hours) == 0 {
		return "No hour was looked at."
	}
	whole, worst := 0, &hours[0]
	for i := range hours {
		h := &hours[i]
		if h.whole() {
			whole++
		}
		if h.OnAir-h.LargestGroup > worst.OnAir-worst.LargestGroup {
			worst = h
		}
	}
	if whole == len(hours) {
		return "All that are on the air are in one group at every hour."
	}
	often := fmt.Sprintf("All that are on the air are in one group at %d of %d hours", whole, len(hours))
	if whole == 0 {
		often = "At no hour are all that are on the air in one group"
	}
	return fmt.Sprintf("%s. Most parted at %s: %d of %d in the largest group.",
		often, clock.At(worst.At), worst.LargestGroup, worst.OnAir)
}

func (v *Resilience) hoursNotes() []string {
	if len(v.Hours) == 0 {
		return nil
	}
	return []string{hoursNote}
}

// hoursNote explains the columns of the hours.
const hoursNote = "By the hour: GROUPS of two or more; ALONE: on the air, but in no group; OPEN and UNKNOWN: directions; " +
	"WORST %: the least reach of a pair that has a chain (sampled, within 2 points), a dash where no pair has one. Unknown links are not counted as open."

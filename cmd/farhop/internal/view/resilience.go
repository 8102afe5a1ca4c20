package view

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Resilience is what would break the net.
type Resilience struct {
	Head
	OpenThreshold  float64         `json:"open_threshold"`
	TwoWay         bool            `json:"two_way"`
	Stations       int             `json:"stations"`
	OpenLinks      int             `json:"open_links"`
	JoinedPairs    int             `json:"joined_pairs"` // ordered pairs with a chain of open links
	UnknownLinks   int             `json:"unknown_links"`
	UnknownUsed    bool            `json:"unknown_used"` // they count all the same
	Isolated       []string        `json:"isolated"`
	Deaf           []string        `json:"deaf"`
	Unheard        []string        `json:"unheard"`
	Unknown        []string        `json:"unknown"`
	OffAir         []string        `json:"off_air"` // not on the air, or watching nothing, at the moment
	Groups         [][]string      `json:"groups"`
	SingleStations []SingleStation `json:"single_stations"`
	SingleLinks    []SingleLink    `json:"single_links"`
	StationPairs   []StationPair   `json:"station_pairs"`
	Pairs          []PairReach     `json:"pairs"`
	Help           []Help          `json:"help"`
	Hours          []Hour          `json:"hours,omitempty"`     // --hours
	Reinforce      *Reinforcement  `json:"reinforce,omitempty"` // --reinforce
	Before         *Wholeness      `json:"before,omitempty"`    // without what was assumed
}

// Wholeness is how whole a net is, in short.
type Wholeness struct {
	OpenLinks      int      `json:"open_links"`
	Groups         int      `json:"groups"` // stations alone included
	LargestGroup   int      `json:"largest_group"`
	SingleStations []string `json:"single_stations"`
	JoinedPairs    int      `json:"joined_pairs"`
}

// String says it in half a sentence.
func (w *Wholeness) String() string {
	return fmt.Sprintf("%s, the largest of %d; %s joined; single points of failure: %s",
		Count(w.Groups, "group", "groups"), w.LargestGroup, Count(w.JoinedPairs, "ordered pair", "ordered pairs"), Names(w.SingleStations))
}

// SingleStation is a station whose loss disconnects others.
type SingleStation struct {
	Station   string   `json:"station"`
	PairsLost int      `json:"pairs_lost"`
	CutsOff   []string `json:"cuts_off"`
	Certain   bool     `json:"certain"`
}

// SingleLink is a direction of a link whose loss disconnects others.
type SingleLink struct {
	From      string `json:"from"`
	To        string `json:"to"`
	PairsLost int    `json:"pairs_lost"`
}

// StationPair is two stations whose loss together disconnects others.
type StationPair struct {
	Stations  [2]string `json:"stations"`
	PairsLost int       `json:"pairs_lost"`
}

// PairReach is how firmly one station is joined to another.
type PairReach struct {
	From           string     `json:"from"`
	To             string     `json:"to"`
	Reach          float64    `json:"reach"`
	ReachLow       *float64   `json:"reach_low"`
	ReachHigh      *float64   `json:"reach_high"`
	AtLeast        float64    `json:"reach_at_least"` // under any dependence between links
	AtMost         float64    `json:"reach_at_most"`
	DisjointChains int        `json:"disjoint_chains"`
	SmallestCut    []string   `json:"smallest_cut"`
	Chains         [][]string `json:"chains"` // the disjoint chains that prove it
}

// worstPairs is how many of the least joined pairs the text shows.
const worstPairs = 8

// Document tells what would break the net.
func (v *Resilience) Document() Document {
	d := v.open("What would break " + v.Net)
	d.Say(v.verdict())
	if v.Before != nil {
		d.Say("Without the assumptions: " + v.Before.String() + ".\nWith them: " + v.wholeness().String() + ".")
	}
	for _, s := range []struct {
		calls []string
		what  string
	}{
		{v.OffAir, "off the air at this hour by the plan"},
		{without(v.Isolated, v.OffAir, v.Unknown), "isolated (hears nobody, heard by nobody)"},
		{without(v.Deaf, v.OffAir), "deaf (heard, but hears nobody)"},
		{without(v.Unheard, v.OffAir), "unheard (hears, but nobody hears it)"},
		{without(v.Unknown, v.OffAir), v.unknownMeans()},
	} {
		if len(s.calls) > 0 {
			d.Say(Names(s.calls) + ": " + s.what + ".")
		}
	}
	d.Title("Groups that can reach each other both ways")
	d.Add(v.groupTable())
	d.Title("Stations whose loss cuts others off")
	d.Add(v.stationTable())
	if len(v.SingleLinks) > 0 {
		d.Title("Links whose loss cuts others off")
		d.Add(v.linkTable())
	}
	if len(v.StationPairs) > 0 {
		d.Title("Pairs of stations whose loss together cuts others off")
		d.Add(v.pairTable())
	}
	if t := v.reachTable(); len(t.Rows) > 0 {
		d.Title("Least firmly joined")
		d.Add(t)
	}
	v.hours(&d)
	v.help(&d)
	v.reinforcement(&d)
	notes := []string{
		fmt.Sprintf("A link counts as open when a frame decodes with %s or more%s. %s open, %s unknown and not counted.",
			Percent(v.OpenThreshold), v.twoWay(), Count(v.OpenLinks, "direction is", "directions are"), Grouped(v.UnknownLinks)),
		"CERTAIN: it shows whether links count as open from 20, 50 or 80 %.",
	}
	notes = append(notes, v.hoursNotes()...)
	v.close(&d, append(notes, v.Reinforce.notes()...)...)
	return d
}

// unknownMeans says what unknown is, and whether such links count.
func (v *Resilience) unknownMeans() string {
	if v.UnknownUsed {
		return "unknown (too little evidence of how this hour usually goes, either way), but counted as best guessed"
	}
	return "unknown (too little evidence of how this hour usually goes, either way, even if it was heard)"
}

// wholeness is the answer in short.
func (v *Resilience) wholeness() *Wholeness {
	w := &Wholeness{OpenLinks: v.OpenLinks, Groups: len(v.Groups), JoinedPairs: v.JoinedPairs}
	for _, g := range v.Groups {
		w.LargestGroup = max(w.LargestGroup, len(g))
	}
	for _, s := range v.SingleStations {
		w.SingleStations = append(w.SingleStations, s.Station)
	}
	return w
}

func (v *Resilience) twoWay() string {
	if v.TwoWay {
		return " and its answer with 20 % or more"
	}
	return ""
}

func (v *Resilience) verdict() string {
	largest, alone := 0, 0
	for _, g := range v.Groups {
		largest = max(largest, len(g))
		if len(g) == 1 {
			alone++
		}
	}
	switch {
	case largest == 1 && len(v.Groups) == 1:
		return "The net has one station."
	case largest == 1:
		return "No two stations are known to reach each other both ways."
	case len(v.Groups) == 1 && len(v.SingleStations) == 0:
		return "The net is whole, and no single station's loss cuts it."
	case len(v.Groups) == 1:
		return fmt.Sprintf("The net is whole, but %s would cut it.", lossOf(len(v.SingleStations)))
	}
	parts := Count(len(v.Groups)-alone, "group", "groups")
	if alone > 0 {
		parts += " and " + Count(alone, "station alone", "stations alone")
	}
	if len(v.SingleStations) == 0 {
		return "The net is in parts: " + parts + "; no further single loss cuts it."
	}
	return "The net is in parts: " + parts + ", and " + lossOf(len(v.SingleStations)) + " would cut it further."
}

func lossOf(n int) string {
	if n == 1 {
		return "the loss of one station"
	}
	return "the loss of any of " + strconv.Itoa(n) + " stations"
}

// without is the calls that are in none of the others.
func without(calls []string, others ...[]string) []string {
	var left []string
	for _, c := range calls {
		if !slices.ContainsFunc(others, func(o []string) bool { return slices.Contains(o, c) }) {
			left = append(left, c)
		}
	}
	return left
}

func (v *Resilience) groupTable() *Table {
	t := &Table{Columns: []Column{{Head: "GROUP"}, {Head: "STATIONS", Name: "stations"}}, Empty: "No stations."}
	var alone []string
	for i, g := range v.Groups {
		if len(g) == 1 {
			alone = append(alone, g...)
			continue
		}
		t.Rows = append(t.Rows, []string{strconv.Itoa(i+1) + ", of " + strconv.Itoa(len(g)), strings.Join(g, " ")})
	}
	if alone != nil {
		t.Rows = append(t.Rows, []string{"alone", strings.Join(alone, " ")})
	}
	return t
}

func (v *Resilience) stationTable() *Table {
	t := &Table{
		Columns: []Column{
			{Head: "STATION"},
			{Head: "PAIRS LOST", Right: true, Name: "pairs lost"},
			{Head: "CERTAIN", Name: "certain"},
			{Head: "CUTS OFF", Name: "cuts off"},
		},
		Empty: "None.",
	}
	for _, s := range v.SingleStations {
		certain := "no"
		if s.Certain {
			certain = "yes"
		}
		t.Rows = append(t.Rows, []string{s.Station, strconv.Itoa(s.PairsLost), certain, strings.Join(s.CutsOff, " ")})
	}
	return t
}

func (v *Resilience) linkTable() *Table {
	t := &Table{Columns: []Column{{Head: "LINK"}, {Head: "PAIRS LOST", Right: true, Name: "pairs lost"}}}
	for _, l := range v.SingleLinks {
		t.Rows = append(t.Rows, []string{l.From + Arrow + l.To, strconv.Itoa(l.PairsLost)})
	}
	return t
}

func (v *Resilience) pairTable() *Table {
	t := &Table{Columns: []Column{{Head: "STATIONS"}, {Head: "PAIRS LOST", Right: true, Name: "pairs lost"}}}
	for _, p := range v.StationPairs {
		t.Rows = append(t.Rows, []string{p.Stations[0] + " and " + p.Stations[1], strconv.Itoa(p.PairsLost)})
	}
	return t
}

func (v *Resilience) reachTable() *Table {
	t := &Table{Columns: []Column{
		{Head: "FROM"},
		{Head: "TO", Name: "to"},
		{Head: "SOME CHAIN OPEN", Right: true, Name: "some chain open"},
		{Head: "DISJOINT", Right: true, Name: "chains that share no relay"},
		{Head: "SMALLEST CUT", Name: "smallest cut"},
	}}
	for _, p := range v.leastJoined() {
		t.Rows = append(t.Rows, []string{
			p.From, p.To, p.reach(), strconv.Itoa(p.DisjointChains), strings.Join(p.SmallestCut, " "),
		})
	}
	return t
}

// reach tells the reach, and where it is drawn its interval unless that is the same in
// whole per cent.
func (p *PairReach) reach() string {
	if p.ReachLow == nil || p.ReachHigh == nil {
		return Percent(p.Reach)
	}
	reach, low, high := DrawnPercents(p.Reach), DrawnPercents(*p.ReachLow), DrawnPercents(*p.ReachHigh)
	if low == reach && high == reach {
		return reach + " %"
	}
	return fmt.Sprintf("%s %% (%s to %s)", reach, low, high)
}

// leastJoined is the pairs with some chain, the least reach first.
func (v *Resilience) leastJoined() []PairReach {
	var joined []PairReach
	for _, p := range v.Pairs {
		if p.DisjointChains > 0 {
			joined = append(joined, p)
		}
	}
	sortStable(joined, func(a, b *PairReach) bool { return a.Reach < b.Reach })
	return joined[:min(worstPairs, len(joined))]
}

// Records gives the single points of failure as rows.
func (v *Resilience) Records() ([]string, [][]string) {
	var rows [][]string
	for _, s := range v.SingleStations {
		rows = append(rows, []string{
			"station", s.Station, strconv.Itoa(s.PairsLost), strconv.FormatBool(s.Certain), strings.Join(s.CutsOff, " "),
		})
	}
	for _, l := range v.SingleLinks {
		rows = append(rows, []string{"link", l.From + " - " + l.To, strconv.Itoa(l.PairsLost), "", ""})
	}
	for _, p := range v.StationPairs {
		rows = append(rows, []string{"pair", p.Stations[0] + " " + p.Stations[1], strconv.Itoa(p.PairsLost), "", ""})
	}
	return []string{"kind", "what", "pairs_lost", "certain", "cuts_off"}, rows
}

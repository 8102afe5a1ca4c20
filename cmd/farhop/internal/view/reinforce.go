package view

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Reinforcement is what would help the net most.
type Reinforcement struct {
	Hours        int          `json:"hours"` // how many moments count; 1 = only the one asked for
	Looked       int          `json:"changes_looked_at"`
	Before       Firmness     `json:"before"`
	Steps        []Reinforced `json:"steps"`        // each the best after those before it
	Alternatives []Reinforced `json:"alternatives"` // to the first step
	// Law is what two ordinary sites would hear of each other; empty where the
	// net's links teach too little.
	Law      []Expected `json:"expected_links"`
	LawLinks int        `json:"learnt_from_links"`
}

// Firmness is how well the net holds together. Pairs are ordered pairs of members;
// one with an end off the air has no reach.
type Firmness struct {
	WorstReach     *float64 `json:"worst_reach"` // of the pairs that have a chain before any change
	MeanReach      float64  `json:"mean_reach"`
	JoinedPairs    float64  `json:"joined_pairs"` // share with a chain of open links
	FirmPairs      float64  `json:"firm_pairs"`   // share with one whichever single station is lost
	SinglePoints   int      `json:"single_points"`
	SingleStations []string `json:"single_stations"`
}

// Reinforced is one change and what it is expected to do.
type Reinforced struct {
	Kind       string   `json:"kind"` // power, window, channel or relay
	Station    string   `json:"station,omitempty"`
	Locator    string   `json:"locator,omitempty"`
	PowerW     *float64 `json:"power_w,omitempty"`
	OnAir      []string `json:"on_air,omitempty"`
	Channel    string   `json:"channel,omitempty"`
	What       string   `json:"what"`
	Assumes    string   `json:"assumes"`
	After      Firmness `json:"after"`
	Gain       Promise  `json:"gain_points"` // worst reach, firm pairs and mean reach together
	FirmGain   Promise  `json:"firm_gain"`
	MeanGain   Promise  `json:"mean_reach_gain"`
	WorstGain  Promise  `json:"worst_reach_gain"`
	Removes    []string `json:"removes_single_points"`
	Adds       []string `json:"adds_single_points"`
	Unmeasured int      `json:"unmeasured_links"`
	// UnmeasuredSD is how uncertain the climate of those links is; null without any.
	UnmeasuredSD *float64 `json:"unmeasured_sd_db"`
}

// Promise is a gain with the interval that holds nine in ten guesses at what is
// not known of the links.
type Promise struct {
	Expected float64 `json:"expected"`
	Low      float64 `json:"low"`
	High     float64 `json:"high"`
}

// String writes points, with the interval where it isn't the same.
func (p Promise) String() string {
	whole := func(x float64) string { return strconv.Itoa(int(math.Round(x))) }
	s := fmt.Sprintf("+%s", whole(p.Expected))
	if whole(p.Low) != whole(p.High) {
		s += " (" + whole(p.Low) + " to " + whole(p.High) + ")"
	}
	return s
}

// Expected is what two ordinary sites would hear of each other.
type Expected struct {
	Channel    string  `json:"channel"`
	DistanceKM float64 `json:"distance_km"`
	PowerW     float64 `json:"power_w"`
	SNRDB      float64 `json:"snr_db"`
	SNRSDDB    float64 `json:"snr_sd_db"` // of the climate
}

// DB writes a level or difference in whole decibels.
func DB(x float64) string { return strconv.Itoa(int(math.Round(x))) + " dB" }

// Watts writes a power with two figures, or whole.
func Watts(w float64) string {
	if w >= 10 {
		return Grouped(int(math.Round(w))) + " W"
	}
	return strconv.FormatFloat(w, 'g', 2, 64) + " W"
}

func (v *Resilience) reinforcement(d *Document) {
	r := v.Reinforce
	if r == nil {
		return
	}
	d.Title("What would help most")
	if len(r.Steps) == 0 {
		d.Say("Of " + Count(r.Looked, "change", "changes") + " looked at, none helps by half a point or more.")
		return
	}
	d.Say(r.headline())
	t := &Table{Columns: []Column{
		{Head: "STEP"},
		{Head: "FIRM %", Right: true, Name: "firm pairs in per cent"},
		{Head: "REACH %", Right: true, Chance: true, Name: "mean reach in per cent"},
		{Head: "WORST %", Right: true, Name: "worst reach in per cent"},
		{Head: "SINGLE", Right: true, Name: "single points"},
		{Head: "GAIN", Name: "points gained"},
		{Head: "CHANGE", Name: "by"},
	}}
	t.Rows = append(t.Rows, r.Before.row("now", "-", "as planned"))
	for i := range r.Steps {
		s := &r.Steps[i]
		t.Rows = append(t.Rows, s.After.row(strconv.Itoa(i+1), s.Gain.String(), s.What))
	}
	d.Add(t)
	for i := range r.Steps {
		d.Say(fmt.Sprintf("%d. %s%s. Assumes: %s.", i+1, r.Steps[i].What, r.Steps[i].points(), r.Steps[i].Assumes))
	}
	if len(r.Alternatives) > 0 {
		t := &Table{Columns: []Column{
			{Head: "GAIN"}, {Head: "OR, AS THE FIRST CHANGE", Name: "by"},
		}}
		for i := range r.Alternatives {
			a := &r.Alternatives[i]
			t.Rows = append(t.Rows, []string{a.Gain.String(), a.What + a.points()})
		}
		d.Add(t)
	}
}

func (f *Firmness) row(step, gain, change string) []string {
	return []string{
		step, Percents(f.FirmPairs), Percents(f.MeanReach), number(f.WorstReach, Percents, "-"), strconv.Itoa(f.SinglePoints), gain, change,
	}
}

// points says which single points of failure a change removes and makes.
func (s *Reinforced) points() string {
	text := ""
	if len(s.Removes) > 0 {
		text += "; " + Names(s.Removes) + " no longer a single point of failure"
	}
	if len(s.Adds) > 0 {
		text += "; " + Names(s.Adds) + " then one"
	}
	return text
}

func (r *Reinforcement) headline() string {
	when := "at this moment"
	if r.Hours > 1 {
		when = fmt.Sprintf("over %d moments of the next 24 hours", r.Hours)
	}
	return fmt.Sprintf("First: %s. Of %s looked at %s, it gains most.", r.Steps[0].What, Count(r.Looked, "change", "changes"), when)
}

// lawNote says what links that nobody has measured are expected from.
func (r *Reinforcement) notes() []string {
	if r == nil {
		return nil
	}
	notes := []string{"FIRM: share of ordered pairs of members that keep a chain whichever single station is lost. REACH: mean over all pairs, " +
		"those off the air included. WORST: least reach of the pairs that have a chain now. GAIN: points gained in the three together, " +
		"with the range that holds nine in ten guesses at what isn't known of the links; an average over the guesses, so not quite the difference of the rows."}
	if len(r.Law) == 0 {
		return append(notes, "Too few links with places and evidence to expect anything of links that nobody has measured: no relays, longer windows or channels were judged by them.")
	}
	var parts []string
	for _, e := range r.Law {
		parts = append(parts, fmt.Sprintf("%s at %.0f km on %s", DB(e.SNRDB), e.DistanceKM, e.Channel))
	}
	return append(notes, fmt.Sprintf("Links that nobody has measured are expected from %s of this net at this hour. Two ordinary sites, %s: %s (±%s).",
		Count(r.LawLinks, "link", "links"), Watts(r.Law[0].PowerW), strings.Join(parts, ", "), DB(r.Law[0].SNRSDDB)))
}

package view

import (
	"strings"
	"testing"
	"time"
)

func TestSoundingsAsPlan(t *testing.T) {
	day := time.Date(2026, 3, 2, 22, 0, 0, 0, time.UTC)
	low, high := 800, 1200
	at := func(minutes int) time.Time { return day.Add(time.Duration(minutes) * time.Minute) }
	v := &Soundings{
		Head: Head{Net: "Drill", At: day, Clock: Clock{Day: day}, Caution: Caution, Assumed: []string{"no MILL"}}, WithinDB: 8,
		Until: day.Add(12 * time.Hour), SoundingSeconds: 102, Sounded: []string{"QUIET", "HARBOR"},
		Soundings: []Sounding{
			{Station: "HARBOR", Channel: "night", OffsetHz: &low, Start: at(100)},
			{Station: "No", Channel: "a: b", OffsetHz: &high, Start: at(120)},
			{Station: "HARBOR", Channel: "a: b", OffsetHz: &low, Start: at(120)},
			{Station: "HARBOR", Channel: "night", OffsetHz: &low, Start: at(185).Add(20 * time.Second)},
		},
	}
	want := `stations:
  - call: HARBOR
    soundings:
      - {channel: night, every: 24h, after: 23h40m}
      - {channel: "a: b", every: 24h, after: 0s} # at 800 Hz: another sounds in this slot too
      - {channel: night, every: 24h, after: 1h5m20s}
  - call: "No"
    soundings:
      - {channel: "a: b", every: 24h, after: 0s} # at 1200 Hz: another sounds in this slot too
  - call: QUIET
    soundings: []
`
	got := v.YAML()
	if !strings.HasSuffix(got, want) {
		t.Errorf("%s", got)
	}
	for _, line := range []string{"# Assumed, against the plan: no MILL.", "# Nothing sounds in the other 12 h of the day", "# 4 soundings in these 12 h, 2 min on the air"} {
		if !strings.Contains(got, line) {
			t.Errorf("%q is missing in\n%s", line, got)
		}
	}
	if v.Until = day.Add(24 * time.Hour); !v.FitsPlan() || strings.Contains(v.YAML(), "other") && strings.Contains(v.YAML(), "Nothing sounds") {
		t.Error("a whole day")
	}
	if v.Until = day.Add(25 * time.Hour); v.FitsPlan() {
		t.Error("more than a day can't be a plan")
	}
}

// Answers in short are sentences.
func TestInShort(t *testing.T) {
	next := "MILL"
	v := []Comparing{
		&Links{Links: []Link{{Known: true, InWindow: true, Decode: 0.5}, {Known: true, Decode: 0.9}, {InWindow: true, Decode: 0.9}, {Fixed: true, InWindow: true, Decode: 0.4}}},
		&Reach{Rows: []ReachRow{{Next: &next, DeliveredByDeadline: 0.8}, {Next: &next, DeliveredByDeadline: 0.74}}},
		&Soundings{}, &Timetable{}, &Endurance{}, &Simulation{}, &Strip{}, &Drawing{Groups: [][]int{{0, 1}, {2}}, Nodes: []Node{{Call: "A", Single: true}, {}, {}}},
	}
	want := []string{
		"3 directions known, 1 open now (a frame decodes with 50 % or more).", "Likely (8 in 10 or better): 1 of 2 ordered pairs.",
		"No link of which more could be learnt matters here: nothing to sound for.", "0 of 0 messages fit.", "no station states a battery.", "no chain.", "no chain is known now.",
		"2 groups, the largest of 2; 0 pairs with an open link; single points of failure: A.",
	}
	for i, x := range v {
		got := x.InShort()
		if !strings.Contains(got, want[i]) || !strings.HasSuffix(got, ".") || strings.HasSuffix(got, "..") || strings.Contains(got, "\n") {
			t.Errorf("%q, want %q", got, want[i])
		}
		x.Compare("before.", got)
	}
	h := v[0].(*Links).Head
	if d := h.open("x"); !strings.Contains(d.Blocks[0].Text, "observations") {
		t.Errorf("%q", d.Blocks[0].Text)
	}
	h.Assumed = []string{"no MILL"}
	d := h.open("x")
	if text := d.Blocks[0].Text; !strings.Contains(text, "\nWithout the assumptions: before.\nWith them: 3 directions known") {
		t.Errorf("%q", text)
	}
}

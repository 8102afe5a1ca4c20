package view

import (
	"strings"
	"testing"
	"time"
)

// soundingsView has two stations in one slot, one alone, and a link of each fate.
func soundingsView() *Soundings {
	at := time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)
	low, high := 800, 1200
	later := at.Add(30 * time.Minute)
	return &Soundings{
		Head:     Head{Net: "Test", At: at, Clock: Clock{Day: at}, Caution: Caution},
		WithinDB: 8, Until: at.Add(30 * time.Hour), ListsEveryMinutes: 240, Coordinator: "HARBOR",
		SoundingSeconds: 136, ListSeconds: 7260,
		Soundings: []Sounding{
			{Station: "MILL", Channel: "day", OffsetHz: &low, Start: at.Add(2 * time.Minute), ForLinks: [][2]string{{"MILL", "HARBOR"}}},
			{Station: "SUMMIT", Channel: "day", OffsetHz: &high, Start: at.Add(2 * time.Minute), ForLinks: [][2]string{{"SUMMIT", "HARBOR"}, {"SUMMIT", "QUARRY"}}},
			{Station: "MILL", Channel: "day", OffsetHz: &low, Start: at.Add(40*time.Minute + 40*time.Second)},
			{Station: "MILL", Channel: "day", Start: at.Add(26 * time.Hour)},
		},
		Links: []SoundedLink{
			{From: "MILL", To: "HARBOR", Channel: "day", Within: true},
			{From: "SUMMIT", To: "HARBOR", Channel: "day", WhyNot: "above it at first", WithinFrom: &later},
			{From: "SUMMIT", To: "QUARRY", Channel: "day", WhyNot: "above it at first", WithinFrom: &later},
			{From: "SUMMIT", To: "MILL", Channel: "day", WhyNot: "too weak"},
		},
	}
}

// cells joins all that a document says.
func cells(d Document) string {
	var b strings.Builder
	for _, block := range d.Blocks {
		b.WriteString(block.Title + "\n" + block.Text + "\n")
		if block.Table != nil {
			for _, row := range block.Table.Rows {
				b.WriteString(strings.Join(row, " | ") + "\n")
			}
		}
	}
	return b.String()
}

func TestSoundingsSay(t *testing.T) {
	got := cells(soundingsView().Document())
	for _, want := range []string{
		"4 soundings by 2 stations: 2 min on the air. Passing on to HARBOR what was heard: 2 h 01 min more.",
		"Of 4 links that matter 1 stays within 8.0 dB all the time, 2 only from a later time on, 1 can't be kept: see below.",
		"MILL | day | 18:02/800Hz 18:40:40 Mar 3/20:00",
		"SUMMIT | day | 18:02/1200Hz",
		"Above it at first:",
		"SUMMIT | day | 18:30Z | HARBOR QUARRY",
		"SUMMIT | day | never | MILL",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is missing in\n%s", want, got)
		}
	}
	if strings.Index(got, "Too weak:") > strings.Index(got, "Above it at first:") {
		t.Error("what can't be kept at all doesn't come first")
	}
}

func TestSoundingsRecords(t *testing.T) {
	names, rows := soundingsView().Records()
	if len(names) != 5 || len(rows) != 4 || strings.Join(rows[1], ",") != "2026-03-02T18:02:00Z,SUMMIT,day,1200,HARBOR QUARRY" {
		t.Errorf("%v\n%v", names, rows)
	}
	if rows[3][3] != "" {
		t.Errorf("a channel without offsets: %v", rows[3])
	}
}

func TestSoundingSpan(t *testing.T) {
	for seconds, want := range map[float64]string{0: "0 s", 34: "34 s", 99.4: "99 s", 100: "2 min", 5969: "99 min", 6000: "1 h 40 min", 7200: "2 h", 7260: "2 h 01 min"} {
		if got := span(seconds); got != want {
			t.Errorf("%v s: %q, want %q", seconds, got, want)
		}
	}
}

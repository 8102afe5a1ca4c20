package view

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// eye reads a short sheet by the rule that operators are told.
func eye(text string, width int) (next, backup map[string]string) {
	next, backup = map[string]string{}, map[string]string{}
	named := map[string]bool{}
	words := strings.Split(text, " ")[2:]
	for _, w := range words {
		pair, dests, _ := strings.Cut(w, "/")
		for ; dests != ""; dests = dests[width:] {
			next[dests[:width]], backup[dests[:width]] = pair[:width], pair[width:]
			named[dests[:width]] = true
		}
	}
	for _, w := range words {
		direct, _, _ := strings.Cut(w, "/")
		if at := direct[:width]; !named[at] && next[at] == "" {
			next[at], backup[at] = at, direct[width:]
		}
	}
	return next, backup
}

// What an operator reads by eye is what the sheet says, for every destination that is
// in; nothing else is said of the others but that they are next hops.
func TestShortIsReadByEye(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 30).Draw(t, "members")
		name := rapid.SampledFrom([]string{"%c%c", "S%c%c", "STATION-%c%c"}).Draw(t, "names")
		v := &Brief{Slots: SlotScheme{Characters: rapid.IntRange(8, 60).Draw(t, "characters"), Header: 1, Seconds: 40}}
		for i := range n {
			v.Members = append(v.Members, BriefMember{Call: fmt.Sprintf(name, 'A'+i/6, 'A'+i%6)})
		}
		p := SheetPlan{From: time.Unix(1e9, 0)}
		neighbours := rapid.IntRange(1, min(n-1, 5)).Draw(t, "neighbours")
		for i := 1; i < n; i++ {
			d := Destination{To: v.Members[i].Call, Delivered: 0.9, Importance: rapid.IntRange(0, 3).Draw(t, "importance")}
			k := rapid.IntRange(1, neighbours).Draw(t, "next")
			d.Next = &v.Members[k].Call
			if b := rapid.IntRange(0, neighbours).Draw(t, "backup"); b > 0 && b != k {
				d.BackupNext = &v.Members[b].Call
			}
			p.Destinations = append(p.Destinations, d)
		}
		v.Sheets = []Sheet{{Member: v.Members[0], Plans: []SheetPlan{p}}}
		s := v.Short()[0]
		if len(s.Text) > ShortFrames*v.Slots.Characters && len(p.Destinations) > 0 && strings.Count(s.Text, " ") > 1 {
			t.Fatalf("%d characters: %s", len(s.Text), s.Text)
		}
		if strings.Trim(s.Text, "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 /") != "" {
			t.Fatalf("not radio-safe: %q", s.Text)
		}
		signs := v.signs()
		width := len(signs[v.Members[0].Call])
		next, backup := eye(s.Text, width)
		in := 0
		for i := range p.Destinations {
			d := &p.Destinations[i]
			sign := signs[d.To]
			left := strings.Contains(strings.ReplaceAll(s.Note, ",", " ")+" ", " "+d.To+" ") || strings.Contains(s.Note, " "+d.To+".")
			if left {
				continue
			}
			in++
			want := strings.Repeat("0", width)
			if d.BackupNext != nil {
				want = signs[*d.BackupNext]
			}
			if next[sign] != signs[*d.Next] || backup[sign] != want {
				t.Fatalf("%s (%s) is read as %s, backup %s, not %s, %s: %s\n%s", d.To, sign, next[sign], backup[sign], signs[*d.Next], want, s.Text, s.Note)
			}
		}
		if in == 0 && v.Slots.Characters > 12 {
			t.Fatalf("nothing is in: %s\n%s", s.Text, s.Note)
		}
	})
}

func TestShortOrderAndNote(t *testing.T) {
	at := time.Date(2026, 3, 16, 10, 30, 0, 0, time.UTC)
	b, c, d := "BRIDGE", "CANNERY", "DEPOT"
	v := &Brief{
		Slots:   SlotScheme{Characters: 6, Header: 1, Seconds: 40},
		Members: []BriefMember{{Call: "HARBOR"}, {Call: b}, {Call: c}, {Call: d}},
		Sheets: []Sheet{{Member: BriefMember{Call: "HARBOR"}, Plans: []SheetPlan{{Stale: Stale{At: &at}, Destinations: []Destination{
			{To: b, Next: &b, Delivered: 0.9}, {To: c, Next: &b, BackupNext: &d, Delivered: 0.8, Importance: 5}, {To: d, Next: &d, Delivered: 0.01},
		}}}}},
	}
	s := v.Short()[0]
	if s.Text != "HA 161030 BRDE/CA" {
		t.Errorf("%q", s.Text)
	}
	want := "HARBOR: 17 characters in 3 frames of text and 1 header frame; sending takes 160 s. No room for BRIDGE. No chain to speak of to DEPOT."
	if s.Note != want {
		t.Errorf("%q", s.Note)
	}
}

// Identification is sent too, and said.
func TestShortCountsIdentification(t *testing.T) {
	mill := "MILL"
	v := &Brief{Slots: SlotScheme{Characters: 18, Header: 1, Seconds: 40}, Members: []BriefMember{{Call: "HARBOR"}, {Call: mill}}}
	v.Sheets = []Sheet{{Member: v.Members[0], Plans: []SheetPlan{{Destinations: []Destination{{To: mill, Next: &mill, Delivered: 0.9}}}}}}
	for _, c := range []struct {
		seconds float64
		want    string
	}{
		{0, "in 1 frame of text and 1 header frame; sending takes 80 s."},
		{600, "in 1 frame of text and 1 header frame; sending takes 80 s."},
		{60, "in 1 frame of text, 1 header frame and 1 frame of identification; sending takes 120 s."},
	} {
		v.Slots.Identify = c.seconds
		if got := v.Short()[0].Note; !strings.HasSuffix(got, c.want) {
			t.Errorf("every %g s: %s", c.seconds, got)
		}
	}
}

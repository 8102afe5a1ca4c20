package render

import (
	"encoding/csv"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"farhop/cmd/farhop/internal/view"
)

// doc is a ready document.
type doc view.Document

func (d doc) Document() view.Document { return view.Document(d) }

func text(t interface{ Fatal(...any) }, d view.Document, opt TextOptions) string {
	var b strings.Builder
	if err := Text(&b, doc(d), opt); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestTextTable(t *testing.T) {
	var d view.Document
	d.Title("Title")
	d.Add(&view.Table{
		Columns: []view.Column{{Head: "NAME"}, {Head: "N", Right: true, Name: "number"}, {Head: "VIA"}},
		Rows:    [][]string{{"MILL", "7", "A → B"}, {"HARBOR", "12", ""}, {"SUMMIT", "3", "-"}},
	})
	got := text(t, d, TextOptions{})
	want := "Title\n-----\n\nNAME     N  VIA\nMILL     7  A → B\nHARBOR  12\nSUMMIT   3  -\n"
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	got = text(t, d, TextOptions{Plain: true})
	want = "Title\n\nMILL: number 7; VIA A - B\nHARBOR: number 12\nSUMMIT: number 3; VIA none\n"
	if got != want {
		t.Errorf("plain: got\n%s\nwant\n%s", got, want)
	}
}

// A table too wide for the screen is told row by row instead of being cut.
func TestNarrowTableLosesNothing(t *testing.T) {
	var d view.Document
	d.Add(&view.Table{
		Columns: []view.Column{{Head: "FROM"}, {Head: "TO"}, {Head: "AGE", Right: true}},
		Rows:    [][]string{{"HARBOR", "SUMMIT", "12 min"}},
	})
	got := text(t, d, TextOptions{Width: 24})
	for _, cell := range []string{"HARBOR", "SUMMIT", "12 min"} {
		if !strings.Contains(strings.ReplaceAll(got, "\n  ", " "), cell) {
			t.Errorf("%q is missing in\n%s", cell, got)
		}
	}
}

// No line is wider than asked for unless a single word is, and no word is lost.
func TestTextKeepsWidthAndWords(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOfN(rapid.StringMatching(`[a-zA-Z→±]{1,12}`), 1, 60).Draw(t, "words")
		width := rapid.IntRange(24, 120).Draw(t, "width")
		var d view.Document
		d.Say(strings.Join(words, " "))
		got := text(t, d, TextOptions{Width: width})
		for line := range strings.SplitSeq(got, "\n") {
			if utf8.RuneCountInString(line) > width {
				t.Fatalf("line of %d columns at width %d: %q", utf8.RuneCountInString(line), width, line)
			}
		}
		if strings.Join(strings.Fields(got), " ") != strings.Join(words, " ") {
			t.Fatalf("words changed: %q", got)
		}
	})
}

type rows [][]string

func (r rows) Records() ([]string, [][]string) { return r[0], r[1:] }

func TestCSVRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cell := rapid.StringMatching(`[a-z ,"→\n]{0,8}x`)
		table := rows(rapid.SliceOfN(rapid.SliceOfN(cell, 3, 3), 1, 6).Draw(t, "table"))
		var b strings.Builder
		if err := CSV(&b, table); err != nil {
			t.Fatal(err)
		}
		back, err := csv.NewReader(strings.NewReader(b.String())).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		if len(back) != len(table) {
			t.Fatalf("%d rows came back of %d", len(back), len(table))
		}
		for i := range back {
			for j := range back[i] {
				if back[i][j] != table[i][j] {
					t.Fatalf("cell %d,%d: %q became %q", i, j, table[i][j], back[i][j])
				}
			}
		}
	})
}

func drawing() *view.Drawing {
	return &view.Drawing{
		Nodes:  []view.Node{{Call: "A"}, {Call: "B", Single: true}, {Call: "C", Alone: true, Note: "isolated"}},
		Groups: [][]int{{0, 1}, {2}},
		Edges: []view.DrawnLink{
			{From: 0, To: 1, Both: true, Decode: 0.9, Channels: "day"},
			{From: 1, To: 2, Decode: 0.5, Stale: true, Channels: "night"},
		},
		Legend: []string{`a "quoted" line`, "second"},
	}
}

func TestDOT(t *testing.T) {
	var b strings.Builder
	if err := DOT(&b, drawing()); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		`label="a \"quoted\" line\lsecond\l"`, `shape="doubleoctagon"`, `style="dotted"`, `style="dashed"`, `dir="both"`,
		`penwidth="3.66"`, `penwidth="2.30"`, "cluster",
	} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("%s is missing in\n%s", want, b.String())
		}
	}
}

func TestDOTIsStable(t *testing.T) {
	var first string
	for i := range 100 {
		var b strings.Builder
		if err := DOT(&b, drawing()); err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			first = b.String()
		} else if b.String() != first {
			t.Fatalf("run %d differs", i)
		}
	}
}

// In a pipe each table comes as rows with tabs, heads first, and no other line has
// one; paragraphs are not broken.
func TestTextWithTabs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cell := rapid.StringMatching(`[a-zA-Z→±\t\n ]{0,12}`)
		rows := rapid.SliceOfN(rapid.SliceOfN(cell, 3, 3), 1, 6).Draw(t, "rows")
		words := rapid.SliceOfN(rapid.StringMatching(`[a-zA-Z]{1,12}`), 1, 60).Draw(t, "words")
		var d view.Document
		d.Title("Title")
		d.Say(strings.Join(words, " "))
		d.Add(&view.Table{Columns: []view.Column{{Head: "A"}, {Head: "B"}, {Head: "C"}}, Rows: rows})
		d.Note("A note " + strings.Join(words, " "))
		got := text(t, d, TextOptions{Tabs: true})
		lines := strings.Split(strings.TrimSuffix(got, "\n"), "\n")
		if len(lines) != 7+len(rows) {
			t.Fatalf("%d lines in\n%s", len(lines), got)
		}
		if lines[2] != strings.Join(words, " ") || lines[4] != "A\tB\tC" {
			t.Fatalf("got\n%s", got)
		}
		for i, line := range lines {
			want := 0
			if i >= 4 && i <= 4+len(rows) {
				want = 2
			}
			if strings.Count(line, "\t") != want {
				t.Fatalf("line %d, %q, has not %d tabs", i+1, line, want)
			}
		}
	})
}

// Colours add nothing but sequences: without them the text is the same; figures alone
// are coloured, by their class.
func TestTextColour(t *testing.T) {
	var d view.Document
	d.Title("Title")
	d.Add(&view.Table{
		Columns: []view.Column{{Head: "NAME"}, {Head: "%", Right: true, Chance: true}, {Head: "N", Right: true}, {Head: "VIA"}},
		Rows: [][]string{
			{"MILL", "99+", "99", "a long chain that has to be broken at the end of its column, which is the last of them"},
			{"HARBOR", "<1", "7", ""},
			{"FERRY", "65 %", "0", "x"},
			{"QUARRY", "?", "0", "x"},
			{"BAY", "-", "0", "x"},
		},
	})
	plain, coloured := text(t, d, TextOptions{Width: 60}), text(t, d, TextOptions{Width: 60, Colour: true})
	if got := sequence.ReplaceAllString(coloured, ""); got != plain {
		t.Errorf("without sequences\n%s\nnot\n%s", got, plain)
	}
	for cell, want := range map[string]string{"99+": "\x1b[1;36m99+\x1b[0m", "<1": "\x1b[35m<1\x1b[0m"} {
		if !strings.Contains(coloured, want) {
			t.Errorf("%s is not %q in\n%q", cell, want, coloured)
		}
	}
	if n := strings.Count(coloured, styleOff); n != 4 { // two figures, title, heads
		t.Errorf("%d ends of colour in\n%q", n, coloured)
	}
	for cell, want := range map[string]string{"80": styleLikely, "79 %": "", "50": "", "49": styleUnlikely, "0 %": styleUnlikely, "100 %": styleLikely, "": "", "off": ""} {
		if got := chanceStyle(cell); got != want {
			t.Errorf("%q is styled %q, not %q", cell, got, want)
		}
	}
}

var sequence = regexp.MustCompile("\x1b\\[[0-9;]*m")

// On a wide terminal a paragraph stays readable, a table takes the room it needs.
func TestWideTerminal(t *testing.T) {
	var d view.Document
	d.Say(strings.Repeat("word ", 100))
	d.Add(&view.Table{Columns: []view.Column{{Head: "A"}, {Head: "B"}}, Rows: [][]string{{strings.Repeat("a", 90), strings.Repeat("b", 90)}}})
	got := text(t, d, TextOptions{Width: 200})
	lines := strings.Split(got, "\n")
	if n := utf8.RuneCountInString(lines[0]); n > widestProse || n < widestProse-5 {
		t.Errorf("a line of prose takes %d columns", n)
	}
	if !strings.Contains(got, strings.Repeat("a", 90)+"  "+strings.Repeat("b", 90)) {
		t.Errorf("the row is broken:\n%s", got)
	}
}

package radiogram

import (
	"errors"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// Examples of the published rules: every group counts one, X and QUERY too,
// R is a decimal point within a group (licking-ares.org/Text-Message.html;
// mailman.qth.net/pipermail/kyham/2002-May/000339.html; w0ipl.net/ECom/nts-4.htm).
func TestCheckOfPublishedExamples(t *testing.T) {
	for _, c := range []struct{ text, check string }{
		// w0ipl.net/ECom/nts-4.htm: a numbered text with a check of ARL 25.
		{"ARL FORTY SIX X DO YOU WANT THE 304/BA EQUIPMENT QUERY THE SIX DASH B TYPE IS NO LONGER AVAILABLE X CU ON 7013R5 73", "ARL 25"},
		{"527B", "1"},
		{"W1YL/4", "1"},
		{"304/BA", "1"},
		{"7013R5", "1"},
		{"813 555 1234", "3"}, // a telephone number in three groups
		{"H O TOWNSEND", "3"},
		{"NEW YORK CITY", "3"},
		{"NYC", "1"},
		{"FIFTY SIX", "2"},
		{"56", "1"},
	} {
		groups, notes := Groups(c.text)
		if got := Check(groups); got != c.check {
			t.Errorf("%q has check %s, published %s", c.text, got, c.check)
		}
		if got := strings.Join(groups, " "); got != c.text || notes != nil {
			t.Errorf("%q became %q with notes %v", c.text, got, notes)
		}
	}
}

func TestGroupsReplaceSigns(t *testing.T) {
	for _, c := range []struct {
		text, groups string
		notes        int
	}{
		{"Send water. Two trucks.", "SEND WATER X TWO TRUCKS", 0},
		{"When will you come? We wait.", "WHEN WILL YOU COME QUERY WE WAIT", 0},
		{"Are you well?", "ARE YOU WELL QUERY", 0},
		{"really?? . . yes", "REALLY QUERY X X YES", 0},
		{"listen on 7013.5. 73", "LISTEN ON 7013R5 X 73", 0},
		{"  spaced\n\tout ", "SPACED OUT", 0},
		{"OVER X", "OVER", 0},
		{"yes, no; no", "YES, NO; NO", 1},
		{"...", "", 0},
		{"", "", 0},
	} {
		groups, notes := Groups(c.text)
		if got := strings.Join(groups, " "); got != c.groups || len(notes) != c.notes {
			t.Errorf("%q: groups %q, notes %v; want %q", c.text, got, notes, c.groups)
		}
	}
}

func TestForm(t *testing.T) {
	m := Message{
		Number: 7, Station: "Harbor", Place: "Puerto", Filed: time.Date(2026, 3, 6, 4, 5, 0, 0, time.UTC),
		Address: "Clinic,\nOutpost", Text: "Send water. Two trucks.", Signature: "Rosa", Precedence: "welfare", Handling: "hxc",
	}
	f, err := m.Form()
	if err != nil {
		t.Fatal(err)
	}
	want := "7 W HXC HARBOR 5 PUERTO 0405Z MAR 6 CLINIC, OUTPOST BREAK SEND WATER X TWO TRUCKS BREAK ROSA"
	if f.Keyed() != want || f.Characters() != len(want) {
		t.Errorf("keyed %q, %d characters; want %q, %d", f.Keyed(), f.Characters(), want, len(want))
	}
	if len(f.Lines()) != 6 || f.Notes != nil {
		t.Errorf("lines %q, notes %q", f.Lines(), f.Notes)
	}
	m.Text = "ni\u00f1o " + strings.Repeat("word ", 25)
	if f, err = m.Form(); err != nil || f.Check != "26" || len(f.Notes) != 1 || !strings.Contains(f.Text, "NI\u00d1O") {
		t.Errorf("long text: %+v, %v", f, err)
	}
	if f.Characters() != len(f.Keyed())-1 {
		t.Errorf("%d characters in %d bytes with one letter of two", f.Characters(), len(f.Keyed()))
	}
	m.Text = " . "
	if _, err := m.Form(); !errors.Is(err, ErrText) {
		t.Errorf("no text: %v", err)
	}
	m.Text, m.Number = "HELLO", 0
	if _, err := m.Form(); !errors.Is(err, ErrNumber) {
		t.Errorf("number 0: %v", err)
	}
}

func TestPrecedence(t *testing.T) {
	for name, want := range map[string]string{
		"emergency": "EMERGENCY", "Priority": "P", "p": "P", "WELFARE": "W", "w": "W", "": "R", "routine": "R", "R": "R",
	} {
		if got, err := Precedence(name); err != nil || got != want {
			t.Errorf("%q is keyed %q, %v; want %q", name, got, err, want)
		}
	}
	for _, name := range []string{"E", "URGENT"} { // EMERGENCY is never abbreviated
		if got, err := Precedence(name); err == nil {
			t.Errorf("%q is keyed %q, want an error", name, got)
		}
	}
}

// Whatever the text, its groups hold neither spaces nor a last X, keep the rules when
// read again, and count as words split at spaces.
func TestGroupsOfAnyText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		groups, _ := Groups(rapid.StringMatching(`[A-Za-z0-9 .?,/X]{0,60}`).Draw(t, "text"))
		text := strings.Join(groups, " ")
		if n := len(strings.Fields(text)); n != len(groups) {
			t.Fatalf("%q counts %d words in %d groups", text, n, len(groups))
		}
		if len(groups) > 0 && groups[len(groups)-1] == "X" {
			t.Fatalf("%q ends with X", text)
		}
		if again, _ := Groups(text); strings.Join(again, " ") != text {
			t.Fatalf("%q becomes %q when read again", text, again)
		}
	})
}

package render

import (
	"strings"
	"testing"
	"time"

	ics "github.com/arran4/golang-ical"

	"farhop/cmd/farhop/internal/view"
)

type events []view.Event

func (e events) Events() (time.Time, []view.Event) { return time.Unix(1e9, 0), e }

var calendarEvents = events{
	{
		UID: "M1-1@farhop.invalid", Start: time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC), End: time.Date(2026, 3, 2, 18, 9, 20, 0, time.UTC),
		Summary: "M1: HARBOR to MILL, RANCH and Ñandú; a\\b", Description: strings.Repeat("Señal débil → esperar, ", 20) + "\nsecond line",
	},
	{UID: "x", Start: time.Unix(0, 0), End: time.Unix(40, 0), Summary: strings.Repeat("é", 200), Description: "\x01control\ttab", Free: true},
}

// A library that knows nothing of this package reads back what was written.
func TestCalendarReadsBack(t *testing.T) {
	var b strings.Builder
	if err := Calendar(&b, calendarEvents); err != nil {
		t.Fatal(err)
	}
	c, err := ics.ParseCalendar(strings.NewReader(b.String()))
	if err != nil {
		t.Fatal(err)
	}
	if got := len(c.Events()); got != len(calendarEvents) {
		t.Fatalf("%d events", got)
	}
	for i, e := range c.Events() {
		want := calendarEvents[i]
		start, err1 := e.GetStartAt()
		end, err2 := e.GetEndAt()
		if err1 != nil || err2 != nil || !start.Equal(want.Start) || !end.Equal(want.End) {
			t.Errorf("event %d: %v to %v, %v %v", i, start, end, err1, err2)
		}
		text := func(p ics.ComponentProperty) string { return e.GetProperty(p).Value }
		if got := text(ics.ComponentPropertySummary); got != want.Summary {
			t.Errorf("event %d: summary %q, want %q", i, got, want.Summary)
		}
		if got := text(ics.ComponentPropertyDescription); got != strings.ReplaceAll(want.Description, "\x01", " ") {
			t.Errorf("event %d: description %q, want %q", i, got, want.Description)
		}
		if free := e.GetProperty(ics.ComponentPropertyTransp) != nil; free != want.Free {
			t.Errorf("event %d: free %v", i, free)
		}
		if e.Id() != want.UID {
			t.Errorf("event %d: UID %q", i, e.Id())
		}
	}
}

// Lines end in CRLF and are at most 75 octets long, characters whole.
func TestCalendarLines(t *testing.T) {
	var b strings.Builder
	if err := Calendar(&b, calendarEvents); err != nil {
		t.Fatal(err)
	}
	text := b.String()
	if strings.Count(text, "\n") != strings.Count(text, "\r\n") || !strings.HasSuffix(text, "END:VCALENDAR\r\n") {
		t.Error("a line doesn't end in CRLF")
	}
	folded := 0
	for line := range strings.SplitSeq(strings.TrimSuffix(text, "\r\n"), "\r\n") {
		if len(line) > 75 || strings.ToValidUTF8(line, "") != line {
			t.Errorf("%d octets: %q", len(line), line)
		}
		if strings.HasPrefix(line, " ") {
			folded++
		}
	}
	if folded < 5 {
		t.Errorf("only %d folds: the texts are too short to show any", folded)
	}
}

package render

import (
	"bufio"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"farhop/cmd/farhop/internal/view"
)

// Calendar writes an answer's entries as iCalendar (RFC 5545): lines end in
// CRLF, are folded after at most 75 octets, never inside a character (section
// 3.1), and texts are escaped (section 3.3.11).
func Calendar(w io.Writer, a view.Scheduled) error {
	at, events := a.Events()
	b := bufio.NewWriter(w)
	line := func(name, value string) { writeFolded(b, name+":"+value) }
	line("BEGIN", "VCALENDAR")
	line("VERSION", "2.0")
	line("PRODID", "-//farhop//timetable//EN")
	for _, e := range events {
		line("BEGIN", "VEVENT")
		line("UID", calendarText(e.UID))
		line("DTSTAMP", calendarTime(at))
		line("DTSTART", calendarTime(e.Start))
		line("DTEND", calendarTime(e.End))
		line("SUMMARY", calendarText(e.Summary))
		line("DESCRIPTION", calendarText(e.Description))
		if e.Free {
			line("TRANSP", "TRANSPARENT")
		}
		line("END", "VEVENT")
	}
	line("END", "VCALENDAR")
	return b.Flush()
}

func calendarTime(t time.Time) string { return t.UTC().Format("20060102T150405Z") }

// calendarText escapes a text; control characters, which can't stand in one,
// become spaces.
func calendarText(s string) string {
	var b strings.Builder
	for _, r := range strings.ReplaceAll(s, "\r\n", "\n") {
		switch {
		case r == '\\' || r == ';' || r == ',':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r < ' ' && r != '\t' || r == 0x7f:
			b.WriteByte(' ')
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// foldAt is the most octets in a line, its end aside.
const foldAt = 75

func writeFolded(b *bufio.Writer, s string) {
	used := 0
	for _, r := range s {
		n := utf8.RuneLen(r)
		if used+n > foldAt {
			b.WriteString("\r\n ")
			used = 1
		}
		b.WriteRune(r)
		used += n
	}
	b.WriteString("\r\n")
}

// Package view holds what an answer says, ready to be written in any format:
// the figures, with the names scripts rely on, and the words a person reads.
// Text, CSV and JSON are made from the same value, so they can't disagree.
package view

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Clock tells times: in UTC, and in local time beside it when a zone is set.
type Clock struct {
	Zone *time.Location // nil = UTC only
	Day  time.Time      // the moment; times on another UTC day carry their date
}

// At tells a time as 06:40Z, with its date when that isn't the clock's day,
// with seconds when there are any.
func (c Clock) At(t time.Time) string {
	t = t.UTC()
	layout := "15:04Z"
	if t.Second() != 0 {
		layout = "15:04:05Z"
	}
	if !sameDay(t, c.Day.UTC()) {
		layout = "2 Jan " + layout
	}
	s := t.Format(layout)
	if c.Zone != nil {
		s += t.In(c.Zone).Format(" (15:04 local)")
	}
	return s
}

// Short tells a time for a narrow column, in UTC to the next full minute, with
// its date only when it isn't within a day of the clock's own time.
func (c Clock) Short(t time.Time) string {
	return c.Slot(t.Add(time.Minute - 1).Truncate(time.Minute))
}

// Slot tells when a slot begins or ends, for a narrow column: in UTC to the second, with
// its date only when it isn't within a day of the clock's own time.
func (c Clock) Slot(t time.Time) string { return Clock{Day: c.within(t)}.At(t) }

// within is a day by which a time is told without its date when it is within a day of
// the clock's own.
func (c Clock) within(t time.Time) time.Time {
	if d := t.Sub(c.Day); d >= 0 && d < 24*time.Hour {
		return t
	}
	return c.Day
}

// Date tells a time with its full date.
func (c Clock) Date(t time.Time) string {
	s := t.UTC().Format("2006-01-02 15:04Z")
	if c.Zone != nil {
		s += t.In(c.Zone).Format(" (15:04 local)")
	}
	return s
}

func sameDay(a, b time.Time) bool {
	ay, am, ad := a.Date()
	by, bm, bd := b.Date()
	return ay == by && am == bm && ad == bd
}

// likelyFrom is from where on a chance is called likely: what rounds to 8 in 10.
const likelyFrom = 0.75

// Chance says a chance in plain words: 'likely, about 8 in 10'.
func Chance(p float64) string {
	switch {
	case math.IsNaN(p):
		return "unknown"
	case p >= 0.995:
		return "almost certain, over 99 in 100"
	case p >= 0.95:
		return fmt.Sprintf("almost certain, about %d in 100", int(math.Round(p*100)))
	case p < 0.005:
		return "no real hope, under 1 in 100"
	case p < 0.05:
		return fmt.Sprintf("very unlikely, about %d in 100", int(math.Round(p*100)))
	}
	word := "unlikely"
	switch {
	case p >= likelyFrom:
		word = "likely"
	case p >= 0.55:
		word = "more likely than not"
	case p >= 0.45:
		word = "an even chance"
	case p >= 0.25:
		word = "less likely than not"
	}
	return fmt.Sprintf("%s, about %d in 10", word, int(math.Round(p*10)))
}

// Percent writes a share as whole per cent, and never 100 % or 0 % for what
// isn't quite that.
func Percent(p float64) string {
	switch {
	case math.IsNaN(p):
		return "?"
	case p >= 1-1e-9:
		return "100 %"
	case p >= 0.995:
		return "99+ %"
	case p <= 0:
		return "0 %"
	case p < 0.005:
		return "<1 %"
	}
	return strconv.Itoa(int(math.Round(p*100))) + " %"
}

// Percents is Percent without the sign, for a column headed with it.
func Percents(p float64) string { return strings.TrimSuffix(Percent(p), " %") }

// DrawnPercents is Percents for a share of random draws: that all or none of them turned
// out so doesn't make it certain.
func DrawnPercents(p float64) string { return Percents(min(max(p, 1e-6), 1-1e-6)) }

// After tells the time so many minutes after t, to the next full minute.
func (c Clock) After(t time.Time, minutes float64) string {
	return c.At(t.Add(time.Duration(minutes * float64(time.Minute))).Add(time.Minute - 1).Truncate(time.Minute))
}

// Whole writes a figure rounded to a whole number, and nothing as -0.
func Whole(f float64) string {
	s := strconv.FormatFloat(f, 'f', 0, 64)
	if s == "-0" {
		return "0"
	}
	return s
}

// Age says how long ago something was.
func Age(d time.Duration) string {
	switch {
	case d < 0:
		return "ahead"
	case d < time.Minute:
		return strconv.Itoa(int(d.Seconds())) + " s"
	case d < 100*time.Minute:
		return strconv.Itoa(int(d.Minutes())) + " min"
	case d < 48*time.Hour:
		return strconv.Itoa(int(d.Hours()+0.5)) + " h"
	}
	return strconv.Itoa(int(d.Hours()/24+0.5)) + " d"
}

// Count writes a number with its noun: '1 report', '12,345 reports'.
func Count(n int, singular, plural string) string {
	if n == 1 {
		return "1 " + singular
	}
	return Grouped(n) + " " + plural
}

// Grouped writes a whole number with commas between thousands.
func Grouped(n int) string {
	s := strconv.Itoa(n)
	sign := ""
	if n < 0 {
		sign, s = "-", s[1:]
	}
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return sign + s
}

// Names joins names as a person would: 'A, B and C'.
func Names(names []string) string {
	switch len(names) {
	case 0:
		return "none"
	case 1:
		return names[0]
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// sortStable sorts by less, keeping the order of equals.
func sortStable[T any](s []T, less func(a, b *T) bool) {
	slices.SortStableFunc(s, func(a, b T) int {
		switch {
		case less(&a, &b):
			return -1
		case less(&b, &a):
			return 1
		}
		return 0
	})
}

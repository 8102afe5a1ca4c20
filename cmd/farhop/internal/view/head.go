package view

import (
	"fmt"
	"strings"
	"time"
)

// Caution stands under every answer.
const Caution = "Estimates from past reports, not a guarantee, and not to be the only means for safety of life. " +
	"Your licence, local rules and licensed practice come first."

// Head is what every answer starts and ends with.
type Head struct {
	Net      string    `json:"net"`
	At       time.Time `json:"at"`                 // the moment the answer is for
	Evidence *Evidence `json:"evidence,omitempty"` // nil when no observations were given
	Assumed  []string  `json:"assumed,omitempty"`  // what-if: what differs from the plan
	Compared *Compared `json:"compared,omitempty"` // the answer in short without and with that
	Warnings []Warning `json:"warnings"`
	Caution  string    `json:"caution"`
	Clock    Clock     `json:"-"`
	// Next are commands worth trying next.
	Next []string `json:"-"`
}

// Warning is something the reader should know about an answer.
type Warning struct {
	Code     string   `json:"code"` // short and stable, for scripts
	Message  string   `json:"message"`
	Stations []string `json:"stations,omitempty"`
}

// Evidence accounts for the observations behind an answer:
// Read = Used + Duplicate + OutsideWindow + OutsideNet + Rejected.
type Evidence struct {
	Read          int        `json:"read"`
	Used          int        `json:"used"`
	Duplicate     int        `json:"duplicate"`
	OutsideWindow int        `json:"outside_window"` // before the time window, or after the moment
	AfterMoment   int        `json:"after_moment"`   // of these, after the moment
	OutsideNet    int        `json:"outside_net"`    // no member at either end, or no channel on that band
	Rejected      int        `json:"rejected"`
	Newest        *time.Time `json:"newest"`
	NewestMinutes *float64   `json:"newest_age_minutes"`
}

// open starts a document with the moment and the evidence behind it.
func (h *Head) open(title string) Document {
	var d Document
	first := "For " + h.Clock.Date(h.At) + "; "
	switch {
	case h.Evidence == nil:
		first += "no observations given, only what the plan states."
	case h.Evidence.Newest == nil:
		first += "no evidence yet."
	default:
		first += "the newest evidence is " + Age(h.At.Sub(*h.Evidence.Newest)) + " old."
	}
	if e := h.Evidence; e != nil {
		first += "\n" + e.String()
	}
	if len(h.Assumed) > 0 {
		first += "\nAssumed, against the plan: " + strings.Join(h.Assumed, "; ") + "." + h.Compared.said()
	}
	d.Say(first)
	if title != "" {
		d.Title(title)
	}
	return d
}

// String accounts for the reports in one sentence.
func (e *Evidence) String() string {
	parts := []string{Grouped(e.Used) + " used"}
	for _, p := range []struct {
		n    int
		text string
	}{
		{e.Duplicate, "duplicate"},
		{e.OutsideWindow - e.AfterMoment, "before the time window"},
		{e.AfterMoment, "after the moment, set apart"},
		{e.OutsideNet, "outside the net"},
		{e.Rejected, "rejected"},
	} {
		if p.n > 0 {
			parts = append(parts, Grouped(p.n)+" "+p.text)
		}
	}
	return fmt.Sprintf("%s read: %s.", Count(e.Read, "report", "reports"), strings.Join(parts, ", "))
}

// close ends a document with the warnings, the caution and what to try next.
func (h *Head) close(d *Document, notes ...string) {
	for _, w := range h.Warnings {
		notes = append(notes, w.Message)
	}
	d.Note(append(notes, h.Caution)...)
	if len(h.Next) > 0 {
		d.Say("Next:")
		d.Try(h.Next...)
	}
}

// number points to a figure, or to nothing when it is unknown.
func number(f *float64, text func(float64) string, unknown string) string {
	if f == nil {
		return unknown
	}
	return text(*f)
}

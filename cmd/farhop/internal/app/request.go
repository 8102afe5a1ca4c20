// Package app answers one question at a time: it turns a request into a plan
// and its evidence, has the libraries work, and puts the result into a view.
// The command line, and any other front, fill the same request.
package app

import (
	"fmt"
	"io"
	"strings"
	"time"

	"farhop/cmd/farhop/internal/view"
)

// Request is what was asked. Zero values are the defaults, as DefaultRequest
// sets them.
type Request struct {
	Plan         string   // plan file
	Observations []string // files, folders, "-"
	Heard        []string // typed lists
	At           string   // RFC 3339, "now" or "newest"
	Window       time.Duration
	Zone         string // ±HH:MM, "" = UTC only
	Rejects      string // file that takes rejected lines, "" = none
	MaxRejected  float64
	Seed         uint64
	WhatIf       WhatIf

	From, To   string // stations; To may list several with commas
	ToRole     string
	Characters int
	Text       string
	Deadline   string // duration or RFC 3339 time
	Order      string
	Chains     int
	Relays     int
	Depart     string
	Confirm    bool
	Both       bool
	Inferred   bool
	Unknown    bool
	Blind      int
	AnyRelay   bool   // the whole message over whoever hears it
	Explain    bool   // why the first chain is as it is
	Form       string // of the text: plain (default) or radiogram
	Radiogram  Radiogram

	Traffic        string // file with messages, "" = the plan's
	DoneList       string // file that says what has become of some, "" = nothing yet
	Margin         float64
	CatchUp        time.Duration
	Horizon        time.Duration
	Late           bool
	Exercise       bool
	Station        string  // one station's part only, "" = all
	Printed        string  // when a brief is printed: a time or now, "" = now where the plan is for now
	SpareBatteries bool    // relays that would reach their reserve only where nothing else leads there
	Charge         float64 // of batteries at the start, a share
	Usable         float64 // share of their capacity left by cold and age

	Runs int // of a simulation

	View      string // of a drawing: map, diagram or matrix, "" = what suits
	Centre    string // station in the centre of a map, "" = the middle of the net
	Threshold float64
	TwoWay    bool
	Pairs     []string
	Hours     bool // through the day
	Reinforce int  // how many changes to look for, 0 = none

	Channel   string // one channel only, "" = all
	KnownOnly bool   // only known links
}

// DefaultRequest is a request with every default filled in.
func DefaultRequest() Request {
	return Request{
		Plan: "plan.yaml", At: "now", MaxRejected: 0.01,
		Characters: 100, Deadline: "4h", Order: "surest", Chains: 3, Relays: 4, Depart: "now",
		Radiogram: Radiogram{Number: 1, Precedence: "routine"},
		Margin:    0.8, CatchUp: 5 * time.Minute, Horizon: 24 * time.Hour, Charge: 1, Usable: 1, Runs: 200_000, Threshold: 0.5,
	}
}

// Environment is what a request may not choose: the clock and the streams.
type Environment struct {
	Now   time.Time
	Stdin io.Reader
	// Progress is told the bytes of observations read so far; may be nil.
	Progress func(bytes int64)
}

// UsageError is a question asked wrongly.
type UsageError struct{ Message string }

func (e *UsageError) Error() string { return e.Message }

func usagef(format string, args ...any) error {
	return &UsageError{Message: fmt.Sprintf(format, args...)}
}

// EmptyError is a question answered with nothing, or from input of which too
// much was unusable. The answer, if any, has been written.
type EmptyError struct{ Message string }

func (e *EmptyError) Error() string { return e.Message }

// zone reads ±HH:MM.
func zone(s string) (*time.Location, error) {
	if s == "" {
		return nil, nil
	}
	t, err := time.Parse("-07:00", s)
	if err != nil {
		return nil, usagef("--zone %q: write an offset such as -03:00 or +05:30", s)
	}
	_, offset := t.Zone()
	return time.FixedZone(s, offset), nil
}

// moment reads --at. newest is true when the newest report decides.
func (r Request) moment(now time.Time) (t time.Time, newest bool, err error) {
	switch r.At {
	case "", "now":
		return now.UTC().Truncate(time.Second), false, nil
	case "newest":
		return time.Time{}, true, nil
	}
	t, err = time.Parse(time.RFC3339, r.At)
	if err != nil {
		return time.Time{}, false, usagef("--at %q: write a time such as 2026-03-02T18:00:00Z, or now, or newest", r.At)
	}
	return t.UTC().Truncate(time.Second), false, nil
}

// deadline reads --deadline as a time span from the moment.
func (r Request) deadline(at time.Time) (time.Duration, error) {
	s := strings.TrimSpace(r.Deadline)
	if d, err := time.ParseDuration(s); err == nil {
		if d <= 0 || d > 14*24*time.Hour {
			return 0, usagef("--deadline %q: write a time span over zero and up to 336h", s)
		}
		return d, nil
	}
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		return 0, usagef("--deadline %q: write a time span such as 90m or 4h, or a time such as 2026-03-02T18:00:00Z", s)
	}
	d := t.Sub(at)
	if d <= 0 {
		return 0, usagef("--deadline %q is not after the moment planned for, %s", s, at.Format(time.RFC3339))
	}
	return d, nil
}

// clock tells times as the request wants them.
func (r Request) clock(at time.Time) (view.Clock, error) {
	z, err := zone(r.Zone)
	return view.Clock{Zone: z, Day: at}, err
}

package view

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Explanation says why the first chain is as it is: what is expected of each slot,
// what each relay is worth, and what one more report would settle.
type Explanation struct {
	Slots   []ExpectedSlot `json:"slots"`   // those in which something may be keyed
	Without []WithoutRelay `json:"without"` // a relay of the first chain each
	Report  *OneMoreReport `json:"one_more_report"`
	idle    []idleRun
}

// ExpectedSlot is what to expect of one slot.
type ExpectedSlot struct {
	Start     time.Time `json:"start"`
	Keys      []Keying  `json:"keys"`  // the most likely first
	Holds     []float64 `json:"holds"` // chance that each station of the chain has the message by the end of the slot
	Delivered float64   `json:"delivered"`
}

// Keying is a station keying in a slot.
type Keying struct {
	Station string  `json:"station"`
	Act     string  `json:"act"` // sends, polls, acknowledges
	Chance  float64 `json:"chance"`
}

// idleRun is why nobody is expected to key from before a slot on.
type idleRun struct {
	before int // index into Slots
	start  time.Time
	why    string
}

// Idle says why nobody is expected to key from a time on until the next slot told.
func (e *Explanation) Idle(start time.Time, why string) {
	if n := len(e.idle); n > 0 && e.idle[n-1].before == len(e.Slots) && e.idle[n-1].why == why {
		return
	}
	e.idle = append(e.idle, idleRun{len(e.Slots), start, why})
}

// WithoutRelay is the best chain when a relay is off.
type WithoutRelay struct {
	Station             string   `json:"station"`
	Stations            []string `json:"stations"` // none when there is no chain
	DeliveredByDeadline float64  `json:"delivered_by_deadline"`
}

// OneMoreReport is what one more report on the weakest hop would settle.
type OneMoreReport struct {
	From      string    `json:"from"`
	To        string    `json:"to"`
	Channel   string    `json:"channel"`
	At        time.Time `json:"at"`              // the standard deviations are for then
	SDNow     float64   `json:"snr_sd_db"`       // as things stand
	SDAfter   float64   `json:"snr_sd_db_after"` // after one more report now
	KnownSlot bool      `json:"in_window_now"`   // the channel is open to both now
}

// WouldMake is the deadline by which the message would likely be there.
type WouldMake struct {
	Deadline            time.Time `json:"deadline"`
	Minutes             float64   `json:"minutes"` // after the start
	Stations            []string  `json:"stations"`
	DeliveredByDeadline float64   `json:"delivered_by_deadline"` // by that one
	Command             string    `json:"command"`
}

// Radiogram is a message in the form in which traffic nets pass it.
type Radiogram struct {
	Preamble  string   `json:"preamble"`
	Check     string   `json:"check"`
	Address   string   `json:"address"`
	Text      string   `json:"text"`
	Signature string   `json:"signature"`
	Keyed     string   `json:"keyed"` // as it is keyed, all of it
	Lines     []string `json:"-"`     // the same in its parts
}

// asKeyed shows the form.
func (v *Route) asKeyed(d *Document) {
	if v.Radiogram == nil {
		return
	}
	d.Title("The message as it is keyed")
	d.Say(strings.Join(v.Radiogram.Lines, "\n"))
}

// instead says which deadline would be made, "" where this one is.
func (v *Route) instead() string {
	switch w := v.WouldMake; {
	case w != nil:
		return "It would be likely (8 in 10) by " + v.Clock.At(w.Deadline) + ", over " + strings.Join(w.Stations, Arrow) + "."
	case v.SearchedHours > 0 && len(v.Chains) == 0:
		return fmt.Sprintf("No deadline within %g hours was found by which it would be likely (8 in 10).", v.SearchedHours)
	case v.SearchedHours > 0:
		return fmt.Sprintf("No deadline within %g hours was found by which it would be likely (8 in 10): more time alone doesn't help.", v.SearchedHours)
	}
	return ""
}

// duplicates is the rule for stations that get a message twice.
const duplicates = "A station that has the message already acknowledges it when it comes again, and doesn't relay it again."

// explained shows the explanation of the first chain.
func (v *Route) explained(d *Document, c *Chain) {
	e := v.Explanation
	if e == nil {
		return
	}
	d.Title("First chain, slot by slot")
	numbered := make([]string, len(c.Stations))
	for i, call := range c.Stations {
		numbered[i] = strconv.Itoa(i+1) + " " + call
	}
	d.Say(strings.Join(numbered, Arrow) + ". In the columns: the chance in % that the station has the message by the end of the slot.")
	d.Add(e.table(v.Clock, c))
	d.Title("What makes the difference")
	var lines []string
	for _, w := range e.Without {
		s := "With " + w.Station + " off: "
		if len(w.Stations) == 0 {
			s += "no chain"
		} else {
			s += Percent(w.DeliveredByDeadline) + ", by " + strings.Join(w.Stations, Arrow)
		}
		lines = append(lines, s+" (with it "+Percent(c.DeliveredByDeadline)+").")
	}
	if len(e.Without) == 0 {
		lines = append(lines, "The first chain has no relay to lose.")
	}
	d.Say(strings.Join(append(lines, e.report(v.Clock, c)), "\n"))
}

func (e *Explanation) report(clock Clock, c *Chain) string {
	if r := e.Report; r != nil {
		when := "now"
		if !r.KnownSlot {
			when = "now (the channel isn't open to both, so take it as a figure)"
		}
		return fmt.Sprintf("One more report on %s%s%s (%s) %s would narrow its SNR from ± %.1f to ± %.1f dB for %s.",
			r.From, Arrow, r.To, r.Channel, when, r.SDNow, r.SDAfter, clock.At(r.At))
	}
	h := &c.Hops[c.Weakest]
	return "The plan states " + h.From + Arrow + h.To + ": a report would settle nothing."
}

const (
	likelyKeying = 0.2  // from here on a slot has a line of its own
	toldKeying   = 0.05 // from here on a station is named in it
	sureKeying   = 0.95 // from here on the chance isn't said
	mostLines    = 120
)

func (e *Explanation) table(clock Clock, c *Chain) *Table {
	t := &Table{Columns: []Column{{Head: "AT"}}, Empty: "Nothing is likely to be keyed by the deadline."}
	for i, call := range c.Stations[1:] {
		t.Columns = append(t.Columns, Column{Head: strconv.Itoa(i + 2), Right: true, Name: call + " has it"})
	}
	t.Columns = append(t.Columns, Column{Head: "EXPECTED", Name: "expected:"})
	idle, held := e.idle, ""
	for i := range e.Slots {
		for len(idle) > 0 && idle[0].before <= i {
			held = e.wait(t, clock, idle[0], held)
			idle = idle[1:]
		}
		s := &e.Slots[i]
		what := s.expected()
		if what == "" {
			what = "perhaps fills or polls"
			if held == what {
				continue
			}
		}
		held = what
		if len(t.Rows) == mostLines {
			t.Rows = append(t.Rows, s.row(clock, "and so on; --format json has every slot"))
			return t
		}
		t.Rows = append(t.Rows, s.row(clock, what))
	}
	if n := len(e.Slots); n > 0 && held == "perhaps fills or polls" {
		t.Rows = append(t.Rows, e.Slots[n-1].row(clock, "the last slot with any"))
	}
	return t
}

// wait adds a line for slots without keying, unless the last line says the same.
func (e *Explanation) wait(t *Table, clock Clock, run idleRun, held string) string {
	if held == run.why || held == "perhaps fills or polls" && run.why == Turnaround {
		return held
	}
	row := ExpectedSlot{Start: run.start, Holds: []float64{1}}
	if run.before > 0 {
		row.Holds = e.Slots[run.before-1].Holds
	} else {
		row.Holds = make([]float64, len(t.Columns)-1)
	}
	t.Rows = append(t.Rows, row.row(clock, run.why))
	return run.why
}

// Turnaround is why nobody keys between a round and its acknowledgment.
const Turnaround = "turnaround"

func (s *ExpectedSlot) row(clock Clock, what string) []string {
	row := []string{clock.second(s.Start)}
	for _, p := range s.Holds[1:] {
		row = append(row, Percents(p))
	}
	return append(row, what)
}

// expected says who keys what, "" where nobody is likely to.
func (s *ExpectedSlot) expected() string {
	if len(s.Keys) == 0 || s.Keys[0].Chance < likelyKeying {
		return ""
	}
	var parts []string
	for _, k := range s.Keys {
		if k.Chance < toldKeying || len(parts) == 3 {
			break
		}
		part := k.Station + " " + k.Act
		if k.Chance < sureKeying {
			part += " " + Percent(k.Chance)
		}
		parts = append(parts, part)
	}
	return strings.Join(parts, ", ")
}

// second tells a time with its seconds, with its date once a day has passed.
func (c Clock) second(t time.Time) string {
	layout := "15:04:05Z"
	if t.Sub(c.Day) >= 24*time.Hour {
		layout = "2 Jan " + layout
	}
	return t.UTC().Format(layout)
}

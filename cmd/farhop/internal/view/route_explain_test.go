package view

import (
	"strings"
	"testing"
	"time"
)

// A slot with a likely keying has a line of its own; runs of others share one.
func TestExplanationTable(t *testing.T) {
	start := time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)
	at := func(slot int) time.Time { return start.Add(time.Duration(slot) * 40 * time.Second) }
	slot := func(i int, has float64, keys ...Keying) ExpectedSlot {
		return ExpectedSlot{Start: at(i), Keys: keys, Holds: []float64{1, has}, Delivered: has}
	}
	e := &Explanation{}
	e.Idle(at(0), "HARBOR waits: off the window of day, or off the air")
	e.Idle(at(1), "HARBOR waits: off the window of day, or off the air")
	e.Slots = append(e.Slots, slot(2, 0.8, Keying{"HARBOR", "sends", 1}))
	e.Idle(at(3), Turnaround)
	e.Slots = append(
		e.Slots, slot(4, 0.8, Keying{"MILL", "acknowledges", 0.8}, Keying{"HARBOR", "polls", 0.06}, Keying{"HARBOR", "sends", 0.01}),
		slot(5, 0.9, Keying{"HARBOR", "sends", 0.19}), slot(6, 0.92, Keying{"HARBOR", "sends", 0.1}), slot(7, 0.93, Keying{"HARBOR", "polls", 0.1}),
	)
	table := e.table(Clock{Day: start}, &Chain{Stations: []string{"HARBOR", "MILL"}})
	var got []string
	for _, row := range table.Rows {
		got = append(got, strings.Join(row, " | "))
	}
	want := []string{
		"18:00:00Z | 0 | HARBOR waits: off the window of day, or off the air",
		"18:01:20Z | 80 | HARBOR sends",
		"18:02:00Z | 80 | turnaround",
		"18:02:40Z | 80 | MILL acknowledges 80 %, HARBOR polls 6 %",
		"18:03:20Z | 90 | perhaps fills or polls",
		"18:04:40Z | 93 | the last slot with any",
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if s := (Clock{Day: start}).second(start.Add(25 * time.Hour)); s != "3 Mar 19:00:00Z" {
		t.Errorf("a day later: %s", s)
	}
}

func TestInstead(t *testing.T) {
	v := &Route{Head: Head{Clock: Clock{Day: time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)}}}
	if s := v.instead(); s != "" {
		t.Errorf("in time: %q", s)
	}
	v.SearchedHours = 48
	if s := v.instead(); !strings.Contains(s, "No deadline within 48 hours") {
		t.Errorf("never: %q", s)
	}
	v.WouldMake = &WouldMake{Deadline: time.Date(2026, 3, 3, 9, 30, 0, 0, time.UTC), Stations: []string{"A", "B"}}
	if s := v.instead(); s != "It would be likely (8 in 10) by 3 Mar 09:30Z, over A → B." {
		t.Errorf("later: %q", s)
	}
}

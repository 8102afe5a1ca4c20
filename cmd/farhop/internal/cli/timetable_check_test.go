package cli

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"farhop/cmd/farhop/internal/config"
	"farhop/mesh"
	"farhop/observations"
)

// printedTimetable is what the checker reads of a timetable: the printed JSON.
type printedTimetable struct {
	At            time.Time             `json:"at"`
	End           time.Time             `json:"end"`
	Margin        float64               `json:"margin"`
	CatchUp       float64               `json:"catch_up_minutes"`
	Transmissions []printedTransmission `json:"transmissions"`
	Messages      []printedMessage      `json:"messages"`
}

type printedTransmission struct {
	Message  string    `json:"message"`
	Hop      int       `json:"hop"`
	From     string    `json:"from"`
	To       []string  `json:"to"`
	Channel  string    `json:"channel"`
	OffsetHz int       `json:"offset_hz"`
	Start    time.Time `json:"start"`
	End      time.Time `json:"end"`
	Slots    int       `json:"slots"`
	Done     float64   `json:"done_by_end"`
}

type printedMessage struct {
	ID       string     `json:"id"`
	From     string     `json:"from"`
	To       string     `json:"to"`
	Ready    *time.Time `json:"ready"`
	Chain    []string   `json:"chain"`
	Arrival  *time.Time `json:"planned_arrival"`
	Deadline time.Time  `json:"deadline"`
	Fits     bool       `json:"fits"`
	WhyNot   string     `json:"why_not"`
	Missing  []string   `json:"not_covered"`
}

func readTimetable(t *testing.T, printed string) *printedTimetable {
	t.Helper()
	var p printedTimetable
	if err := json.Unmarshal([]byte(printed), &p); err != nil {
		t.Fatalf("%v in\n%s", err, printed)
	}
	return &p
}

// checker knows the plan, and who hears whom, and nothing of how timetables are
// made.
type checker struct {
	net   *mesh.Net
	links *mesh.Links
	p     *printedTimetable
	found []string
}

func newChecker(t *testing.T, plan, log string, p *printedTimetable) *checker {
	t.Helper()
	net, problems, err := config.LoadFile(plan)
	if err != nil || net == nil {
		t.Fatal(err, problems)
	}
	var heard *observations.Log
	if log != "" {
		heard, err = observations.Read(context.Background(), []observations.Input{{Path: log}}, observations.Options{Moment: p.At})
		if err != nil {
			t.Fatal(err)
		}
	}
	links, err := mesh.Learn(context.Background(), net, heard, p.At.Unix())
	if err != nil {
		t.Fatal(err)
	}
	return &checker{net: net, links: links, p: p}
}

func (c *checker) wrong(format string, args ...any) {
	c.found = append(c.found, fmt.Sprintf(format, args...))
}

// check returns every rule broken.
func (c *checker) check() []string {
	c.found = nil
	for i := range c.p.Transmissions {
		c.alone(&c.p.Transmissions[i])
		for j := range i {
			c.together(&c.p.Transmissions[i], &c.p.Transmissions[j])
		}
	}
	for i := range c.p.Messages {
		c.message(&c.p.Messages[i])
	}
	return c.found
}

func (c *checker) station(call string) int {
	i, ok := c.net.Find(call)
	if !ok {
		c.wrong("no station %s", call)
	}
	return i
}

// alone checks slots, windows, watch, offset and catch-up of one reservation.
func (c *checker) alone(x *printedTransmission) {
	length := int64(c.net.Slots.Length / time.Second)
	name := fmt.Sprintf("%s hop %d", x.Message, x.Hop)
	ch, ok := c.net.FindChannel(x.Channel)
	if !ok || len(x.To) == 0 {
		c.wrong("%s: channel %q, to %v", name, x.Channel, x.To)
		return
	}
	if x.Start.Unix()%length != 0 || x.End.Unix()-x.Start.Unix() != int64(x.Slots)*length || x.Slots < 1 {
		c.wrong("%s: %s to %s is not %d slots", name, x.Start, x.End, x.Slots)
	}
	if x.Start.Before(c.p.At) || x.End.After(c.p.End) {
		c.wrong("%s: outside the horizon", name)
	}
	if list := c.net.Channels[ch].OffsetsHz; len(list) > 0 && !slices.Contains(list, x.OffsetHz) || len(list) == 0 && x.OffsetHz != 0 {
		c.wrong("%s: offset %d isn't one of %v", name, x.OffsetHz, list)
	}
	for at := x.Start.Unix(); at < x.End.Unix(); at += length {
		for _, to := range x.To {
			if !c.net.OpenSlot(c.station(x.From), c.station(to), ch, at) {
				c.wrong("%s: %s and %s aren't both there at %d", name, x.From, to, at)
				return
			}
		}
		if free := int64(c.p.CatchUp * 60); free > 0 && (at+length-1)%3600 >= 3600-free {
			c.wrong("%s: in a catch-up block at %d", name, at)
			return
		}
	}
}

func (x *printedTransmission) stations() []string { return append([]string{x.From}, x.To...) }

// together checks that two reservations don't clash.
func (c *checker) together(x, y *printedTransmission) {
	from, to := max(x.Start.Unix(), y.Start.Unix()), min(x.End.Unix(), y.End.Unix())
	if from >= to {
		return
	}
	for _, a := range x.stations() {
		if slices.Contains(y.stations(), a) {
			c.wrong("%s is in %s and %s at once", a, x.Message, y.Message)
		}
	}
	if x.Channel != y.Channel || x.OffsetHz != y.OffsetHz {
		return
	}
	ch, _ := c.net.FindChannel(x.Channel)
	length := int64(c.net.Slots.Length / time.Second)
	for slot := from; slot < to; slot += length {
		at := slot - (slot-c.p.At.Unix())%900
		for _, a := range x.stations() {
			for _, b := range y.stations() {
				if c.hears(a, b, ch, at) || c.hears(b, a, ch, at) {
					c.wrong("%s hop %d and %s hop %d share %s at %d Hz, and %s and %s hear each other",
						x.Message, x.Hop, y.Message, y.Hop, x.Channel, x.OffsetHz, a, b)
					return
				}
			}
		}
	}
}

func (c *checker) hears(from, to string, channel int, unix int64) bool {
	e, ok := c.links.Edge(c.station(from), c.station(to), channel, unix)
	return ok && (!e.Known || e.Decode >= 0.05)
}

// message checks that a message's hops follow one another along its chain,
// in its time, as sure as the margin asks, and that what fits arrives.
func (c *checker) message(m *printedMessage) {
	var hops []*printedTransmission
	for i := range c.p.Transmissions {
		if x := &c.p.Transmissions[i]; x.Message == m.ID {
			hops = append(hops, x)
		}
	}
	slices.SortFunc(hops, func(a, b *printedTransmission) int { return a.Hop - b.Hop })
	has := map[string]time.Time{m.From: c.p.At}
	if m.Ready != nil {
		has[m.From] = *m.Ready
	}
	var last time.Time
	done := 1.0
	for i, x := range hops {
		since, ok := has[x.From]
		if x.Hop != i+1 || !ok || x.Start.Before(since) {
			c.wrong("%s hop %d: %s doesn't have it at %s", m.ID, x.Hop, x.From, x.Start)
		}
		for _, to := range x.To {
			if _, again := has[to]; again {
				c.wrong("%s: %s gets it twice", m.ID, to)
			}
			has[to] = x.End
		}
		if x.End.After(last) {
			last = x.End
		}
		level := 1 / float64(len(hops))
		if m.To == "every-member" {
			level = 1.0 / 3
		}
		if x.Done < math.Pow(c.p.Margin, level)-1e-9 {
			c.wrong("%s hop %d is done with %g only", m.ID, x.Hop, x.Done)
		}
		done *= x.Done
	}
	if m.To != "every-member" && len(hops) > 0 && done < c.p.Margin-1e-9 {
		c.wrong("%s is through with %g only", m.ID, done)
	}
	if (m.Arrival != nil) != (len(hops) > 0) || m.Arrival != nil && !m.Arrival.Equal(last) {
		c.wrong("%s: planned arrival %v, last reservation %s", m.ID, m.Arrival, last)
	}
	c.arrives(m, has, last, len(hops) > 0)
}

func (c *checker) arrives(m *printedMessage, has map[string]time.Time, last time.Time, any bool) {
	all := true
	if m.To == "every-member" {
		for i := range c.net.Stations {
			call := c.net.Stations[i].Call
			_, there := has[call]
			all = all && there
			if there == slices.Contains(m.Missing, call) {
				c.wrong("%s: whether %s gets it is told wrongly", m.ID, call)
			}
		}
	} else {
		_, all = has[m.To]
	}
	if m.Fits != (any && all && !last.After(m.Deadline)) {
		c.wrong("%s: fits is %v; through by %s, deadline %s", m.ID, m.Fits, last, m.Deadline)
	}
	if m.Fits != (m.WhyNot == "") {
		c.wrong("%s: fits is %v, but why not is %q", m.ID, m.Fits, m.WhyNot)
	}
}

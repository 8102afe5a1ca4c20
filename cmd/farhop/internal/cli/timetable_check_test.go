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
	Sendings int       `json:"sendings"`
	Frames   int       `json:"frames"`
	Done     float64   `json:"done_by_end"`
	Sent     float64   `json:"expected_frames_sent"`
	Answered float64   `json:"expected_frames_answered"`
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
	Chance   *float64   `json:"through_by_planned_arrival"`
	Changes  []string   `json:"would_fit_with"`
	Missing  []string   `json:"not_covered"`
	Has      []string   `json:"have_it"`
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
	c.duty()
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
	c.noise(x, name, ch)
	for at := x.Start.Unix(); at < x.End.Unix(); at += length {
		for _, v := range x.stations() {
			if !c.net.Listens(c.station(v), ch, at) {
				c.wrong("%s: %s isn't there at %d", name, v, at)
				return
			}
		}
		if v := c.speaksInQuiet(x, at, length); v != "" {
			c.wrong("%s: %s is quiet at %d", name, v, at)
			return
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
	if x.Channel != y.Channel {
		return
	}
	ch, _ := c.net.FindChannel(x.Channel)
	length := int64(c.net.Slots.Length / time.Second)
	between := max(x.OffsetHz-y.OffsetHz, y.OffsetHz-x.OffsetHz)
	for slot := from; slot < to; slot += length {
		at := slot - (slot-c.p.At.Unix())%900
		for _, a := range x.stations() {
			for _, b := range y.stations() {
				if (c.hears(a, b, ch, at) || c.hears(b, a, ch, at)) && (between == 0 || between < c.net.Limits.ClearHz) {
					c.wrong("%s hop %d and %s hop %d are %d Hz apart on %s, and %s and %s hear each other",
						x.Message, x.Hop, y.Message, y.Hop, between, x.Channel, a, b)
					return
				}
			}
		}
		if c.covers(x, y, ch, at) || c.covers(y, x, ch, at) {
			c.wrong("%s hop %d and %s hop %d are too unequal in level", x.Message, x.Hop, y.Message, y.Hop)
			return
		}
	}
}

// speakers are the stations that transmit in a reservation, listeners those that
// receive, each with the one it wants.
func (x *printedTransmission) speakers() []string {
	if x.Sendings > 0 {
		return []string{x.From}
	}
	return []string{x.From, x.To[0]}
}

func (x *printedTransmission) listeners() map[string]string {
	wants := map[string]string{}
	for _, to := range x.To {
		wants[to] = x.From
	}
	if x.Sendings == 0 {
		wants[x.From] = x.To[0]
	}
	return wants
}

// speaksInQuiet is a station that transmits in its quiet hours, second by second.
func (c *checker) speaksInQuiet(x *printedTransmission, at, length int64) string {
	for _, v := range x.speakers() {
		for second := at; second < at+length; second++ {
			of := int(second % 86400)
			if c.net.Limits.Quiet.Holds(of, 1) || c.net.Stations[c.station(v)].Quiet.Holds(of, 1) {
				return v
			}
		}
	}
	return ""
}

// covers reports whether somebody heard in one reservation is so much louder at a
// receiver of the other than what it wants that it covers that.
func (c *checker) covers(loud, soft *printedTransmission, ch int, at int64) bool {
	level := func(from, to string) (float64, bool) {
		e, ok := c.links.Edge(c.station(from), c.station(to), ch, at)
		return e.SNR, ok && e.HasSNR && (e.Known || e.Fixed)
	}
	for at1, wanted := range soft.listeners() {
		want, ok := level(wanted, at1)
		for _, other := range loud.speakers() {
			have, heard := level(other, at1)
			if ok && heard && c.hears(other, at1, ch, at) && have-want > c.net.Limits.SideBySideDB {
				return true
			}
		}
	}
	return false
}

// noise checks that nobody is to receive on an offset at which it hears noise.
func (c *checker) noise(x *printedTransmission, name string, ch int) {
	near := func(hz int) bool {
		d := max(hz-x.OffsetHz, x.OffsetHz-hz)
		return d == 0 || d < c.net.Limits.ClearHz
	}
	for v := range x.listeners() {
		bad := slices.ContainsFunc(c.net.Channels[ch].NoisyHz, near)
		for _, n := range c.net.Stations[c.station(v)].Noisy {
			bad = bad || n.Channel == ch && near(n.OffsetHz)
		}
		if bad {
			c.wrong("%s: %s hears noise at %d Hz", name, v, x.OffsetHz)
		}
	}
}

// duty checks each station's share of each clock hour, its soundings included; what
// is expected to be keyed is spread evenly over a reservation.
func (c *checker) duty() {
	length := int64(c.net.Slots.Length / time.Second)
	keyed := map[string]map[int64]float64{}
	add := func(call string, at int64, frames float64) {
		if keyed[call] == nil {
			keyed[call] = map[int64]float64{}
		}
		keyed[call][at/3600] += frames * float64(length) / 3600
	}
	for i := range c.p.Transmissions {
		x := &c.p.Transmissions[i]
		for at := x.Start.Unix(); at < x.End.Unix(); at += length {
			add(x.From, at, x.Sent/float64(x.Slots))
			if x.Sendings == 0 {
				add(x.To[0], at, x.Answered/float64(x.Slots))
			}
		}
	}
	for i := range c.net.Stations {
		for at := c.net.Slots.Start(c.p.At.Unix()); at < c.p.End.Unix(); at += length {
			if _, sounds := c.net.Sounds(i, at); sounds {
				add(c.net.Stations[i].Call, at, 1)
			}
		}
		call := c.net.Stations[i].Call
		for hour, share := range keyed[call] {
			if limit := c.net.Duty(i); share > limit+1e-4 {
				c.wrong("%s is on the air for %g of the hour at %d, more than %g", call, share, hour*3600, limit)
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
	ready := c.p.At
	if m.Ready != nil {
		ready = *m.Ready
	}
	has := map[string]time.Time{m.From: ready}
	for _, v := range m.Has {
		has[v] = ready
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

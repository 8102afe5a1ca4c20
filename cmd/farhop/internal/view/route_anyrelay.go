package view

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// AnyRelay is what the message would need if whoever hears it might take it on:
// transmissions of a single frame, a lower bound, and where it was asked for the
// whole message.
type AnyRelay struct {
	Transmissions            float64  `json:"transmissions"`
	SingleChainTransmissions float64  `json:"single_chain_transmissions"`
	TakeOn                   []TakeOn `json:"take_on"`
	Message                  *AnyPlan `json:"message,omitempty"`
}

// TakeOn lists who may take a frame on from a station, best placed first. Of a
// whole message: on which channel, and whose turn it is how long after the last
// frame; the station itself sends again last.
type TakeOn struct {
	Station string   `json:"station"`
	By      []string `json:"by"`
	Channel string   `json:"channel"`
	Turns   []Turn   `json:"turns,omitempty"`
}

// Turn is how long a station waits before it sends a whole message on.
type Turn struct {
	Station string  `json:"station"`
	Slots   int     `json:"wait_slots"` // usable slots that pass after the last frame
	Seconds float64 `json:"wait_seconds"`
}

// AnyPlan is what to expect when a whole message goes that way.
type AnyPlan struct {
	Exact bool   `json:"exact"`
	Runs  int    `json:"runs"` // played so many times, 0 where exact
	Seed  uint64 `json:"seed"`

	DeliveredByDeadline float64  `json:"delivered_by_deadline"`
	DeliveredLow        float64  `json:"delivered_low"` // 95 % interval, or the bounds of the exact figure
	DeliveredHigh       float64  `json:"delivered_high"`
	P50Minutes          *float64 `json:"p50_minutes"`
	P80Minutes          *float64 `json:"p80_minutes"`
	P90Minutes          *float64 `json:"p90_minutes"`
	AirtimeSeconds      float64  `json:"airtime_seconds"`
	AirtimeError        float64  `json:"airtime_standard_error_seconds"`
	Duplicates          float64  `json:"duplicates"` // stations that send on although one nearer already had
	DuplicatesError     float64  `json:"duplicates_standard_error"`
	NeedlessSendings    float64  `json:"needless_sendings"` // begun, first or again, although one nearer had already come on
	NeedlessError       float64  `json:"needless_sendings_standard_error"`
}

// anyRelay tells both.
func (v *Route) anyRelay(d *Document, best *Chain) {
	a := v.AnyRelay
	if a == nil {
		return
	}
	if m := a.Message; m != nil {
		d.Title("Any relay: whoever has the whole message sends it on")
		d.Say(fmt.Sprintf("%s sends all %s and listens. A station that then has the whole message sends it on in its turn, "+
			"unless it has heard one nearer %s by then; %s acknowledges. On silence the sender repeats all of it. "+
			"Waits are in minutes and seconds; slots taken by others don't count.",
			v.From, Count(v.Frames, "frame", "frames"), v.To, v.To))
		d.Add(a.turns())
		d.Say(m.told(v, best))
	}
	d.Say(fmt.Sprintf("If any station that hears a frame could take it on: %.1f transmissions a frame at the least, "+
		"against %.1f on the best single chain (a lower bound, with ideal coordination).",
		a.Transmissions, a.SingleChainTransmissions))
}

// turns is a row for each station that may have to send.
func (a *AnyRelay) turns() *Table {
	t := &Table{Columns: []Column{
		{Head: "AFTER", Name: "after a sending of"},
		{Head: "CHANNEL", Name: "on"},
		{Head: "IN TURN, SO LONG AFTER THE LAST FRAME", Name: "in turn after its last frame"},
	}}
	for _, o := range a.TakeOn {
		var turns []string
		for i, w := range o.Turns {
			turn := w.Station + " " + waiting(w.Seconds)
			if i == len(o.Turns)-1 {
				turn = w.Station + " again " + waiting(w.Seconds)
			}
			turns = append(turns, turn)
		}
		t.Rows = append(t.Rows, []string{o.Station, o.Channel, strings.Join(turns, ", ")})
	}
	return t
}

// waiting writes a wait in minutes and seconds, as on a watch.
func waiting(seconds float64) string {
	d := time.Duration(seconds * float64(time.Second)).Round(time.Second)
	return fmt.Sprintf("%d:%02d", int(d.Minutes()), int(d.Seconds())%60)
}

// told says what to expect, beside the best chain.
func (m *AnyPlan) told(v *Route, best *Chain) string {
	s := fmt.Sprintf("Delivered by %s: %s", v.Clock.At(v.Deadline), points(m.DeliveredByDeadline))
	if !m.Exact {
		s += fmt.Sprintf(" (%s to %s, %s plays, seed %d)", points(m.DeliveredLow), points(m.DeliveredHigh), Grouped(m.Runs), m.Seed)
	}
	s += fmt.Sprintf(", half of all tries %s, 8 in 10 %s; airtime %.0f s.", v.by(m.P50Minutes), v.by(m.P80Minutes), m.AirtimeSeconds)
	s += fmt.Sprintf(" The best chain: %s, half %s, 8 in 10 %s; airtime %.0f s.",
		points(best.DeliveredByDeadline), v.by(best.P50Minutes), v.by(best.P80Minutes), best.AirtimeSeconds)
	return s + fmt.Sprintf("\nStations that send on although one nearer already had, because they could not hear it: %s a message. "+
		"Needless sendings, repetitions among them: %s.", few(m.Duplicates), few(m.NeedlessSendings))
}

// by says by when a share of tries is through, or that it isn't by the deadline.
func (v *Route) by(minutes *float64) string {
	if minutes == nil {
		return "not by then"
	}
	return "by " + v.minute(minutes)
}

// points writes a chance to a tenth of a point, and doesn't call sure what isn't.
func points(p float64) string {
	switch {
	case p < 1 && p >= 0.9995:
		return "over 99.9 %"
	case p > 0 && p < 0.0005:
		return "under 0.1 %"
	}
	return strconv.FormatFloat(100*p, 'f', 1, 64) + " %"
}

// few writes a small mean number.
func few(n float64) string { return strconv.FormatFloat(n, 'f', 2, 64) }

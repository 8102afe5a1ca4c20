package view

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Timetable is a list of messages as slots.
type Timetable struct {
	Head
	Exercise      bool               `json:"exercise"`
	Start         time.Time          `json:"start"` // of the first slot
	End           time.Time          `json:"end"`   // of the horizon
	SlotSeconds   float64            `json:"slot_seconds"`
	Margin        float64            `json:"margin"`
	CatchUp       float64            `json:"catch_up_minutes"` // at the end of every hour
	Transmissions []Transmission     `json:"transmissions"`
	Messages      []PlannedMessage   `json:"messages"`
	Occupancy     float64            `json:"occupancy"` // share of the open channel slots in which something is reserved
	Stations      []TimetableStation `json:"stations"`
	OneAtATime    *OneAtATime        `json:"one_at_a_time"` // the same list with one hop at a time in the whole net
	ReservePassed []ReservePassed    `json:"reserve_passed"`
	LeftOut       []string           `json:"left_out"` // delivered or given up before, by the list of what is done
	Licensed      map[string]string  `json:"-"`
	Only          string             `json:"-"` // text for this station only
	Overrun       string             `json:"on_overrun"`
}

// Transmission is a reservation: frames, fills, turnarounds and acknowledgments
// all lie inside it.
type Transmission struct {
	Message  string    `json:"message"`
	Hop      int       `json:"hop"`
	From     string    `json:"from"`
	To       []string  `json:"to"`
	Channel  string    `json:"channel"`
	OffsetHz int       `json:"offset_hz"` // 0: the channel states none
	Start    time.Time `json:"start"`
	End      time.Time `json:"end"`
	Slots    int       `json:"slots"`
	Frames   int       `json:"frames"`
	Sendings int       `json:"sendings"` // of each frame, without acknowledgment; 0 = acknowledged
	Chance   float64   `json:"done_by_end"`
	Sent     float64   `json:"expected_frames_sent"`
	Answered float64   `json:"expected_frames_answered"`
	// Identification is how many of the frames, with all sendings, identify the station.
	Identification int `json:"identification_frames"`
}

// PlannedMessage is what becomes of a message.
type PlannedMessage struct {
	ID         string     `json:"id"`
	From       string     `json:"from"`
	To         string     `json:"to"`
	Precedence string     `json:"precedence"`
	Characters int        `json:"characters"`
	Ready      *time.Time `json:"ready"`
	Chain      []string   `json:"chain"`
	Arrival    *time.Time `json:"planned_arrival"`
	Chance     *float64   `json:"through_by_planned_arrival"`
	Deadline   time.Time  `json:"deadline"`
	Fits       bool       `json:"fits"`
	InPart     bool       `json:"fits_in_part"` // to all: goes out, but not to every member
	WhyNot     string     `json:"why_not"`
	Changes    []string   `json:"would_fit_with"` // any one of these
	Untried    bool       `json:"would_fit_with_incomplete"`
	Missing    []string   `json:"not_covered"` // members that a message to all does not reach
	Fewest     *bool      `json:"fewest"`      // for all: proven that no fewer transmissions reach the same members; null for one
	Has        []string   `json:"have_it"`     // members that a message to all has reached before
}

// TimetableStation is a station's share of the time.
type TimetableStation struct {
	Call      string    `json:"call"`
	Duty      float64   `json:"duty"`         // expected share of all slots in which it transmits, soundings included
	Limit     float64   `json:"duty_limit"`   // of the slots of a clock hour
	Busiest   float64   `json:"busiest_hour"` // its share of the clock hour in which it transmits most
	BusiestAt time.Time `json:"busiest_at"`   // begin of that hour
	Quiet     []string  `json:"quiet"`        // UTC hours in which it does not transmit
}

// OneAtATime tells what going side by side gains.
type OneAtATime struct {
	Fit      int        `json:"fit"`
	Last     *time.Time `json:"last"`      // when the last reservation ends
	SideLast *time.Time `json:"side_last"` // the same side by side
	// Slots is the slots of all reservations one after another, SideSlots those in which
	// anything is reserved, and Saved the difference: what goes on side by side.
	Slots     int `json:"slots"`
	SideSlots int `json:"side_slots"`
	Saved     int `json:"slots_saved"`
}

// Document tells the timetable by message, by slot and by station.
func (v *Timetable) Document() Document {
	title := "Timetable of " + v.Net + ", " + v.Clock.At(v.Start) + " to " + v.Clock.Date(v.End)
	if v.Exercise {
		title = "EXERCISE EXERCISE EXERCISE - " + title
	}
	d := v.open(title)
	if v.Only == "" {
		d.Say(v.summary())
		d.Add(v.messageTable())
		v.sayUnfit(&d)
		d.Title("By slot")
		d.Add(v.slotTable())
		d.Title("Shares of the time")
		d.Add(v.shareTable())
	}
	for _, s := range v.Stations {
		if v.Only != "" && s.Call != v.Only {
			continue
		}
		rows := v.duties(s.Call)
		if len(rows) == 0 && v.Only == "" {
			continue
		}
		d.Title(v.stationTitle(s))
		d.Add(&Table{Columns: []Column{{Head: "AT"}, {Head: "DO"}}, Rows: rows, Empty: "Nothing is planned for it."})
	}
	v.close(&d, v.notes()...)
	return d
}

func (v *Timetable) stationTitle(s TimetableStation) string {
	title := s.Call
	if l := v.Licensed[s.Call]; l != "" {
		title += " (" + l + ")"
	}
	if v.Exercise {
		title += ", EXERCISE"
	}
	title += ": keyed " + Percent(s.Duty) + " of the time"
	if s.Limit < 1 {
		title += fmt.Sprintf(", %s of its busiest hour, limit %s", Percent(s.Busiest), Percent(s.Limit))
	}
	return title
}

// shareTable tells each station's share of the time beside its limit.
func (v *Timetable) shareTable() *Table {
	t := &Table{Columns: []Column{
		{Head: "STATION"},
		{Head: "KEYED", Right: true, Name: "keyed"},
		{Head: "BUSIEST HOUR", Right: true, Name: "in its busiest hour"},
		{Head: "FROM", Name: "from"},
		{Head: "LIMIT", Right: true, Name: "limit"},
		{Head: "QUIET", Name: "quiet"},
	}}
	for _, s := range v.Stations {
		limit := "-"
		if s.Limit < 1 {
			limit = Percent(s.Limit)
		}
		t.Rows = append(t.Rows, []string{
			s.Call, Percent(s.Duty), Percent(s.Busiest), v.Clock.Short(s.BusiestAt), limit, orDash(strings.Join(s.Quiet, ", ")),
		})
	}
	return t
}

func orDash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}

func (v *Timetable) fit() (n int) {
	for i := range v.Messages {
		if v.Messages[i].Fits {
			n++
		}
	}
	return n
}

func (v *Timetable) summary() string {
	part := 0
	for i := range v.Messages {
		if v.Messages[i].InPart {
			part++
		}
	}
	s := fmt.Sprintf("%d of %s fit", v.fit(), Count(len(v.Messages), "message", "messages"))
	if part > 0 {
		s += fmt.Sprintf(", %d in part", part)
	}
	s += fmt.Sprintf(". Something is reserved in %s of the channels' open slots.", Percent(v.Occupancy))
	if a := v.OneAtATime; a != nil && a.Last != nil && a.SideLast != nil {
		s += fmt.Sprintf(" %s reserved, %s saved by going side by side; the last is through at %s. One hop at a time in the whole net, %d would fit, the last at %s.",
			Count(a.Slots, "slot is", "slots are"), Grouped(a.Saved), v.Clock.At(*a.SideLast), a.Fit, v.Clock.At(*a.Last))
	}
	return s
}

func (v *Timetable) messageTable() *Table {
	t := &Table{
		Columns: []Column{
			{Head: "MESSAGE"},
			{Head: "PRECEDENCE", Name: "precedence"},
			{Head: "THROUGH BY", Name: "through by"},
			{Head: "DEADLINE", Name: "deadline"},
			{Head: "CHAIN", Name: "by"},
		},
		Empty: "There are no messages: list them in the plan under traffic, or give --traffic FILE.",
	}
	for i := range v.Messages {
		m := &v.Messages[i]
		arrival := "-"
		if m.Arrival != nil {
			arrival = v.Clock.Short(*m.Arrival)
		}
		way := strings.Join(m.Chain, Arrow)
		switch {
		case m.To == EveryMember && m.Arrival != nil:
			way = m.From + Arrow + "all but " + Names(m.Missing)
			if len(m.Missing) == 0 {
				way = m.From + Arrow + "all"
			}
		case m.Arrival == nil:
			way = m.From + Arrow + m.To + ": does not fit"
		case !m.Fits:
			way += " (late)"
		}
		t.Rows = append(t.Rows, []string{m.ID, m.Precedence, arrival, v.Clock.Short(m.Deadline), way})
	}
	return t
}

// EveryMember is how a message to all stations is addressed.
const EveryMember = "every-member"

func (v *Timetable) sayUnfit(d *Document) {
	for i := range v.Messages {
		m := &v.Messages[i]
		if m.Fits {
			continue
		}
		s := m.ID + " does not fit: " + m.WhyNot + "."
		if m.InPart {
			s = m.ID + " does not reach all: " + m.WhyNot + "."
		}
		if len(m.Changes) > 0 {
			would := " It would fit with "
			if m.InPart {
				would = " It would reach all, or more, with "
			}
			s += would + strings.Join(m.Changes, ", or with ") + "."
		}
		if m.Untried {
			s += " Not every change was tried: too many messages don't fit."
		}
		d.Say(s)
	}
}

func (v *Timetable) slotTable() *Table {
	t := &Table{
		Columns: []Column{
			{Head: "FROM", Name: "from"},
			{Head: "UNTIL", Name: "until"},
			{Head: "ON", Name: "on"},
			{Head: "Hz", Right: true, Name: "at Hz"},
			{Head: "MESSAGE", Name: "message"},
			{Head: "FRAMES", Right: true, Name: "frames"},
			{Head: "WHO", Name: ""},
		},
		Empty: "Nothing is reserved.",
	}
	for i := range v.Transmissions {
		r := &v.Transmissions[i]
		frames := strconv.Itoa(r.Frames)
		if r.Sendings > 0 {
			frames += " ×" + strconv.Itoa(r.Sendings)
		}
		t.Rows = append(t.Rows, []string{
			v.Clock.At(r.Start), v.Clock.At(r.End), r.Channel, v.offset(r.OffsetHz), r.Message, frames,
			r.From + Arrow + strings.Join(r.To, ", "),
		})
	}
	return t
}

func (v *Timetable) offset(hz int) string {
	if hz == 0 {
		return "-"
	}
	return strconv.Itoa(hz)
}

// duties is what a station does, in order.
func (v *Timetable) duties(call string) (rows [][]string) {
	for i := range v.Transmissions {
		if do := v.duty(&v.Transmissions[i], call); do != "" {
			rows = append(rows, []string{v.Clock.At(v.Transmissions[i].Start), do})
		}
	}
	return rows
}

// duty is what a station does in a transmission, "" if nothing.
func (v *Timetable) duty(r *Transmission, call string) string {
	place := "on " + r.Channel
	if r.OffsetHz > 0 {
		place += fmt.Sprintf(" at %d Hz", r.OffsetHz)
	}
	frames := Count(r.Frames, "frame", "frames")
	until := v.Clock.At(r.End)
	switch {
	case r.From == call && r.Sendings > 0:
		return fmt.Sprintf("%s: send %s to %s %s, each %s, no answers, until %s",
			r.Message, frames, Names(r.To), place, Count(r.Sendings, "time", "times"), until)
	case r.From == call:
		return fmt.Sprintf("%s: send %s to %s %s, then listen until %s", r.Message, frames, Names(r.To), place, until)
	case contains(r.To, call) && r.Sendings > 0:
		return fmt.Sprintf("%s: listen for %s from %s %s until %s; don't answer", r.Message, frames, r.From, place, until)
	case contains(r.To, call):
		return fmt.Sprintf("%s: listen for %s from %s %s, acknowledge, until %s", r.Message, frames, r.From, place, until)
	}
	return ""
}

func contains(list []string, s string) bool {
	for _, v := range list {
		if v == s {
			return true
		}
	}
	return false
}

// notes explain what stands above: for one station, only what concerns it.
func (v *Timetable) notes() (notes []string) {
	if v.Only == "" {
		notes = append(notes, fmt.Sprintf("THROUGH BY: the end of its last reservation; in %s of evenings like those reported it is through by then.", Percent(v.Margin)))
	}
	notes = append(notes, "Frames sent again, turnarounds and acknowledgments lie inside the slots reserved.", v.Overrun)
	identify := 0
	for i := range v.Transmissions {
		if v.Only == "" || v.Transmissions[i].From == v.Only {
			identify += v.Transmissions[i].Identification
		}
	}
	if identify > 0 {
		notes = append(notes, fmt.Sprintf("%s of the frames sent %s the station.", Grouped(identify), map[bool]string{true: "identifies", false: "identify"}[identify == 1]))
	}
	if v.Only == "" {
		notes = append(append(notes, v.fewestNotes()...), v.doneNotes()...)
	}
	return notes
}

// fewestNotes tells which messages to all are known to take the fewest transmissions.
func (v *Timetable) fewestNotes() (notes []string) {
	var proven, open []string
	for i := range v.Messages {
		switch m := &v.Messages[i]; {
		case m.Fewest == nil || m.Arrival == nil:
		case *m.Fewest:
			proven = append(proven, m.ID)
		default:
			open = append(open, m.ID)
		}
	}
	const unanswered = " What several hear at once nobody acknowledges."
	if len(proven) > 0 {
		notes = append(notes, Names(proven)+" to all: no fewer transmissions reach the same members by the deadline."+unanswered)
	}
	if len(open) > 0 {
		notes = append(notes, Names(open)+" to all: the best found, not proven to be the fewest transmissions."+unanswered)
	}
	return notes
}

// doneNotes tells what the list of what is done has taken out.
func (v *Timetable) doneNotes() (notes []string) {
	if len(v.LeftOut) > 0 {
		notes = append(notes, "Not planned, being delivered or given up: "+Names(v.LeftOut)+".")
	}
	for i := range v.Messages {
		if m := &v.Messages[i]; len(m.Has) > 0 {
			notes = append(notes, m.ID+" is with "+Names(m.Has)+" already.")
		}
	}
	return notes
}

// Records gives the reservations as rows.
func (v *Timetable) Records() ([]string, [][]string) {
	names := []string{
		"start", "end", "slots", "channel", "offset_hz", "message", "hop", "from", "to", "frames", "sendings", "done_by_end", "exercise",
	}
	exercise := ""
	if v.Exercise {
		exercise = "EXERCISE"
	}
	var rows [][]string
	for i := range v.Transmissions {
		r := &v.Transmissions[i]
		rows = append(rows, []string{
			r.Start.Format(time.RFC3339), r.End.Format(time.RFC3339), strconv.Itoa(r.Slots), r.Channel, strconv.Itoa(r.OffsetHz),
			r.Message, strconv.Itoa(r.Hop), r.From, strings.Join(r.To, " "), strconv.Itoa(r.Frames), strconv.Itoa(r.Sendings), exact(r.Chance), exercise,
		})
	}
	return names, rows
}

// Event is an entry of a calendar.
type Event struct {
	UID         string
	Start, End  time.Time
	Summary     string
	Description string
	Free        bool // it takes nobody's time
}

// Scheduled is any answer that can stand in a calendar.
type Scheduled interface {
	// Events are the entries, at least one, and the moment they were made for.
	Events() (at time.Time, list []Event)
}

// Events gives the reservations, or what the one station asked for does in its own; where
// there are none, an entry that says so.
func (v *Timetable) Events() (at time.Time, list []Event) {
	for i := range v.Transmissions {
		r := &v.Transmissions[i]
		if v.Only != "" && v.duty(r, v.Only) == "" {
			continue
		}
		list = append(list, v.event(r))
	}
	if list == nil {
		who := v.Net
		if v.Only != "" {
			who = v.Only
		}
		list = []Event{{
			UID: fmt.Sprintf("none-%d-%s@farhop.invalid", v.Start.Unix(), v.Only), Start: v.Start, End: v.End,
			Summary: v.drill() + "Nothing is planned for " + who, Description: Caution, Free: true,
		}}
	}
	return v.At, list
}

// drill is what stands before everything in a drill.
func (v *Timetable) drill() string {
	if v.Exercise {
		return "EXERCISE "
	}
	return ""
}

func (v *Timetable) event(r *Transmission) Event {
	e := Event{
		UID:   fmt.Sprintf("%s-%d-%d-%s@farhop.invalid", r.Message, r.Hop, r.Start.Unix(), r.From),
		Start: r.Start, End: r.End, Summary: fmt.Sprintf("%s: %s to %s", r.Message, r.From, Names(r.To)),
	}
	what := fmt.Sprintf("%s on %s", Count(r.Frames, "frame", "frames"), r.Channel)
	if r.OffsetHz > 0 {
		what += fmt.Sprintf(" at %d Hz", r.OffsetHz)
	}
	if r.Sendings > 0 {
		what += fmt.Sprintf(", each %s, no answers", Count(r.Sendings, "time", "times"))
	}
	switch v.Only {
	case "":
	case r.From:
		e.Summary, what = r.Message+": send to "+Names(r.To), v.duty(r, v.Only)
	default:
		e.Summary, what = r.Message+": listen to "+r.From, v.duty(r, v.Only)
	}
	e.Summary = v.drill() + e.Summary
	e.Description = what + ".\n" + v.Overrun + "\n" + Caution
	return e
}

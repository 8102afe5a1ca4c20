package view

import (
	"fmt"
	"strconv"
	"strings"
)

// sheetDocument is one operator's sheet.
func (v *Brief) sheetDocument(s *Sheet) Document {
	var d Document
	d.Say(v.introduce(s))
	d.Title("Your watch")
	d.Add(v.watchTable(s))
	d.Say(strings.TrimSpace(soundings(s.Soundings) + " " + v.limits(&s.Member)))
	for i := range s.Plans {
		v.sayPlan(&d, s, i)
	}
	d.Say(v.sayFigures())
	d.Title("Your slots in the timetable")
	d.Add(&Table{Columns: []Column{{Head: "AT"}, {Head: "DO"}}, Rows: v.Timetable.duties(s.Member.Call), Empty: "Nothing is planned for you: keep your watch."})
	d.Say(v.unplanned(s))
	d.Title("When to give up, and what then")
	for _, rule := range v.rules() {
		d.Say(rule)
	}
	d.Title("Whom you hear (IN) and who hears you (OUT), hour by hour")
	d.Add(v.earshotTable(s))
	v.sayEarshot(&d, s)
	d.Title("To choose by hand: minutes until 8 in 10 are across")
	d.Add(v.Hand.table())
	d.Say(v.Hand.say())
	d.Title("Your battery")
	d.Say(v.sayBattery(s))
	d.Title("A new sheet by air, in a few frames")
	d.Say(v.sayShort(s))
	d.Title("Heard here")
	d.Say(s.typedBack())
	d.Add(logTable())
	return d
}

func (v *Brief) introduce(s *Sheet) string {
	m := &s.Member
	parts := []string{strconv.FormatFloat(m.PowerW, 'f', -1, 64) + " W"}
	if m.Locator != "" {
		parts = append([]string{m.Locator}, parts...)
	}
	if len(m.Roles) > 0 {
		parts = append(parts, Names(m.Roles))
	}
	if m.State != "" {
		parts = append(parts, m.State+" at this hour")
	}
	text := m.Call + ": " + strings.Join(parts, ", ") + "."
	if m.Licensed == "" {
		text += " A tactical call doesn't identify you on the air: write in your licensed call."
	}
	if s.From.After(v.At) {
		text += " You come on the air at " + v.Clock.At(s.From) + "; what follows is for then."
	}
	return text
}

func (v *Brief) watchTable(s *Sheet) *Table {
	t := &Table{Columns: []Column{{Head: "FROM, UTC"}, {Head: "UNTIL"}}, Empty: "You are never on the air, by the plan."}
	if v.Clock.Zone != nil {
		t.Columns = append(t.Columns, Column{Head: "LOCAL"})
	}
	t.Columns = append(t.Columns, Column{Head: "LISTEN ON", Name: "listen on"}, Column{Head: "kHz", Name: "kHz"}, Column{Head: "OFFSETS Hz", Name: "offsets Hz"})
	for _, w := range s.Watch {
		row := []string{clockTime(w.From) + "Z", clockTime(w.To) + "Z"}
		if v.Clock.Zone != nil {
			row = append(row, v.local(w.From)+"-"+v.local(w.To))
		}
		var kHz, offsets []string
		for _, name := range w.Channels {
			for i := range v.Channels {
				if c := &v.Channels[i]; c.Name == name {
					kHz = append(kHz, kilohertz(c.FrequencyHz))
					offsets = append(offsets, hertz(c.OffsetsHz))
				}
			}
		}
		listen := strings.Join(w.Channels, " and ")
		if len(w.Channels) == 0 {
			listen = "off the air"
		}
		if len(offsets) > 1 && strings.Join(offsets[1:], "") == strings.Repeat(offsets[0], len(offsets)-1) {
			offsets = offsets[:1]
		}
		t.Rows = append(t.Rows, append(row, listen, strings.Join(kHz, " and "), strings.Join(offsets, " / ")))
	}
	return t
}

// limits says when and how much the station may transmit at most.
func (v *Brief) limits(m *BriefMember) string {
	var parts []string
	if len(m.Quiet) > 0 {
		parts = append(parts, "Don't transmit at "+Names(v.windows(m.Quiet))+".")
	}
	if m.DutyLimit > 0 && m.DutyLimit < 1 {
		parts = append(parts, "Transmit in at most "+Percent(m.DutyLimit)+" of the slots of an hour.")
	}
	return strings.Join(parts, " ")
}

func soundings(list []BriefSounding) string {
	if len(list) == 0 {
		return ""
	}
	parts := make([]string, len(list))
	for i, p := range list {
		parts[i] = fmt.Sprintf("on %s every %s from %sZ on", p.Channel, span(float64(p.EverySeconds)), clockTime(p.AfterSeconds))
	}
	return "Sound " + strings.Join(parts, "; ") + "."
}

// sayPlan tells whom to send to from a time on.
func (v *Brief) sayPlan(d *Document, s *Sheet, i int) {
	p := &s.Plans[i]
	title := "Where to send from " + v.Clock.At(p.From) + " on"
	if i+1 < len(s.Plans) {
		title += ", until " + v.Clock.At(s.Plans[i+1].From)
	}
	if i == 0 {
		title += fmt.Sprintf(" (%s, %s)", Count(v.Characters, "character", "characters"), Count(v.Frames, "frame", "frames"))
	}
	d.Title(title)
	if len(p.Destinations) > mostSingly {
		d.Add(p.grouped())
	} else {
		d.Add(p.singly())
	}
	v.sayUnreached(d, p)
}

// mostSingly is up to how many destinations each have a line; more are put together by
// whom to send to.
const mostSingly = 24

// grouped is a table of whom to send to, for whom.
func (p *SheetPlan) grouped() *Table {
	t := &Table{
		Columns: []Column{
			{Head: "SEND TO"},
			{Head: "ON", Name: "on"},
			{Head: "GIVE UP", Right: true, Name: "give up after"},
			{Head: "BACKUP", Name: "backup"},
			{Head: "ON", Name: "on"},
			{Head: "FOR (%, 80% IN)", Name: "for"},
		},
		Empty: "No chain is known to anyone.",
	}
	rows := map[string]int{}
	for i := range p.Destinations {
		x := &p.Destinations[i]
		if x.Next == nil {
			continue
		}
		row := []string{*x.Next, x.Channel, minutes(x.GiveUpMinutes), "-", "", ""}
		if x.BackupNext != nil {
			row[3], row[4] = *x.BackupNext, x.BackupChannel
		}
		key := strings.Join(row, "\x00")
		k, have := rows[key]
		if !have {
			k = len(t.Rows)
			rows[key] = k
			t.Rows = append(t.Rows, row)
		} else {
			t.Rows[k][5] += ", "
		}
		t.Rows[k][5] += x.To + " (" + Percents(x.Delivered)
		if x.P80Minutes != nil {
			t.Rows[k][5] += ", " + minutes(x.P80Minutes)
		}
		t.Rows[k][5] += ")"
	}
	return t
}

// singly is a table of whom to send to for each destination.
func (p *SheetPlan) singly() *Table {
	t := &Table{
		Columns: []Column{
			{Head: "TO"},
			{Head: "SEND TO", Name: "send to"},
			{Head: "ON", Name: "on"},
			{Head: "%", Right: true, Chance: true, Name: "chance in per cent"},
			{Head: "80% IN", Right: true, Name: "8 in 10 in"},
			{Head: "GIVE UP", Right: true, Name: "give up after"},
			{Head: "BACKUP", Name: "backup"},
			{Head: "ON", Name: "on"},
			{Head: "%", Right: true, Chance: true, Name: "chance in per cent"},
		},
		Empty: "No chain is known to anyone.",
	}
	for i := range p.Destinations {
		x := &p.Destinations[i]
		if x.Next == nil {
			continue
		}
		row := []string{
			x.To, x.direct(*x.Next), x.Channel, Percents(x.Delivered), minutes(x.P80Minutes), minutes(x.GiveUpMinutes), "-", "", "",
		}
		if x.BackupNext != nil {
			copy(row[6:], []string{x.direct(*x.BackupNext), x.BackupChannel, Percents(*x.BackupDelivered)})
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func (x *Destination) direct(next string) string {
	if next == x.To {
		return "direct"
	}
	return next
}

// minutes writes a time span in whole minutes, rounded up, a dash for none.
func minutes(m *float64) string {
	return number(m, func(f float64) string { return Whole(float64(int(f+0.999))) + " min" }, "-")
}

func (v *Brief) sayFigures() string {
	return fmt.Sprintf("%%: chance to be there within %s. 80%% IN: when 8 of 10 tries are there. GIVE UP: so long after your first frame, then send by BACKUP: 19 of 20 "+
		"tries that ever get to the next station are there by then.", span(60*v.DeadlineMin))
}

func (v *Brief) sayUnreached(d *Document, p *SheetPlan) {
	var off, none []string
	for i := range p.Destinations {
		switch x := &p.Destinations[i]; {
		case x.Next != nil:
		case x.OnAirAt != nil:
			off = append(off, x.To+" until "+v.Clock.At(*x.OnAirAt))
		default:
			none = append(none, x.To)
		}
	}
	if off != nil {
		d.Say("Off the air: " + Names(off) + ".")
	}
	if none != nil {
		d.Say("No chain is known to " + Names(none) + ": hold what is for them.")
	}
}

// unplanned names one's own messages that have no slots.
func (v *Brief) unplanned(s *Sheet) string {
	var list []string
	for i := range v.Timetable.Messages {
		if m := &v.Timetable.Messages[i]; m.From == s.Member.Call && m.Arrival == nil {
			list = append(list, m.ID+" to "+m.To)
		}
	}
	if list == nil {
		return ""
	}
	return "No slots were found for " + Names(list) + ": ask the coordinator, or choose by hand."
}

// rules say how an exchange goes and how it ends.
func (v *Brief) rules() []string {
	s := &v.Slots
	most := "all frames"
	if s.Block > 0 {
		most = fmt.Sprintf("up to %s", Count(s.Block, "frame", "frames"))
	}
	return []string{
		fmt.Sprintf("Frame: %s, one slot of %s s, counted from 00:00:00Z; %s more for each message. A round: send %s, wait %s, listen for an answer of %s; it "+
			"names what to send again. No answer: send one frame as a poll.",
			Count(s.Characters, "character", "characters"), strconv.FormatFloat(s.Seconds, 'f', -1, 64), Count(s.Header, "frame", "frames"), most,
			Count(s.Turnaround, "slot", "slots"), Count(s.Ack, "frame", "frames")),
		fmt.Sprintf("Give up after %s without a full answer, or when the time under GIVE UP is over; then send by BACKUP. No backup: keep the message, tell "+
			"whoever gave it to you, and try again after the next change of channel or with a new sheet. %s", Count(s.Rounds, "round", "rounds"), v.Timetable.Overrun),
	}
}

// ruler is the head of a column of 24 hours, a mark every third.
func ruler(first int) string {
	var b strings.Builder
	for h := 0; h < 24; h += 3 {
		fmt.Fprintf(&b, "%02d.", (first+h)%24)
	}
	return b.String()
}

func (v *Brief) earshotTable(s *Sheet) *Table {
	hours := ruler(s.From.UTC().Hour())
	t := &Table{
		Columns: []Column{
			{Head: "STATION"},
			{Head: "IN dB", Right: true, Name: "you hear it at dB"},
			{Head: hours, Fixed: true, Name: "by hour"},
			{Head: "OUT dB", Right: true, Name: "it hears you at dB"},
			{Head: hours, Fixed: true, Name: "by hour"},
		},
		Empty: "Nobody is known to be in earshot: listen, and write down whom you hear.",
	}
	if len(s.Neighbours) > 0 && v.Clock.Zone != nil {
		local := ruler(s.From.In(v.Clock.Zone).Hour())
		t.Rows = append(t.Rows, []string{"local", "", local, "", local})
	}
	near, _ := s.nearest()
	for _, n := range near {
		t.Rows = append(t.Rows, []string{n.Call, n.Heard.level(), n.Heard.strip(), n.Hears.level(), n.Hears.strip()})
	}
	return t
}

// mostNeighbours is how many neighbours are told of hour by hour.
const mostNeighbours = 30

// nearest parts the neighbours that decode best through the day from the names of
// others, where they are too many.
func (s *Sheet) nearest() (near []*Neighbour, others []string) {
	sum := func(n *Neighbour) (sum float64) {
		for _, e := range []*Earshot{&n.Heard, &n.Hears} {
			for _, h := range e.Hours {
				if h.State == CellOpen {
					sum += h.Decode
				}
			}
		}
		return sum
	}
	for i := range s.Neighbours {
		near = append(near, &s.Neighbours[i])
	}
	if len(near) <= mostNeighbours {
		return near, nil
	}
	sortStable(near, func(a, b **Neighbour) bool { return sum(*a) > sum(*b) })
	for _, n := range near[mostNeighbours:] {
		others = append(others, n.Call)
	}
	near = near[:mostNeighbours]
	sortStable(near, func(a, b **Neighbour) bool { return (*a).Call < (*b).Call })
	return near, others
}

func (e *Earshot) level() string {
	return strings.ReplaceAll(giveOrTake(e.SNRDB, e.SNRSDDB), " ", "")
}

// strip is a sign an hour: tenths of the chance that a frame decodes, a question
// mark for too little known, a dash where the two share no watch.
func (e *Earshot) strip() string {
	var b strings.Builder
	for _, h := range e.Hours {
		switch h.State {
		case CellNone:
			b.WriteByte('-')
		case CellUnknown:
			b.WriteByte('?')
		default:
			b.WriteByte('0' + byte(min(9, max(0, int(h.Decode*10)))))
		}
	}
	return b.String()
}

func (v *Brief) sayEarshot(d *Document, s *Sheet) {
	d.Say("dB: SNR expected at " + v.Clock.At(s.From) + ". Then a sign an hour, UTC: 9 a frame decodes 9 times in 10 or better … 0 less than once; " +
		"? too little is known; - you don't both listen.")
	if _, others := s.nearest(); others != nil {
		d.Say("Less well, by day's mean: " + Names(others) + ".")
	}
	if len(s.Unsure) > 0 {
		d.Say("Too little is known of " + Names(s.Unsure) + ": if you hear them, write it down.")
	}
	if len(s.Silent) > 0 {
		d.Say("Out of earshot: " + Names(s.Silent) + ".")
	}
}

func (h *Hand) table() *Table {
	t := &Table{Columns: []Column{{Head: "SNR dB", Right: true, Name: "SNR in dB"}}}
	for _, c := range h.Characters {
		t.Columns = append(t.Columns, Column{Head: strconv.Itoa(c) + " ch.", Right: true, Name: strconv.Itoa(c) + " characters"})
	}
	for i, snr := range h.SNRDB {
		row := []string{strconv.Itoa(snr)}
		switch {
		case i == 0:
			row[0] = "from " + row[0]
		case i == len(h.SNRDB)-1:
			row[0] = "to " + row[0]
		}
		for _, m := range h.Minutes[i] {
			row = append(row, number(m, func(f float64) string { return Whole(float64(int(f + 0.999))) }, "don't"))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func (h *Hand) say() string {
	return fmt.Sprintf("ch.: characters. SNR: the worse of what you and the next station lately reported of each other, sure to ±%s dB as after one fresh report. "+
		"For a chain add up its hops. don't: don't try, 8 in 10 never get across.", Whole(h.SDDB))
}

func (v *Brief) sayBattery(s *Sheet) string {
	b := s.Battery
	if b == nil {
		return "No battery is stated for you: watch its voltage, and say when it is low."
	}
	x := &b.Station
	text := fmt.Sprintf("%s Wh, %s full at the start. Lowest under the planned traffic: %s at %s; the reserve is %s.",
		Whole(x.CapacityWh), Percent(v.Batteries.Charge), Percent(x.LowestCharge), v.Clock.Short(x.LowestAt), Percent(x.Reserve))
	if x.ReserveAt != nil {
		text += fmt.Sprintf(" You reach the reserve at %s: say so before, and send only what is urgent.", v.Clock.Short(*x.ReserveAt))
		if x.EmptyAt != nil {
			text += fmt.Sprintf(" It is flat at %s.", v.Clock.Short(*x.EmptyAt))
		}
		return text
	}
	return text + fmt.Sprintf(" Until then you can key %s (%s min) beyond the plan.", Count(b.SpareFrames, "frame", "frames"),
		Whole(float64(b.SpareFrames)*v.Slots.KeyedSeconds/60))
}

// typedBack shows how the log is given to the planner.
func (s *Sheet) typedBack() string {
	names := []string{"MILL", "SUMMIT"}
	var heard []string
	for i := range s.Neighbours {
		if s.Neighbours[i].Heard.Decode != nil {
			heard = append(heard, s.Neighbours[i].Call)
		}
	}
	copy(names, heard)
	channel := "CHANNEL"
	for _, w := range s.Watch {
		if len(w.Channels) > 0 {
			channel = w.Channels[0]
			break
		}
	}
	return fmt.Sprintf("Typed in as: --heard \"%s %s copies %s -9, %s -14 on %s\"; with 'all' after the time if you listened for ten minutes and list everyone.",
		s.From.UTC().Format("2006-01-02 1504Z"), s.Member.Call, names[0], names[1], channel)
}

// logLines is how many lines there are to write on, two reports each.
const logLines = 14

func logTable() *Table {
	t := &Table{Write: true, Columns: []Column{
		{Head: "DATE, TIME Z"}, {Head: "STATION"}, {Head: "SNR"}, {Head: "CHANNEL"}, {Head: "DATE, TIME Z"}, {Head: "STATION"}, {Head: "SNR"}, {Head: "CHANNEL"},
	}}
	line := []string{"____________", "__________", "____", "________"}
	for range logLines {
		t.Rows = append(t.Rows, append(append([]string{}, line...), line...))
	}
	return t
}

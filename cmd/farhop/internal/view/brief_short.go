package view

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// ShortFrames is how many frames of text a short sheet may take.
const ShortFrames = 3

// ShortSheet is a station's next hops, short enough to be sent to it.
//
// It begins with the station's sign and the day and time (UTC) until which it holds,
// OPEN where no end is in sight. Groups follow: the sign of the station to send to,
// that of the backup (zeros: none), and after a stroke the signs of those it is for. A
// station to send to that stands after no stroke is reached directly; its backup is
// that of the first group it begins.
type ShortSheet struct {
	Station string
	Text    string
	Note    string // what it costs, and what was left out
}

// Short tells each sheet in at most ShortFrames frames: the destinations of one's own
// traffic by precedence, then those with a role, then the others.
func (v *Brief) Short() []ShortSheet {
	signs := v.signs()
	var out []ShortSheet
	for i := range v.Sheets {
		out = append(out, v.short(&v.Sheets[i], signs))
	}
	return out
}

// sayShort tells an operator how to read what Short makes of the sheet.
func (v *Brief) sayShort(s *Sheet) string {
	signs := v.signs()
	sign := signs[s.Member.Call]
	name := fmt.Sprintf("the first %d letters of the name", len(sign))
	if !strings.HasPrefix(safe(s.Member.Call), sign) {
		name = "the number in the list of members"
	}
	return fmt.Sprintf("This sheet in short would be: %s. First you and until when (day, hour, minute, UTC), then groups: whom to send to, the backup (%s: none), and after / "+
		"for whom. Who stands after no / is reached directly; the backup is that of the first group it begins. A sign is %s.",
		v.short(s, signs).Text, strings.Repeat("0", len(sign)), name)
}

// mostLetters is how long signs of letters may be; else stations are numbered.
const mostLetters = 3

// signs are the shortest equally long beginnings, of two letters at least, that tell
// the members apart; where three letters don't, the members' numbers in order.
func (v *Brief) signs() map[string]string {
	for n := 2; n <= mostLetters; n++ {
		signs, seen := map[string]string{}, map[string]bool{}
		for i := range v.Members {
			sign := safe(v.Members[i].Call)
			if len(sign) < n || seen[sign[:n]] {
				break
			}
			seen[sign[:n]] = true
			signs[v.Members[i].Call] = sign[:n]
		}
		if len(signs) == len(v.Members) {
			return signs
		}
	}
	signs := map[string]string{}
	width := max(2, len(strconv.Itoa(len(v.Members))))
	for i := range v.Members {
		signs[v.Members[i].Call] = fmt.Sprintf("%0*d", width, i+1)
	}
	return signs
}

// safe keeps letters and figures that every mode carries.
func safe(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, strings.ToUpper(s))
}

// hopeless is the chance below which a destination isn't worth a short sheet's room.
const hopeless = 0.05

func (v *Brief) short(s *Sheet, signs map[string]string) ShortSheet {
	out := ShortSheet{Station: s.Member.Call}
	plan := &s.Plans[0]
	var list, left []*Destination
	for i := range plan.Destinations {
		if d := &plan.Destinations[i]; d.Next != nil && d.Delivered >= hopeless {
			list = append(list, d)
		}
	}
	slices.SortStableFunc(list, func(a, b *Destination) int { return b.Importance - a.Importance })
	begin := signs[s.Member.Call] + " " + v.shortUntil(s)
	room := ShortFrames * v.Slots.Characters
	var chosen []*Destination
	text := begin
	for _, d := range list {
		longer := begin + groups(append(slices.Clip(chosen), d), signs)
		if len(longer) > room {
			left = append(left, d)
			continue
		}
		chosen, text = append(chosen, d), longer
	}
	out.Text, out.Note = text, v.shortNote(s, plan, text, left)
	return out
}

// shortUntil is until when the first plan holds.
func (v *Brief) shortUntil(s *Sheet) string {
	until := s.Plans[0].Stale.At
	if len(s.Plans) > 1 && (until == nil || until.After(s.Plans[1].From)) {
		until = &s.Plans[1].From
	}
	if until == nil {
		return "OPEN"
	}
	return until.UTC().Format("021504")
}

// groups writes destinations by whom to send to and the backup. A group that tells a
// neighbour's own backup comes before others that begin with it.
func groups(list []*Destination, signs map[string]string) string {
	type group struct{ next, backup, text string }
	var all []group
	add := func(d *Destination, text string, first bool) {
		g := group{next: signs[*d.Next], backup: strings.Repeat("0", len(signs[*d.Next])), text: text}
		if d.BackupNext != nil {
			g.backup = signs[*d.BackupNext]
		}
		i := slices.IndexFunc(all, func(x group) bool { return x.next == g.next && x.backup == g.backup })
		switch {
		case i >= 0:
			all[i].text += text
		case first:
			all = append(all, g)
		default:
			at := len(all)
			for k, x := range all {
				if x.next == g.next {
					at = k + 1
				}
			}
			all = slices.Insert(all, at, g)
		}
	}
	for _, d := range list {
		if *d.Next == d.To {
			add(d, "", true)
		}
	}
	for _, d := range list {
		if *d.Next != d.To {
			add(d, signs[d.To], false)
		}
	}
	var b strings.Builder
	for _, g := range all {
		b.WriteString(" " + g.next + g.backup)
		if g.text != "" {
			b.WriteString("/" + g.text)
		}
	}
	return b.String()
}

// shortNote tells the airtime, and what is missing.
func (v *Brief) shortNote(s *Sheet, plan *SheetPlan, text string, left []*Destination) string {
	frames := int(math.Ceil(float64(len(text)) / float64(max(1, v.Slots.Characters))))
	all := frames + v.Slots.Header
	sent := []string{Count(frames, "frame", "frames") + " of text", Count(v.Slots.Header, "header frame", "header frames")}
	if v.Slots.Identify > 0 {
		if n := int(float64(all) * v.Slots.Seconds / v.Slots.Identify); n > 0 {
			all += n
			sent = append(sent, Count(n, "frame", "frames")+" of identification")
		}
	}
	note := fmt.Sprintf("%s: %s in %s; sending takes %s s.", s.Member.Call, Count(len(text), "character", "characters"),
		Names(sent), strconv.FormatFloat(float64(all)*v.Slots.Seconds, 'f', -1, 64))
	var names, none []string
	for _, d := range left {
		names = append(names, d.To)
	}
	for i := range plan.Destinations {
		if d := &plan.Destinations[i]; d.Next == nil || d.Delivered < hopeless {
			none = append(none, d.To)
		}
	}
	if names != nil {
		note += " No room for " + Names(names) + "."
	}
	if none != nil {
		note += " No chain to speak of to " + Names(none) + "."
	}
	return note
}

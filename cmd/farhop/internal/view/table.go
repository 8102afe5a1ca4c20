package view

import (
	"fmt"
	"strconv"
	"time"
)

// Reach is who can reach whom: for one station, both directions of every other
// member; or the next hop between all.
type Reach struct {
	Head
	Station     string     `json:"station"` // "" = all
	Characters  int        `json:"characters"`
	Frames      int        `json:"frames"`
	Deadline    time.Time  `json:"deadline"`
	Rows        []ReachRow `json:"rows"`
	Unreachable int        `json:"unreachable"`
	OffAir      []string   `json:"off_air"` // members off the air at the moment by the plan
}

// ReachRow is one direction between the station and a member.
type ReachRow struct {
	Station             string   `json:"station,omitempty"` // only in the table of all
	Member              string   `json:"member"`
	Direction           string   `json:"direction"` // "to" the member, or "from" it
	Next                *string  `json:"next"`      // next hop from the sender, nil = no chain
	Relays              int      `json:"relays"`
	DeliveredByDeadline float64  `json:"delivered_by_deadline"`
	P50Minutes          *float64 `json:"p50_minutes"`
	P80Minutes          *float64 `json:"p80_minutes"`
	BackupNext          *string  `json:"backup_next"`
	Chain               []string `json:"chain"`
	Channels            []string `json:"channels"`
}

// Document tells who can reach whom.
func (v *Reach) Document() Document {
	message := fmt.Sprintf("%s, by %s", Count(v.Characters, "character", "characters"), v.Clock.At(v.Deadline))
	if v.Station == "" {
		return v.matrix(message)
	}
	d := v.open(fmt.Sprintf("Who reaches %s, and whom %s reaches (%s)", v.Station, v.Station, message))
	t := &Table{
		Columns: []Column{
			{Head: "MEMBER"},
			{Head: "TO, VIA", Name: "to it via"},
			{Head: "%", Right: true, Chance: true, Name: "chance in per cent"},
			{Head: "80% BY", Right: true, Name: "8 in 10 by"},
			{Head: "BACKUP", Name: "backup via"},
			{Head: "FROM,VIA", Name: "from it via"},
			{Head: "%", Right: true, Chance: true, Name: "chance in per cent"},
			{Head: "80% BY", Right: true, Name: "8 in 10 by"},
			{Head: "BACKUP", Name: "backup via"},
		},
		Empty: "The net has no other member.",
	}
	for _, pair := range v.pairs() {
		row := append([]string{pair.member}, v.half(pair.to)...)
		t.Rows = append(t.Rows, append(row, v.half(pair.from)...))
	}
	d.Say(v.summary())
	d.Add(t)
	v.close(&d,
		"VIA: the next hop, a dash where no chain is known. %: chance of delivery by the deadline. 80% BY: when 8 of 10 tries are through; a dash where that "+
			"share isn't reached by the deadline. BACKUP: the next hop of the best chain that goes another way.")
	return d
}

// both is the two directions of one member.
type both struct {
	member   string
	to, from *ReachRow
}

func (v *Reach) pairs() []both {
	var pairs []both
	index := map[string]int{}
	for i := range v.Rows {
		r := &v.Rows[i]
		k, ok := index[r.Member]
		if !ok {
			k = len(pairs)
			index[r.Member] = k
			pairs = append(pairs, both{member: r.Member})
		}
		if r.Direction == "to" {
			pairs[k].to = r
		} else {
			pairs[k].from = r
		}
	}
	return pairs
}

// half is the four cells of one direction.
func (v *Reach) half(r *ReachRow) []string {
	if r == nil || r.Next == nil {
		return []string{"-", "", "", ""}
	}
	next := *r.Next
	if r.Relays == 0 {
		next = "direct"
	}
	by := "-"
	if r.P80Minutes != nil {
		by = v.Clock.Short(v.At.Add(time.Duration(*r.P80Minutes * float64(time.Minute))))
	}
	backup := "-"
	if r.BackupNext != nil {
		backup = *r.BackupNext
		if backup == r.Member && r.Direction == "to" || backup == v.Station && r.Direction == "from" {
			backup = "direct"
		}
	}
	return []string{next, Percents(r.DeliveredByDeadline), by, backup}
}

// summary names those who can't be reached or can't reach the station.
func (v *Reach) summary() string {
	var likely int
	var noTo, noFrom []string
	for _, p := range v.pairs() {
		if p.to == nil || p.to.Next == nil {
			noTo = append(noTo, p.member)
		}
		if p.from == nil || p.from.Next == nil {
			noFrom = append(noFrom, p.member)
		}
		if p.to != nil && p.from != nil && p.to.DeliveredByDeadline >= likelyFrom && p.from.DeliveredByDeadline >= likelyFrom {
			likely++
		}
	}
	s := fmt.Sprintf("Likely both ways (8 in 10 or better): %d of %s.", likely, Count(len(v.pairs()), "member", "members"))
	noTo, noFrom = without(noTo, v.OffAir), without(noFrom, v.OffAir)
	if len(v.OffAir) > 0 {
		s += fmt.Sprintf("\nOff the air at this hour by the plan: %s.", Names(v.OffAir))
	}
	if len(noTo) > 0 {
		s += fmt.Sprintf("\n%s has no known chain to %s.", v.Station, Names(noTo))
	}
	if len(noFrom) > 0 {
		s += fmt.Sprintf("\nNo known chain to %s from %s.", v.Station, Names(noFrom))
	}
	return s
}

// matrix tells the next hop from each member (row) to each (column).
func (v *Reach) matrix(message string) Document {
	d := v.open("Next hop from each member to each (" + message + ")")
	t := &Table{
		Columns: []Column{
			{Head: "FROM"},
			{Head: "TO", Name: "to"},
			{Head: "NEXT", Name: "next hop"},
			{Head: "RELAYS", Right: true, Name: "relays"},
			{Head: "CHANCE", Right: true, Chance: true, Name: "chance"},
			{Head: "80 % AFTER", Right: true, Name: "8 in 10 after"},
			{Head: "BACKUP", Name: "backup via"},
		},
		Empty: "The net has fewer than two members.",
	}
	for i := range v.Rows {
		r := &v.Rows[i]
		next, backup, after := "-", "-", "-"
		if r.Next != nil {
			next = *r.Next
		}
		if r.BackupNext != nil {
			backup = *r.BackupNext
		}
		if r.P80Minutes != nil {
			after = Age(time.Duration(*r.P80Minutes * float64(time.Minute)))
		}
		t.Rows = append(t.Rows, []string{
			r.Station, r.Member, next, strconv.Itoa(r.Relays), Percent(r.DeliveredByDeadline), after, backup,
		})
	}
	if v.Unreachable > 0 {
		d.Say(fmt.Sprintf("%s of %d have no known chain.", Count(v.Unreachable, "pair", "pairs"), len(v.Rows)))
	}
	d.Add(t)
	v.close(&d)
	return d
}

// Records gives the rows.
func (v *Reach) Records() ([]string, [][]string) {
	names := []string{
		"station", "member", "direction", "next", "relays", "delivered_by_deadline", "p50_minutes",
		"p80_minutes", "backup_next",
	}
	text := func(s *string) string {
		if s == nil {
			return ""
		}
		return *s
	}
	var rows [][]string
	for i := range v.Rows {
		r := &v.Rows[i]
		station := r.Station
		if station == "" {
			station = v.Station
		}
		rows = append(rows, []string{
			station, r.Member, r.Direction, text(r.Next), strconv.Itoa(r.Relays), exact(r.DeliveredByDeadline),
			number(r.P50Minutes, exact, ""), number(r.P80Minutes, exact, ""), text(r.BackupNext),
		})
	}
	return names, rows
}

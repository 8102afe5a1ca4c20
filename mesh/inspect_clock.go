package mesh

import (
	"fmt"
	"time"

	"farhop/observations"
)

// What it takes to call a clock wrong.
const (
	clockReports = 200_000 // the newest reports looked at
	clockSlots   = 3       // offsets of up to so many slots either way
	clockHours   = 14      // and of whole hours, as from a log in local time
	clockAgree   = 5       // reports that must agree on the offset
	clockTimes   = 3       // times as many as agree with no offset
)

// reception is a transmission as one receiver dates it.
type reception struct {
	sender int32
	band   observations.Band
	slot   int64
}

// witnesses are the receivers of a transmission: the first, and whether there
// are others.
type witnesses struct {
	first int32
	more  bool
}

// by reports whether any but the one given received it.
func (w witnesses) by(other int32) bool { return w.more || w.first != other }

// clocks tells of members whose reports are dated after now, or fall into
// other slots than everybody else's reports of the same transmissions.
func (i *inspection) clocks() {
	for s, count := range i.ahead {
		if count > 0 {
			i.add(FindClock, Warning, []string{i.call(s)}, "check the clock and the time zone of its log; times are UTC",
				"%s by %s dated after now, by up to %s", plural(count, "report"), i.call(s), time.Duration(i.farthest[s])*time.Second)
		}
	}
	if later := i.links.Counts.Later; later > 0 && i.until >= i.now {
		i.add(FindClock, Warning, nil, "check clocks and time zones of the logs; times are UTC",
			"%s dated after %s, left out", plural(later, "report"), stamp(i.until))
	}
	known, all := i.receptions()
	length := i.n.Slots.Seconds()
	var offsets []int64 // in slots, the smallest first
	for d := int64(1); d <= clockSlots; d++ {
		offsets = append(offsets, d, -d)
	}
	for h := int64(1); h <= clockHours; h++ {
		if 3600%length == 0 && h*3600/length > clockSlots {
			offsets = append(offsets, h*3600/length, -h*3600/length)
		}
	}
	for s := range i.n.Stations {
		i.clock(int32(s), known, all[s], offsets)
	}
}

// receptions lists the newest receptions of each member, and who dates what how.
func (i *inspection) receptions() (known map[reception]witnesses, all [][]reception) {
	known = make(map[reception]witnesses)
	all = make([][]reception, len(i.n.Stations))
	reports := i.log.Reports
	for len(reports) > 0 && reports[len(reports)-1].Time > i.until {
		reports = reports[:len(reports)-1]
	}
	reports = reports[max(0, len(reports)-clockReports):]
	for k := range reports {
		r := &reports[k]
		receiver, sender := i.who.station[r.Receiver], i.who.station[r.Sender]
		if receiver == sender || r.Frequency == 0 {
			continue
		}
		what := reception{sender, observations.BandOf(r.Frequency), i.n.Slots.Holding(r.Time)}
		w, seen := known[what]
		switch {
		case !seen:
			w.first = receiver
		case w.first != receiver:
			w.more = true
		}
		known[what] = w
		if int(receiver) < len(all) {
			all[receiver] = append(all[receiver], what)
		}
	}
	return known, all
}

// planned reports whether the plan has the sender sound then. It keeps apart a
// wrong clock and a regular sender that others hear at other hours.
func (i *inspection) planned(r reception) bool {
	if int(r.sender) >= len(i.n.Stations) || len(i.n.Stations[r.sender].Soundings) == 0 {
		return false
	}
	for c := range i.n.Channels {
		if observations.BandOf(i.n.Channels[c].Frequency) == r.band && i.n.SoundsOn(int(r.sender), c, r.slot) {
			return true
		}
	}
	return false
}

// clock compares a member's receptions with everybody else's and the plan.
func (i *inspection) clock(member int32, known map[reception]witnesses, mine []reception, offsets []int64) {
	length := i.n.Slots.Seconds()
	agree := func(offset int64) int {
		count := 0
		for _, r := range mine {
			r.slot -= offset * length
			if w, ok := known[r]; ok && w.by(member) || i.planned(r) {
				count++
			}
		}
		return count
	}
	right := agree(0)
	best, most := int64(0), 0
	for _, d := range offsets {
		if count := agree(d); count > most {
			best, most = d, count
		}
	}
	if most < clockAgree || most < clockTimes*(right+1) || 2*most < len(mine) {
		return
	}
	off := time.Duration(best*length) * time.Second
	direction := "fast"
	if off < 0 {
		off, direction = -off, "slow"
	}
	call := i.call(int(member))
	i.add(FindClock, Warning, []string{call}, fmt.Sprintf("set its clock, or mend the times in its log by %s", off),
		"the clock of %s looks %s %s: %d of its %s match what others heard or the plan says at that distance, %d at the same time",
		call, off, direction, most, plural(len(mine), "report"), right)
}

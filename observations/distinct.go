package observations

import (
	"slices"
	"time"
)

// Distinct returns the reports that are left when of those of one slot, band,
// receiver and sender only one counts: that with the highest SNR, of equal ones
// the earliest, then the first in the log's order. They stay in that order.
// duplicates is how many gave way.
//
// A report's slot is the number of whole slots of the given length since 1970,
// so for lengths that divide a day slots begin at 00:00 UTC; lengths count in
// whole seconds, at least one. key names the receiver, the sender and the band
// of a report; where it is not ok, the report is left out and is no duplicate.
// The cost is one look into a table for each report.
func (l *Log) Distinct(
	slot time.Duration, key func(r *Report) (receiver, sender uint32, band Band, ok bool),
) (kept []Report, duplicates int) {
	type link struct {
		receiver, sender uint32
		band             Band
	}
	type best struct {
		slot int64
		at   int // in kept
	}
	length := max(1, int64(slot/time.Second))
	last := map[link]best{}
	kept = make([]Report, 0, len(l.Reports))
	gone := []int{} // places in kept that gave way to a later one
	for i := range l.Reports {
		r := &l.Reports[i]
		receiver, sender, band, ok := key(r)
		if !ok {
			continue
		}
		k := link{receiver, sender, band}
		now := best{(r.Time - mod(r.Time, length)) / length, len(kept)}
		if before, ok := last[k]; ok && before.slot == now.slot {
			duplicates++
			if r.SNR <= kept[before.at].SNR {
				continue
			}
			gone = append(gone, before.at)
		}
		last[k] = now
		kept = append(kept, *r)
	}
	return dropPlaces(kept, gone), duplicates
}

// dropPlaces takes out the reports at the given places.
func dropPlaces(reports []Report, places []int) []Report {
	if len(places) == 0 {
		return reports
	}
	slices.Sort(places)
	to := places[0]
	for i := to; i < len(reports); i++ {
		if len(places) > 0 && places[0] == i {
			places = places[1:]
			continue
		}
		reports[to] = reports[i]
		to++
	}
	return reports[:to]
}

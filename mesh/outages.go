package mesh

import "slices"

// outages tells the links of senders whose soundings nobody reports any more: of
// the first such sounding since the sender was reported, and of an outage once the
// silence has lasted as long as the plan says.
func (t *tracer) outages() {
	t.silences = slices.DeleteFunc(t.silences, func(s int32) bool {
		over := t.heardAt[s] < t.start-t.silent
		if over {
			t.tellAll(s, EventOutage)
		}
		if over || t.heardIn[s] == t.start {
			t.quiet[s] = false
			return true
		}
		return false
	})
	for i := range t.sent {
		s := t.sent[i].station
		if t.heardIn[s] != t.start && !t.quiet[s] {
			t.quiet[s] = true
			t.silences = append(t.silences, s)
			t.tellAll(s, EventSilent)
		}
	}
}

// tellAll tells all links from a station of something that happened to it.
func (t *tracer) tellAll(station int32, kind EventKind) {
	for band := range t.bands.list {
		for _, number := range t.links.rows[int(station)*len(t.bands.list)+band] {
			if number > 0 {
				t.out.send(Event{Unix: t.start, Link: number - 1, Kind: kind})
			}
		}
	}
}

package mesh

import "math"

// transmissions lists what the slot's reports and the plan say was sent by
// members on the net's bands, each with its reports in a chain.
func (t *tracer) transmissions() {
	t.sent = t.sent[:0]
	for i := range t.cur {
		h := &t.cur[i]
		if h.sender >= t.members {
			continue
		}
		t.sending[h.sender], t.heardIn[h.sender] = t.start, t.start
		t.presence.seen(h.sender, t.hour)
		if h.band < 0 {
			continue
		}
		tx := t.sentBy(h.sender, h.band)
		h.next, tx.first = tx.first, int32(i)
		tx.count++
		tx.power = max(tx.power, h.power)
	}
	if t.start+t.length > t.at {
		return // nobody can have reported a sounding yet
	}
	for _, s := range t.plan.soundings[secondOfDay(t.start)/int(t.length)] {
		if t.heardAt[s.station] == never || t.heardAt[s.station] < t.start-t.silent {
			continue
		}
		t.sentBy(s.station, s.band).sounding = true
		t.sending[s.station] = t.start
	}
}

// sentBy is the slot's transmission of a station on a band, begun where there
// is none yet. It is good until the next call.
func (t *tracer) sentBy(station, band int32) *transmission {
	at := &t.sentAt[int(station)*len(t.bands.list)+int(band)]
	if at.slot != t.start {
		*at = stamped{t.start, int32(len(t.sent))}
		t.sent = append(t.sent, transmission{station: station, band: band, first: -1})
	}
	return &t.sent[at.index]
}

// mentioned notes what a report proves of its receiver's whereabouts.
func (t *tracer) mentioned(h *heard) {
	r := h.receiver
	if r >= t.members {
		return
	}
	t.elsewhere[r].on(h.code, h.time)
	t.presence.seen(r, t.hour)
	if h.band < 0 {
		return
	}
	t.presence.heard(r, h.band, t.hour)
	i := int(r)*len(t.bands.list) + int(h.band)
	t.lastOn[i] = max(t.lastOn[i], h.time)
	if !t.inList[i] && t.n.Stations[r].Watch == WatchHeard {
		t.inList[i] = true
		t.listening[h.band] = append(t.listening[h.band], r)
	}
}

// watchers finds who watches each band on which somebody sent in the slot.
func (t *tracer) watchers() {
	for b := range t.watching {
		t.watching[b] = t.watching[b][:0]
	}
	for i := range t.sent {
		if b := t.sent[i].band; len(t.watching[b]) == 0 {
			t.watchersOn(int(b))
		}
	}
}

func (t *tracer) watchersOn(b int) {
	list := t.watching[b]
	day := secondOfDay(t.start) / int(t.length)
	segment := t.plan.segment[day]
	for _, w := range t.plan.watchers[segment][b] {
		since := int64(never)
		if w.period != noPeriod {
			// The segment's first slot is in the same stretch of the day as this one.
			since = t.start - int64(int32(day)-t.plan.first[segment]+w.period)*t.length
		}
		if w.all && t.sending[w.station] != t.start || !w.all && t.attends(w.station, b, since) {
			list = append(list, w.station)
		}
	}
	kept := t.listening[b][:0]
	for _, r := range t.listening[b] {
		if t.lastOn[int(r)*len(t.bands.list)+b] < t.start-t.window {
			t.inList[int(r)*len(t.bands.list)+b] = false
			continue
		}
		kept = append(kept, r)
		if t.attends(r, b, never) {
			list = append(list, r)
		}
	}
	t.listening[b], t.watching[b] = kept, list
}

// attends reports whether nothing proves that the receiver was not on the band:
// it did not send in the slot, reported nothing on another band in it, and
// nothing on another band after its last report on this one, from the given time on.
func (t *tracer) attends(r int32, b int, since int64) bool {
	if t.sending[r] == t.start {
		return false
	}
	other := t.elsewhere[r].than(t.bands.list[b])
	if other >= t.start {
		return false
	}
	return other <= t.lastOn[int(r)*len(t.bands.list)+b] || other < since
}

// reports tells of the slot's reports among members.
func (t *tracer) reports() {
	for i := range t.cur {
		h := &t.cur[i]
		if h.band >= 0 {
			t.newest = max(t.newest, h.time)
		}
		if h.receiver >= t.members || h.sender >= t.members || h.band < 0 {
			continue
		}
		tx := t.sentBy(h.sender, h.band)
		raise := t.raise(h.sender, h.power)
		e := Event{Unix: h.time, Value: float64(h.snr) + raise, Raise: raise, Kind: EventReport}
		if tx.count < 2 && !tx.sounding {
			e.Kind = EventUnwitnessed
		}
		t.tell(h.sender, h.receiver, h.band, e)
	}
}

// raise is how many dB more than at the given power a sender's signal has at its
// planned power; 0 watts stands for the planned power.
func (t *tracer) raise(sender int32, watts float32) float64 {
	if !(watts > 0) {
		return 0
	}
	planned := t.n.Stations[sender].PowerW
	if float32(planned) == watts {
		return 0
	}
	return t.power.of(planned, watts)
}

// decibels remembers the last ratio of powers: most reports repeat it.
type decibels struct {
	planned float64
	watts   float32
	db      float64
}

func (d *decibels) of(planned float64, watts float32) float64 {
	if d.planned != planned || d.watts != watts {
		*d = decibels{planned, watts, 10 * math.Log10(planned/float64(watts))}
	}
	return d.db
}

// misses tells of the slot's transmissions that a watching member did not report.
func (t *tracer) misses() {
	for i := range t.sent {
		tx := &t.sent[i]
		t.mark++
		for j := tx.first; j >= 0; j = t.cur[j].next {
			if r := t.cur[j].receiver; r < t.members {
				t.reported[r] = t.mark
			}
		}
		raise := t.raise(tx.station, tx.power)
		for _, r := range t.watching[tx.band] {
			if t.reported[r] != t.mark && r != tx.station {
				t.tell(tx.station, r, tx.band, Event{Unix: t.start, Value: 0, Raise: raise, Kind: EventMiss})
			}
		}
	}
}

// move steps the links of a station that has moved.
func (t *tracer) move(m Moved) {
	t.moves = append(t.moves, m)
	a := max(0, 1-m.KM/t.n.Evidence.MovedKM)
	for other := range t.members {
		for b := range int32(len(t.bands.list)) {
			for _, ends := range [2][2]int32{{int32(m.Station), other}, {other, int32(m.Station)}} {
				if link := t.links.find(ends[0], ends[1], b); link >= 0 {
					t.out.send(Event{Unix: m.Unix, Value: a, Link: link, Kind: EventMove})
				}
			}
		}
	}
}

// tell hands over an event of a pair.
func (t *tracer) tell(from, to, band int32, e Event) {
	e.Link = t.links.get(from, to, band)
	t.out.send(e)
}

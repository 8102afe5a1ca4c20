package mesh

import (
	"cmp"
	"slices"

	"farhop/observations"
)

// claims are the typed lists that say they are complete, and what the slots
// before the next of them hold that it may turn into misses.
type claims struct {
	list   []observations.Claim // by time, up to the moment
	recent []slotRecord
}

// slotRecord keeps a slot's evidence for claims to come.
type slotRecord struct {
	start    int64
	heard    []heard
	sent     []transmission
	watching [][]int32 // by band
	sending  []int32
}

func makeClaims(log *observations.Log, at int64) claims {
	var c claims
	for _, claim := range log.Claims {
		if claim.Time <= at {
			c.list = append(c.list, claim)
		}
	}
	slices.SortStableFunc(c.list, func(a, b observations.Claim) int {
		return cmp.Or(cmp.Compare(a.Time, b.Time), cmp.Compare(a.Receiver, b.Receiver), cmp.Compare(a.Channel, b.Channel))
	})
	return c
}

// next is the next claim, nil when there is no more.
func (c *claims) next() *observations.Claim {
	if len(c.list) == 0 {
		return nil
	}
	return &c.list[0]
}

// claimed applies the claims of the slot, after keeping what later ones need.
func (t *tracer) claimed() {
	next := t.claims.next()
	if next == nil {
		t.claims.recent = nil
		return
	}
	// Every later claim reaches back less far than this one.
	if t.reaches(next, t.start) {
		t.record()
	}
	for next != nil && next.Time < t.start+t.length {
		t.claim(next)
		t.claims.list = t.claims.list[1:]
		next = t.claims.next()
	}
	if next != nil {
		t.claims.recent = slices.DeleteFunc(t.claims.recent, func(s slotRecord) bool { return !t.reaches(next, s.start) })
	}
}

// reaches reports whether a slot is the claim's own or in the listening window
// before that.
func (t *tracer) reaches(c *observations.Claim, start int64) bool {
	return start+t.window >= t.slotOf(c.Time)
}

// record keeps the slot at hand.
func (t *tracer) record() {
	s := slotRecord{start: t.start, heard: slices.Clone(t.cur), sent: slices.Clone(t.sent)}
	for b := range t.watching {
		s.watching = append(s.watching, slices.Clone(t.watching[b]))
	}
	for i := range t.cur {
		if sender := t.cur[i].sender; sender < t.members {
			s.sending = append(s.sending, sender)
		}
	}
	for i := range t.sent {
		s.sending = append(s.sending, t.sent[i].station)
	}
	t.claims.recent = append(t.claims.recent, s)
}

// claim turns the witnessed transmissions of the listening window that the list
// leaves out into misses.
func (t *tracer) claim(c *observations.Claim) {
	receiver := t.who.station[c.Receiver]
	if receiver >= t.members {
		return
	}
	band, ok := t.claimBand(c, receiver)
	if !ok {
		return
	}
	t.presence.seen(receiver, t.hour)
	t.presence.heard(receiver, band, t.hour)
	listed := make(map[int32]bool)
	for i := range t.cur {
		if h := &t.cur[i]; h.receiver == receiver && h.band == band {
			listed[h.sender] = true
		}
	}
	for i := range t.claims.recent {
		s := &t.claims.recent[i]
		if !t.reaches(c, s.start) || !t.free(s, receiver, band) {
			continue
		}
		for j := range s.sent {
			tx := &s.sent[j]
			if tx.band == band && tx.station != receiver && !listed[tx.station] && !s.reported(tx, receiver) {
				t.late(tx, receiver, s.start)
			}
		}
		s.watching[band] = append(s.watching[band], receiver) // judged once
	}
}

// claimBand is the band that a claim is about, false when it can't be known.
func (t *tracer) claimBand(c *observations.Claim, receiver int32) (int32, bool) {
	const mend = "add 'on' and a channel of the plan"
	if c.Channel != 0 {
		if ch := t.who.channel[c.Channel-1]; ch >= 0 {
			return int32(t.bands.channel[ch]), true
		}
		t.faults.add(c.Source, c.Line, true, "channel", "the list claims to be complete, but the plan has no such channel", mend)
		return 0, false
	}
	ch, ok := t.n.WatchOf(int(receiver), t.slotOf(c.Time))
	if !ok {
		t.faults.add(c.Source, c.Line, true, "channel",
			"the list claims to be complete, but by the plan its receiver listens to nothing then", mend)
		return 0, false
	}
	return int32(t.bands.channel[ch]), true
}

// free reports whether a claim has anything to say about the receiver in the
// slot: it was not judged already, did not send, and was not heard of elsewhere.
func (t *tracer) free(s *slotRecord, receiver, band int32) bool {
	if slices.Contains(s.watching[band], receiver) || slices.Contains(s.sending, receiver) {
		return false
	}
	if t.n.Stations[receiver].Watch == WatchAll {
		return true
	}
	return !slices.ContainsFunc(s.heard, func(h heard) bool {
		return h.receiver == receiver && h.code != t.bands.list[band]
	})
}

// reported says whether the receiver reported the transmission.
func (s *slotRecord) reported(tx *transmission, receiver int32) bool {
	for i := tx.first; i >= 0; i = s.heard[i].next {
		if s.heard[i].receiver == receiver {
			return true
		}
	}
	return false
}

// late tells of a miss that has only now become known.
func (t *tracer) late(tx *transmission, receiver int32, start int64) {
	t.tell(tx.station, receiver, tx.band, Event{Unix: start, Raise: t.raise(tx.station, tx.power), Kind: EventMiss})
}

package mesh

import (
	"fmt"
	"strings"

	"farhop/observations"
	"farhop/observations/locator"
)

// whoTable says which station each site of a log is, and where each member was
// last known to be.
type whoTable struct {
	station []int32 // by site: index, or from the number of members on one for each other call
	place   []string
	at      []observations.SiteID // site of each member's last report, plus one; 0 none yet
	times   []int                 // how often each member has moved
	channel []int                 // by channel name of the log: channel of the net, −1 unknown
}

func makeWhoTable(n *Net, log *observations.Log) whoTable {
	w := whoTable{
		station: make([]int32, len(log.Sites)),
		place:   make([]string, len(n.Stations)),
		at:      make([]observations.SiteID, len(n.Stations)),
		times:   make([]int, len(n.Stations)),
		channel: make([]int, len(log.Channels)),
	}
	others := make(map[string]int32)
	for i := range log.Sites {
		call := log.Sites[i].Call
		if s, ok := n.Find(call); ok {
			w.station[i] = int32(s)
			continue
		}
		id, seen := others[call]
		if !seen {
			id = int32(len(n.Stations) + len(others))
			others[call] = id
		}
		w.station[i] = id
	}
	for i := range n.Stations {
		w.place[i] = fold(n.Stations[i].Locator)
	}
	for i, name := range log.Channels {
		c, ok := n.FindChannel(name)
		if !ok {
			c = -1
		}
		w.channel[i] = c
	}
	return w
}

// placed takes in that a report names the member as the site. It returns the
// distance moved in km when the site's locator contradicts the last known one.
func (w *whoTable) placed(member int32, site observations.SiteID, call string) (from string, km float64, moved bool) {
	w.at[member] = site + 1
	to, from := fold(call), w.place[member]
	switch {
	case to == "" || strings.HasPrefix(from, to):
		return from, 0, false
	case strings.HasPrefix(to, from): // from "" too
		w.place[member] = to
		return from, 0, false
	}
	a, errA := locator.Parse(from)
	b, errB := locator.Parse(to)
	if errB != nil {
		return from, 0, false
	}
	w.place[member] = to
	if errA != nil {
		return from, 0, false
	}
	return from, locator.Distance(a, b), true
}

// faults gathers the reports that the net can't use.
type faults struct {
	log   *observations.Log
	kept  []observations.Problem
	count int
}

// maxFaults is how many problems are kept; all are counted.
const maxFaults = 200

func (f *faults) add(source uint16, line uint32, warning bool, field, message, mend string) {
	if f.count++; f.count > maxFaults {
		return
	}
	p := observations.Problem{Line: int(line), Field: field, Message: message, Mend: mend, Warning: warning}
	if int(source) < len(f.log.Sources) {
		p.Source = f.log.Sources[source]
	}
	f.kept = append(f.kept, p)
}

// full reports whether more problems would only be counted.
func (f *faults) full() bool { return f.count >= maxFaults }

// reject counts a report that can't be used.
func (t *tracer) reject(r *observations.Report, field, mend, format string, args ...any) {
	t.counts.Rejected++
	if t.faults.full() {
		t.faults.count++
		return
	}
	t.faults.add(r.Source, r.Line, false, field, fmt.Sprintf(format, args...), mend)
}

// bandOf is the band number (−1 where no channel is on it) and band of a report,
// false when it has been rejected.
func (t *tracer) bandOf(r *observations.Report, receiver int32) (number int32, code observations.Band, ok bool) {
	if r.Frequency != 0 {
		code = observations.BandOf(r.Frequency)
		return int32(t.bands.number(code)), code, true
	}
	if r.Channel != 0 {
		name := t.log.Channels[r.Channel-1]
		c := t.who.channel[r.Channel-1]
		if c < 0 {
			t.reject(r, "channel", "name one of "+channelList(t.n), "the plan has no channel %q", name)
			return 0, 0, false
		}
		return t.onChannel(c)
	}
	if receiver >= t.members {
		t.reject(r, "frequency_hz", "add the frequency or the channel",
			"no frequency, and %s is not in the plan, so what it listened to isn't known", t.log.Call(r.Receiver))
		return 0, 0, false
	}
	c, ok := t.n.WatchOf(int(receiver), t.slotOf(r.Time))
	if !ok {
		t.reject(r, "frequency_hz", "add the frequency or the channel, or mend on_air, channels or windows in the plan",
			"no frequency, and by the plan %s listens to nothing then", t.n.Stations[receiver].Call)
		return 0, 0, false
	}
	return t.onChannel(c)
}

func (t *tracer) onChannel(c int) (int32, observations.Band, bool) {
	b := t.bands.channel[c]
	return int32(b), t.bands.list[b], true
}

func channelList(n *Net) string {
	names := make([]string, len(n.Channels))
	for i := range names {
		names[i] = n.Channels[i].Name
	}
	return strings.Join(names, ", ")
}

// gather makes the slot's reports ready: says who and where, counts and leaves
// out what can't be used, joins duplicates and notices moves. On bands of no
// channel a report counts as outside, whether it is a duplicate or not.
func (t *tracer) gather(reports []observations.Report) {
	t.cur = t.cur[:0]
	t.same.begin(len(reports))
	for i := range reports {
		r := &reports[i]
		receiver, sender := t.who.station[r.Receiver], t.who.station[r.Sender]
		if receiver >= t.members && sender >= t.members {
			t.counts.Outside++
			continue
		}
		if receiver == sender {
			t.reject(r, "sender", "mend the names in the log, or the other names in the plan",
				"%s and %s are the same station in the plan", t.log.Call(r.Receiver), t.log.Call(r.Sender))
			continue
		}
		band, code, ok := t.bandOf(r, receiver)
		if !ok {
			continue
		}
		t.place(receiver, r.Receiver, r.Time)
		t.place(sender, r.Sender, r.Time)
		h := heard{r.Time, receiver, sender, band, code, r.SNR, r.Power, -1}
		first, seen := t.same.find(t.cur, &h)
		switch {
		case band < 0:
			t.counts.Outside++
		case seen:
			t.counts.Duplicate++
		default:
			t.counts.Used++
		}
		if !seen {
			t.cur = append(t.cur, h)
		} else if h.snr > t.cur[first].snr {
			t.cur[first] = h // the log is in order of time: on a tie the earlier stays
		}
	}
}

// place notices where a member is, and tells its links when it has moved.
func (t *tracer) place(station int32, site observations.SiteID, unix int64) {
	if station >= t.members || t.who.at[station] == site+1 {
		return
	}
	from, km, moved := t.who.placed(station, site, t.log.Sites[site].Locator)
	if !moved || km == 0 {
		return
	}
	t.who.times[station]++
	t.move(Moved{int(station), unix, from, t.who.place[station], km, t.who.times[station]})
}

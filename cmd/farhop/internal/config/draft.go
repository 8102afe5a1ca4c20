package config

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"time"

	"farhop/observations"
)

// DraftOptions says how a plan is drafted.
type DraftOptions struct {
	Net  string        // name of the net, one line; "" for a name that says it is a draft
	Slot time.Duration // slot length in whole seconds that divides 24 h; 0 = guess it
}

// Note is one guess of a draft and what to look at before relying on it.
type Note struct {
	Path  string // of the key, such as stations[2].on_air; "" for what was left out of the plan
	Guess string // what was put there, and from what
	Check string // what to check
}

// ErrNothingHeard says that a log holds no report to draft a plan from.
var ErrNothingHeard = errors.New("no report to draft a plan from")

// Draft writes a plan from what a log holds: its stations with their last
// locators, median powers, hours and soundings; a channel a band with the hours it
// was in use; the slot length that fits the times. Every guess is marked in the
// text by a comment that begins '# guess:', and listed in the notes. The plan loads
// without problems, warnings about bands outside HF aside. Equal logs give equal
// drafts. The log must be sorted by time, as reading leaves it; time O(n log n),
// space O(n). The error is ErrNothingHeard or about the slot length asked for.
//
// Left out, with a note: names that can't stand in a plan; in logs of 100 reports
// and more senders that were heard once and never reported anybody, which are
// mostly false decodes; bands with less than 2 % of the
// reports and a tenth of those of the busiest.
func Draft(log *observations.Log, opt DraftOptions) ([]byte, []Note, error) {
	if opt.Slot%time.Second != 0 || opt.Slot < 0 || opt.Slot > time.Hour || opt.Slot > 0 && (24*time.Hour)%opt.Slot != 0 {
		return nil, nil, fmt.Errorf("a slot length of %v does not divide a day", opt.Slot)
	}
	h := gather(log, opt)
	if len(h.stations) == 0 {
		return nil, nil, ErrNothingHeard
	}
	w := &draftWriter{}
	w.plan(h, opt)
	return []byte(w.text.String()), w.notes, nil
}

// heardNet is what a log says of a net.
type heardNet struct {
	reports      int   // with two stations that are kept
	first, last  int64 // Unix seconds of the first and last of them
	slot         slotGuess
	halfDecodeDB float64
	snrCount     int
	stations     []*heardStation // by call
	channels     []*heardChannel
	medianPower  float64 // of all reports that state one, 0 when none does
	leftOut      []Note
}

// heardStation is what a log says of a station.
type heardStation struct {
	call      string
	suffixed  []string        // the same call with suffixes
	also      []*heardStation // slips of its name
	heard     int             // reports by it
	heardBy   int             // reports of it
	locators  []string        // distinct, in the order they were last seen
	locatorAt int64           // when the last of them was seen
	powers    map[float64]int
	hours     [24]int
	days      int
	lastDay   int64
	channels  []int                         // reports by or of it on each of heardNet.channels
	sent      map[observations.Band][]int64 // starts of slots it was heard in

	slots, together, changes int   // slots it reported in, slots with reports on two bands, changes of band within two slots
	lastSlot                 int64 // the newest slot it reported in
	lastBand                 observations.Band
	counted                  bool // lastSlot is counted in together
}

// heardChannel is what a log says of a band, or of a channel that typed lists name.
type heardChannel struct {
	name        string
	band        observations.Band
	reports     int
	frequencies []uint32 // as reported
	hours       [24]int
}

// frivolousFrom is the number of reports from which on a sender heard only once
// counts as a false decode.
const frivolousFrom = 100

// gather goes through a log once for the slot length and once for the rest.
func gather(log *observations.Log, opt DraftOptions) *heardNet {
	h := &heardNet{slot: guessSlot(log.Reports, opt.Slot)}
	of := h.gatherStations(log)
	channelOf := h.gatherChannels(log, of)
	var snrs []float32
	powers := map[float64]int{}
	for i := range log.Reports {
		r := &log.Reports[i]
		receiver, sender := of[r.Receiver], of[r.Sender]
		if receiver == nil || sender == nil || receiver == sender {
			continue
		}
		if h.reports == 0 {
			h.first = r.Time
		}
		h.reports++
		h.last = r.Time
		snrs = append(snrs, r.SNR)
		if p := float64(r.Power); p >= 0.001 && p <= 10_000 {
			sender.powers[p]++
			powers[p]++
		}
		receiver.active(r, channelOf(r), log.Sites[r.Receiver].Locator)
		sender.active(r, channelOf(r), log.Sites[r.Sender].Locator)
		receiver.heard++
		sender.heardBy++
		receiver.listens(r, h.slot.seconds)
		sender.sends(r, h.slot.seconds)
	}
	h.stations = slices.DeleteFunc(h.stations, func(s *heardStation) bool { return s.heard+s.heardBy == 0 })
	h.join()
	h.medianPower = median(powers)
	h.snrCount = len(snrs)
	h.halfDecodeDB = lowSNR(snrs)
	return h
}

// active notes that a station sent or heard something.
func (s *heardStation) active(r *observations.Report, channel int, locator string) {
	s.hours[hourOf(r.Time)]++
	if day := floorDiv(r.Time, 86400); s.days == 0 || day != s.lastDay {
		s.days++
		s.lastDay = day
	}
	if channel >= 0 {
		s.channels[channel]++
	}
	if locator != "" && locatorForm(locator) == "" {
		locator = normalLocator(locator)
		if n := len(s.locators); n == 0 || s.locators[n-1] != locator {
			s.locators = append(slices.DeleteFunc(s.locators, func(l string) bool { return l == locator }), locator)
		}
		s.locatorAt = r.Time
	}
}

// listens notes on which band a station reported, to tell several receivers from
// one.
func (s *heardStation) listens(r *observations.Report, slot int64) {
	band := bandOf(r)
	if band == 0 {
		return
	}
	k := floorDiv(r.Time, slot)
	switch {
	case s.slots == 0 || k > s.lastSlot:
		if s.slots > 0 && band != s.lastBand && k-s.lastSlot <= 2 {
			s.changes++
		}
		s.slots++
		s.counted = false
	case band != s.lastBand && !s.counted:
		s.together++
		s.counted = true
	}
	s.lastSlot, s.lastBand = k, band
}

// sends notes a slot in which a station was heard.
func (s *heardStation) sends(r *observations.Report, slot int64) {
	band := bandOf(r)
	at := floorDiv(r.Time, slot) * slot
	if known := s.sent[band]; len(known) == 0 || known[len(known)-1] != at {
		s.sent[band] = append(known, at)
	}
}

// bandOf is the band of a report, none without a frequency that a plan could hold.
func bandOf(r *observations.Report) observations.Band {
	if r.Frequency < leastHz || r.Frequency > mostHz {
		return 0
	}
	return observations.BandOf(r.Frequency)
}

func hourOf(unix int64) int { return int(floorDiv(unix, 3600) - 24*floorDiv(unix, 86400)) }

// floorDiv divides rounding down; b > 0.
func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// median is the value in the middle of values given with their counts, the
// lower one of two; 0 for none.
func median(counts map[float64]int) float64 {
	values := make([]float64, 0, len(counts))
	total := 0
	for v, n := range counts {
		values = append(values, v)
		total += n
	}
	slices.Sort(values)
	seen := 0
	for _, v := range values {
		if seen += counts[v]; 2*seen >= total {
			return v
		}
	}
	return 0
}

// byCall orders stations.
func byCall(a, b *heardStation) int { return cmp.Compare(a.call, b.call) }

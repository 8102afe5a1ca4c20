package aysen

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"sort"
	"strconv"
	"time"
)

// The range a receiver reports: below it nothing decodes, above it the figure saturates.
const (
	lowestSNR  = -24
	highestSNR = 20
)

// Transmission is one slot in which a station keyed.
type Transmission struct {
	At      time.Time // start of the slot
	Station int       // index as in Truth
	Channel int
	PowerW  float64
}

// Row is one line of the observations file.
type Row struct {
	At                             time.Time
	Receiver, Sender               string
	SNR                            int // dB in 2500 Hz
	FrequencyHz                    uint32
	ReceiverLocator, SenderLocator string
	PowerW                         float64
}

// Transmissions lists everything sent from the scenario's start to its end, by
// time, then station. A station sends its soundings on each channel that is in
// window while it is on the air, whatever it watches, and at most one
// transmission a slot.
func (t *Truth) Transmissions() []Transmission {
	var list []Transmission
	for i, st := range t.all {
		for _, s := range st.Soundings {
			for at := t.Scenario.Start.Add(s.After); !at.After(t.Scenario.End); at = at.Add(s.Every) {
				list = t.send(list, i, s.Channel, at)
			}
		}
	}
	for _, b := range t.Scenario.Bulletin {
		i := index(t.all, b.Call)
		for day := t.Scenario.Start; day.Before(t.Scenario.End); day = day.Add(24 * time.Hour) {
			for f := range b.Frames {
				list = t.send(list, i, b.Channel, day.Add(b.At).Add(time.Duration(f)*t.Scenario.Slots.Length))
			}
		}
	}
	sort.SliceStable(list, func(a, b int) bool {
		if !list[a].At.Equal(list[b].At) {
			return list[a].At.Before(list[b].At)
		}
		return list[a].Station < list[b].Station
	})
	kept := list[:0]
	for k, x := range list {
		if k > 0 && x.Station == list[k-1].Station && x.At.Equal(list[k-1].At) {
			continue
		}
		kept = append(kept, x)
	}
	return kept
}

// send adds a transmission if the station can make it.
func (t *Truth) send(list []Transmission, station, channel int, at time.Time) []Transmission {
	if at.After(t.Scenario.End) || !t.holds(t.onAir[station], at) || !t.holds(t.windows[channel], at) || t.absent(station, at) {
		return list
	}
	power := t.all[station].PowerW
	for _, s := range t.all[station].Reduced {
		if s.Holds(at) {
			power /= 2
		}
	}
	return append(list, Transmission{At: at, Station: station, Channel: channel, PowerW: power})
}

func (t *Truth) absent(station int, at time.Time) bool {
	for _, s := range t.all[station].Absent {
		if s.Holds(at) {
			return true
		}
	}
	return false
}

// Observations draws the log: who decoded whom. The same scenario gives the
// same rows, sorted by time, sender, receiver. A station hears only on the
// channel it watches, only while it is on the air and awake, and nothing in a
// slot in which it sends. Guests hand in no reports.
func (t *Truth) Observations() []Row { return t.observe(func(time.Time, *weather) {}) }

// observe tells of each moment at which anybody sends, before anybody hears.
func (t *Truth) observe(before func(at time.Time, sky *weather)) []Row {
	s := t.Scenario
	rng := rand.New(rand.NewPCG(s.Seed, 2))
	sky := newWeather(s.Wander, s.Evening, len(t.all), len(s.Channels), rng)
	sent := t.Transmissions()
	var rows []Row
	for first := 0; first < len(sent); {
		last := first
		busy := make(map[int]bool)
		for ; last < len(sent) && sent[last].At.Equal(sent[first].At); last++ {
			busy[sent[last].Station] = true
		}
		before(sent[first].At, sky)
		for _, x := range sent[first:last] {
			for r := range s.Stations {
				if !busy[r] && !t.absent(r, x.At) && t.Watches(r, x.Channel, x.At) {
					rows = t.hear(rows, x, r, sky)
				}
			}
		}
		first = last
	}
	return rows
}

// hear draws whether a receiver decodes a transmission, and adds its report.
func (t *Truth) hear(rows []Row, x Transmission, receiver int, sky *weather) []Row {
	s, from, to := t.Scenario, t.all[x.Station], t.all[receiver]
	snr := t.SNR(x.Station, receiver, x.Channel, x.At) + 10*math.Log10(x.PowerW/from.PowerW) +
		sky.at(x.Station, receiver, x.Channel, x.At.Unix()) + s.Wander.SlotDB*sky.rng.NormFloat64()
	if sky.rng.Float64() >= normal((snr-s.Slots.HalfDecodeDB)/s.Slots.SpreadDB) {
		return rows
	}
	return append(rows, Row{
		At: x.At, Receiver: s.nameIn(to.Call, to.Call, x.At), Sender: s.nameIn(from.Call, to.Call, x.At),
		SNR:         int(math.Round(min(max(snr, lowestSNR), highestSNR))),
		FrequencyHz: s.Channels[x.Channel].FrequencyHz, ReceiverLocator: to.Locator, SenderLocator: from.Locator, PowerW: x.PowerW,
	})
}

// nameIn is the name under which a receiver's report of a moment knows a station.
func (s *Scenario) nameIn(call, receiver string, at time.Time) string {
	for _, a := range s.Aliases {
		if a.Call == call && (a.By == "" || a.By == receiver) && a.Spell.Holds(at) {
			return a.As
		}
	}
	return call
}

// WriteCSV writes rows as an observations file with a header.
func WriteCSV(w io.Writer, rows []Row) error {
	out := bufio.NewWriter(w)
	fmt.Fprintln(out, "time,receiver,sender,snr_db,frequency_hz,receiver_locator,sender_locator,power_w")
	for _, r := range rows {
		fmt.Fprintf(out, "%s,%s,%s,%d,%d,%s,%s,%s\n", r.At.UTC().Format(time.RFC3339), r.Receiver, r.Sender, r.SNR,
			r.FrequencyHz, r.ReceiverLocator, r.SenderLocator, strconv.FormatFloat(r.PowerW, 'g', -1, 64))
	}
	return out.Flush()
}

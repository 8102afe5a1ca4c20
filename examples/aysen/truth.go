package aysen

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"farhop/mesh"
	"farhop/observations/locator"
)

// pairSpreadDB is how much pairs differ beyond distance and site.
const pairSpreadDB = 2.0

// Truth answers what nobody in the net can know: the SNR each link has on
// average, and the chances that follow. Stations and channels are indexes into
// the scenario's tables; guests come after the members.
type Truth struct {
	Scenario *Scenario
	all      []Station
	onAir    []mesh.Windows
	windows  []mesh.Windows // of the channels
	middle   [][]locator.Position
	distance [][]float64   // km
	pairDB   [][][]float64 // from, to, channel: the ridge and what makes the pair special, the same both ways
}

// NewTruth works out what does not change with time. It fails only when a
// table holds an unreadable locator or window.
func NewTruth(s *Scenario) (*Truth, error) {
	t := &Truth{Scenario: s, all: append(append([]Station(nil), s.Stations...), s.Guests...)}
	places := make([]locator.Position, len(t.all))
	for i, st := range t.all {
		place, err := locator.Parse(st.Locator)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", st.Call, err)
		}
		places[i] = place
		w, err := mesh.ParseWindows(st.OnAir)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", st.Call, err)
		}
		t.onAir = append(t.onAir, w)
	}
	for _, c := range s.Channels {
		w, err := mesh.ParseWindows(c.Windows)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", c.Name, err)
		}
		t.windows = append(t.windows, w)
	}
	t.survey(places)
	return t, nil
}

// survey fills the tables of pairs, symmetric in from and to.
func (t *Truth) survey(places []locator.Position) {
	n := len(t.all)
	t.middle, t.distance, t.pairDB = make([][]locator.Position, n), make([][]float64, n), make([][][]float64, n)
	rng := rand.New(rand.NewPCG(t.Scenario.Seed, 1))
	for i := range n {
		t.middle[i], t.distance[i], t.pairDB[i] = make([]locator.Position, n), make([]float64, n), make([][]float64, n)
		for j := range i {
			d := locator.Distance(places[i], places[j])
			m := locator.Position{Lat: (places[i].Lat + places[j].Lat) / 2, Lon: (places[i].Lon + places[j].Lon) / 2}
			special := make([]float64, len(t.Scenario.Channels))
			for c := range special {
				special[c] = pairSpreadDB*rng.NormFloat64() - t.Scenario.Ridge.loss(t.all[i].Call, t.all[j].Call, c)
			}
			t.distance[i][j], t.distance[j][i] = d, d
			t.middle[i][j], t.middle[j][i] = m, m
			t.pairDB[i][j], t.pairDB[j][i] = special, special
		}
	}
}

// loss is what the ridge takes from the path between two stations.
func (r Ridge) loss(a, b string, channel int) float64 {
	if r.gap(a) || r.gap(b) || r.south(a) == r.south(b) {
		return 0
	}
	return r.LossDB[channel]
}

func (r Ridge) gap(call string) bool { return call == r.Pass || slices.Contains(r.Gap, call) }

func (r Ridge) south(call string) bool {
	for _, c := range r.South {
		if c == call {
			return true
		}
	}
	return false
}

// Gain is what the path between two stations, their aerials included, does to a
// signal on a channel at a moment: dB relative to 1 W heard at a quiet site, in
// 2500 Hz. It is the same both ways.
func (t *Truth) Gain(a, b, channel int, at time.Time) float64 {
	c, d := t.Scenario.Channels[channel], t.distance[a][b]
	mhz := float64(c.FrequencyHz) / 1e6
	cosZenith, solarHour := sun(t.middle[a][b], at)
	return c.GainDB - spreading(d) - c.ScreenDBPerKM*d -
		absorption(cosZenith, d, mhz) - skip(solarHour, d, mhz) +
		t.all[a].SiteDB + t.all[b].SiteDB + t.pairDB[a][b][channel]
}

// SNR is the mean SNR in dB (2500 Hz) at which one station would be received by
// another with its planned power on an undisturbed day: path, power and the
// receiver's noise, without fluctuations.
func (t *Truth) SNR(from, to, channel int, at time.Time) float64 {
	return t.Gain(from, to, channel, at) + 10*math.Log10(t.all[from].PowerW) - t.all[to].NoiseDB
}

// Decode is the chance that one frame decodes at such a moment, averaged over
// all fluctuations of an undisturbed day.
func (t *Truth) Decode(from, to, channel int, at time.Time) float64 {
	w, s := t.Scenario.Wander, t.Scenario.Slots
	spread := math.Sqrt(w.FastDB*w.FastDB + w.SlowDB*w.SlowDB + w.NetDB*w.NetDB + w.SlotDB*w.SlotDB + s.SpreadDB*s.SpreadDB)
	return normal((t.SNR(from, to, channel, at) - s.HalfDecodeDB) / spread)
}

// Watches reports whether the plan has a station listen to a channel in the
// slot that begins at a moment: on the air, and the first of its channels in
// window, or any of them for one with several receivers.
func (t *Truth) Watches(station, channel int, slot time.Time) bool {
	if !t.holds(t.onAir[station], slot) {
		return false
	}
	for _, c := range t.all[station].Channels {
		open := t.holds(t.windows[c], slot)
		if c == channel {
			return open
		}
		if open && t.all[station].Watch != mesh.WatchAll {
			return false
		}
	}
	return false
}

func (t *Truth) holds(w mesh.Windows, slot time.Time) bool {
	return w.Holds(secondOfDay(slot), int(t.Scenario.Slots.Length/time.Second))
}

// Open reports whether one station truly reaches another directly in the slot
// at a moment: both watch a channel over which at least this share of frames decodes.
func (t *Truth) Open(from, to int, slot time.Time, threshold float64) bool {
	for c := range t.Scenario.Channels {
		if from != to && t.Watches(from, c, slot) && t.Watches(to, c, slot) && t.Decode(from, to, c, slot) >= threshold {
			return true
		}
	}
	return false
}

// Reached marks the members a station truly reaches over open links, itself
// included, when one station is off the air (−1: none).
func (t *Truth) Reached(from int, slot time.Time, threshold float64, without int) []bool {
	seen := make([]bool, len(t.Scenario.Stations))
	if from == without {
		return seen
	}
	seen[from] = true
	for queue := []int{from}; len(queue) > 0; queue = queue[1:] {
		for to := range seen {
			if !seen[to] && to != without && t.Open(queue[0], to, slot, threshold) {
				seen[to] = true
				queue = append(queue, to)
			}
		}
	}
	return seen
}

func secondOfDay(t time.Time) int { return int(t.Unix() % 86400) }

// normal is the standard normal cumulative.
func normal(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

package sounding

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
)

// dawn is a midnight in UTC.
const dawn = int64(1_772_409_600) // 2026-03-02

// fake is made-up links: a state for each pair and band; a pair without one is
// stated by the plan.
type fake struct {
	model  *link.Model
	states map[[3]int]*link.State
	band   []int // of each channel
	raise  float64
}

func (f *fake) Growth(from, to, channel int) (mesh.Growth, bool) {
	s, ok := f.states[[3]int{from, to, f.band[channel]}]
	if !ok {
		return mesh.Growth{}, false
	}
	return mesh.Growth{Model: f.model, State: s.Clone(), Band: f.band[channel], Raise: f.raise}, true
}

// newFake has links without evidence. With a mean of 60 dB above θ every frame decodes.
func newFake(tb testing.TB, n *mesh.Net, meanDB float64) *fake {
	tb.Helper()
	set := n.Link
	set.MeanDB = meanDB
	m, err := link.NewModel(set)
	if err != nil {
		tb.Fatal(err)
	}
	f := &fake{model: m, states: map[[3]int]*link.State{}}
	for c := range n.Channels {
		f.band = append(f.band, c)
	}
	return f
}

// know gives a pair a state that was heard at the given SNR, hourly over days until
// the moment.
func (f *fake) know(from, to, band int, snr float64, until int64) {
	s := f.model.NewState()
	for t := until - 4*86400; t <= until; t += 3600 {
		f.model.Report(s, t, snr, true)
	}
	f.states[[3]int{from, to, band}] = s
}

// settings are made up, so that the tests don't hang on what the defaults are.
func settings() link.Settings {
	const day = 24 * time.Hour
	s := link.Defaults()
	s.MeanDB, s.LevelSD, s.LevelTau = -4, 20, 60*day
	s.Harmonics, s.HarmonicSD, s.HarmonicRatio, s.HarmonicTau = 3, 11, 0.6, 120*day
	s.FastSD, s.FastTau, s.SlowSD, s.SlowTau = 6.6, time.Hour, 6.6, 14*time.Hour
	s.SlotSD = 4
	return s
}

// testNet has so many stations that always watch the first channel, in slots of the
// length; change may alter it before it is prepared.
func testNet(tb testing.TB, stations int, slot time.Duration, change func(*mesh.Net)) *mesh.Net {
	tb.Helper()
	n := &mesh.Net{
		Slots: mesh.DefaultSlots(), Link: settings(), Evidence: mesh.DefaultEvidence(),
		Channels: []mesh.Channel{{Name: "day", Frequency: 7_131_000, OffsetsHz: []int{800, 1200}}},
	}
	n.Slots.Length, n.Slots.Keyed = slot, slot-6*time.Second
	for i := range stations {
		n.Stations = append(n.Stations, mesh.Station{
			Call: fmt.Sprintf("S%02d", i), PowerW: 10, Watch: mesh.WatchDeclared,
			Supply: &mesh.Supply{BatteryWh: 100, TransmitW: 36},
		})
	}
	if change != nil {
		change(n)
	}
	for _, issue := range n.Prepare() {
		tb.Fatalf("%s: %s", issue.Path, issue.Message)
	}
	return n
}

func windows(tb testing.TB, list ...string) mesh.Windows {
	tb.Helper()
	w, err := mesh.ParseWindows(list)
	if err != nil {
		tb.Fatal(err)
	}
	return w
}

// always is needs of a whole horizon.
func always(r *Request, pairs ...[2]int) {
	for _, p := range pairs {
		r.Needs = append(r.Needs, Need{From: p[0], To: p[1], Start: r.Start, End: r.Start + 100*86400})
	}
}

// straight gives every station a direct way to the coordinator in every period.
func straight(n *mesh.Net, r *Request) {
	for v := range n.Stations {
		if v == r.Coordinator {
			continue
		}
		for k := range 60 {
			r.Passes = append(r.Passes, Pass{
				Receiver: v, Period: k, Stations: []int{v, r.Coordinator},
				FrameSeconds: []float64{40, 0}, BlockSeconds: []float64{2, 36}, Delivered: 0.9,
			})
		}
	}
}

// drawn is a random net with links of all strengths, two channels with windows,
// stations with hours of their own, and a request.
func drawn(tb testing.TB, seed uint64, stations int) (*mesh.Net, *fake, Request) {
	rnd := rand.New(rand.NewPCG(seed, 5))
	n := testNet(tb, stations, 40*time.Second, func(n *mesh.Net) {
		n.Slots.Busy, n.Slots.Block = 0.1, 10
		n.Channels[0].Windows = windows(tb, "06:00-20:00")
		n.Channels = append(n.Channels, mesh.Channel{Name: "night", Frequency: 3_651_000, Windows: windows(tb, "18:00-08:00")})
		for i := range n.Stations {
			s := &n.Stations[i]
			switch rnd.IntN(5) {
			case 0:
				s.OnAir = windows(tb, "03:00-09:00", "12:00-22:00")
			case 1:
				s.Channels = []int{1, 0}
			case 2:
				s.Watch = mesh.WatchAll
			}
			s.Soundings = []mesh.Sounding{{Channel: rnd.IntN(2), Every: time.Hour, After: time.Duration(i) * time.Minute}}
		}
	})
	f := newFake(tb, n, -4)
	r := Request{Start: dawn + int64(rnd.IntN(86400)), Horizon: 6 * time.Hour, Lists: 2 * time.Hour, Coordinator: rnd.IntN(stations)}
	for a := range stations {
		for b := range stations {
			if a == b || rnd.IntN(3) > 0 {
				continue
			}
			c := rnd.IntN(2)
			f.know(a, b, c, n.Slots.HalfDecodeDB-8+25*rnd.Float64(), r.Start-int64(rnd.IntN(7200)))
			start := r.Start + int64(rnd.IntN(3))*7200
			r.Needs = append(r.Needs, Need{From: a, To: b, Channel: c, Start: start, End: start + int64(1+rnd.IntN(3))*7200})
		}
	}
	straight(n, &r)
	kept := r.Passes[:0]
	for _, p := range r.Passes {
		if p.Receiver%5 != 4 || p.Period > 0 { // some have no way at first
			kept = append(kept, p)
		}
	}
	r.Passes = kept
	return n, f, r
}

package config

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"farhop/mesh"
	"farhop/observations"
)

// testLog collects reports, given in any order.
type testLog struct {
	log   observations.Log
	sites map[observations.Site]observations.SiteID
}

func (l *testLog) site(call, locator string) observations.SiteID {
	s := observations.Site{Call: call, Locator: locator}
	if l.sites == nil {
		l.sites = map[observations.Site]observations.SiteID{}
	}
	if id, ok := l.sites[s]; ok {
		return id
	}
	id := observations.SiteID(len(l.log.Sites))
	l.sites[s] = id
	l.log.Sites = append(l.log.Sites, s)
	return id
}

func (l *testLog) add(unix int64, receiver, sender string, hz uint32, snr float32) {
	l.log.Reports = append(l.log.Reports, observations.Report{
		Time: unix, Receiver: l.site(receiver, ""), Sender: l.site(sender, ""), Frequency: hz, SNR: snr,
	})
}

func (l *testLog) sorted() *observations.Log {
	slices.SortStableFunc(l.log.Reports, func(a, b observations.Report) int { return int(a.Time - b.Time) })
	return &l.log
}

// mustDraft drafts a plan and loads it.
func mustDraft(t interface {
	Helper()
	Fatal(...any)
}, log *observations.Log, opt DraftOptions,
) (*mesh.Net, []Note, string) {
	t.Helper()
	text, notes, err := Draft(log, opt)
	if err != nil {
		t.Fatal(err)
	}
	net, ps := Load("draft", text)
	if Failed(ps) {
		t.Fatal("the draft does not load: "+strings.Join(lines(ps), "\n"), string(text))
	}
	marks := 0
	for _, line := range strings.Split(string(text), "\n") {
		marks += strings.Count(line, "# guess: ")
	}
	if marks != len(notes) {
		t.Fatal("marks and notes differ in number:", marks, len(notes))
	}
	for _, n := range notes {
		if !strings.Contains(words(string(text)), words("guess: "+n.Guess)) || n.Check == "" {
			t.Fatal("not marked or nothing to check: ", n)
		}
	}
	return net, notes, string(text)
}

var march = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC).Unix()

// A net that sounds by its schedule comes back: slot, stations, places, powers,
// channels, hours and schedules, the one included whose soundings fall inside slots.
func TestDraftFindsTheNet(t *testing.T) {
	truth := mustLoad(t, `net: Test
slots: {length: 40s, characters: 18, half_decode_snr_db: -16}
channels:
  - {name: day, frequency_hz: 7131000, windows: ["17:00-06:00"]}
  - {name: night, frequency_hz: 3651000, windows: ["07:00-16:00"]}
stations:
  - {call: HARBOR, locator: RE44, power_w: 20, soundings: [{channel: day, every: 45m, after: 7m}, {channel: night, every: 1h, after: 20m}]}
  - {call: MILL, locator: RE45, power_w: 5, soundings: [{channel: day, every: 30m, after: 12m}, {channel: day, every: 1h, after: 21m}]}
  - {call: SUMMIT, locator: RE54, channels: [day], on_air: ["18:00-02:00"]}
`)
	l := &testLog{}
	rng := rand.New(rand.NewPCG(1, 2))
	for at := march; at < march+14*86400; at += 40 {
		for s := range truth.Stations {
			c, ok := truth.Sounds(s, at)
			if !ok {
				continue
			}
			for r := range truth.Stations {
				if r != s && truth.Listens(r, c, at) && rng.Float64() < 0.8 {
					l.log.Reports = append(l.log.Reports, observations.Report{
						Time: at, Receiver: l.site(truth.Stations[r].Call, truth.Stations[r].Locator), Sender: l.site(truth.Stations[s].Call, truth.Stations[s].Locator),
						Frequency: truth.Channels[c].Frequency, SNR: float32(rng.NormFloat64()*3 - 8), Power: float32(truth.Stations[s].PowerW),
					})
				}
			}
		}
	}
	n, _, text := mustDraft(t, l.sorted(), DraftOptions{Net: "Test"})
	if n.Name != "Test" || n.Slots.Length != 40*time.Second {
		t.Errorf("net %q, slots of %v", n.Name, n.Slots.Length)
	}
	if d := n.Slots.HalfDecodeDB; d < -15 || d > -11 { // the lower 5 % of N(−8, 3)
		t.Errorf("half decode at %v dB", d)
	}
	day, night := slices.IndexFunc(n.Channels, func(c mesh.Channel) bool { return c.Frequency == 7131000 }), 0
	if night = 1 - day; len(n.Channels) != 2 || day < 0 || n.Channels[night].Frequency != 3651000 {
		t.Fatalf("channels %+v", n.Channels)
	}
	if w := n.Channels[day].Windows.String(); w != "16:00-07:00" {
		t.Errorf("day windows %s", w)
	}
	want := []mesh.Station{
		{Call: "HARBOR", Locator: "RE44", PowerW: 20, OnAir: mesh.Always(), Channels: []int{night, day}, Soundings: []mesh.Sounding{
			{Channel: night, Every: time.Hour, After: 20 * time.Minute}, {Channel: day, Every: 45 * time.Minute, After: 7 * time.Minute},
		}},
		{Call: "MILL", Locator: "RE45", PowerW: 5, OnAir: mesh.Always(), Channels: []int{night, day}, Soundings: []mesh.Sounding{
			// 21 min lies inside a slot: it goes out at 21 min 20 s. So do 12 and 42 min of the other.
			{Channel: day, Every: time.Hour, After: 12 * time.Minute}, {Channel: day, Every: time.Hour, After: 21*time.Minute + 20*time.Second}, {Channel: day, Every: time.Hour, After: 42 * time.Minute},
		}},
		{Call: "SUMMIT", Locator: "RE54", PowerW: 5, Channels: []int{day}},
	}
	for i, s := range n.Stations {
		w := want[i]
		slices.Sort(w.Channels)
		if s.Call != w.Call || s.Locator != w.Locator || s.PowerW != w.PowerW || !slices.Equal(s.Channels, w.Channels) || !slices.Equal(s.Soundings, w.Soundings) {
			t.Errorf("got %+v\nwant %+v", s, w)
		}
	}
	if w := n.Stations[2].OnAir.String(); w != "17:00-03:00" {
		t.Errorf("SUMMIT on air %s\n%s", w, text)
	}
}

func TestDraftNames(t *testing.T) {
	l := &testLog{}
	for i := range int64(120) {
		l.add(march+i*300, "MILL", "HARBOR", 7131000, -5)
		l.add(march+i*300+60, "MILL", "HARBOR/P", 7131000, -5)
		l.add(march+i*600, "MILL", "SUMMIT/2", 7131000, -5)
	}
	l.add(march, "MILL", "HARBR", 7131000, -5) // a slip
	l.add(march+300, "MILL", "HARBR", 7131000, -5)
	l.add(march, "MILL", "QXJ7", 7131000, -5)     // heard once
	l.add(march, "SCHOOL", "HARBOR", 7131000, -5) // reported once: a station
	l.add(march, "MILL", "A B", 7131000, -5)      // no name
	l.add(march, "MILL", "NULL", 7131000, -5)     // a name YAML would take for nothing
	l.add(march+300, "MILL", "NULL", 7131000, -5)
	l.add(march, "MILL", "1E5", 7131000, -5) // one it would take for a number
	l.add(march+300, "MILL", "1E5", 7131000, -5)
	l.add(march, "MILL", "MILL", 7131000, -5) // itself
	n, notes, text := mustDraft(t, l.sorted(), DraftOptions{})
	var calls []string
	for _, s := range n.Stations {
		calls = append(calls, s.Call)
	}
	if want := []string{"1E5", "HARBOR", "MILL", "NULL", "SCHOOL", "SUMMIT/2"}; !slices.Equal(calls, want) {
		t.Errorf("stations %v, want %v", calls, want)
	}
	if i, ok := n.Find("HARBR"); !ok || n.Stations[i].Call != "HARBOR" {
		t.Error("the slip is no other name of HARBOR")
	}
	for _, want := range []string{"also seen as HARBOR/P", ": QXJ7", ": A B"} {
		if !slices.ContainsFunc(notes, func(n Note) bool { return strings.Contains(n.Guess, want) }) {
			t.Errorf("no note says %q\n%s", want, text)
		}
	}
}

func TestDraftPlaces(t *testing.T) {
	l := &testLog{}
	add := func(day int64, site, locator string, watts float32) {
		l.log.Reports = append(l.log.Reports, observations.Report{
			Time: march + day*86400, Receiver: l.site("MILL", "RE45bb"), Sender: l.site(site, locator), Frequency: 7131000, Power: watts,
		})
	}
	add(0, "HARBOR", "RE44", 5)
	add(1, "HARBOR", "RF10aa", 10)
	add(2, "HARBOR", "re44AB", 10)
	add(3, "HARBOR", "RE44", 20)
	add(4, "HARBOR", "nonsense", 10)
	add(4, "JETTY", "RE45BB", 0)
	n, _, text := mustDraft(t, l.sorted(), DraftOptions{})
	if s := n.Stations[0]; s.Locator != "RE44ab" || s.PowerW != 10 {
		t.Errorf("HARBOR at %s with %v W", s.Locator, s.PowerW)
	}
	for _, want := range []string{"last seen 2026-03-05 00:00Z, earlier in RF10", "median of 5 reports, 3 different powers", "in the same place as JETTY", "in the same place as MILL"} {
		if !strings.Contains(text, want) {
			t.Errorf("the draft lacks %q\n%s", want, text)
		}
	}
}

func TestDraftReceivers(t *testing.T) {
	l := &testLog{}
	for i := range int64(100) {
		at := march + i*120
		l.add(at, "MILL", "HARBOR", 7131000, -5)
		l.add(at, "MILL", "SUMMIT", 3651000, -5)
		l.add(at, "DEPOT", "HARBOR", []uint32{7131000, 3651000}[i%2], -5)   // changes band from slot to slot
		l.add(at, "SCHOOL", "HARBOR", []uint32{7131000, 3651000}[i/50], -5) // changes once
	}
	n, _, _ := mustDraft(t, l.sorted(), DraftOptions{})
	for call, want := range map[string]mesh.Watch{"MILL": mesh.WatchAll, "DEPOT": mesh.WatchAll, "SCHOOL": mesh.WatchHeard, "HARBOR": mesh.WatchHeard} {
		if i, _ := n.Find(call); n.Stations[i].Watch != want {
			t.Errorf("%s watches %v, want %v", call, n.Stations[i].Watch, want)
		}
	}
}

// A log of typed lists has no frequencies.
func TestDraftTyped(t *testing.T) {
	l := &testLog{}
	l.log.Channels = []string{"day", "NIGHT", "a b"}
	for i, c := range []uint16{1, 2, 3, 0, 1} {
		l.add(march+int64(i)*3600, "MILL", "HARBOR", 0, -5)
		l.log.Reports[i].Channel = c
	}
	n, _, text := mustDraft(t, l.sorted(), DraftOptions{Slot: 40 * time.Second})
	var names []string
	for _, c := range n.Channels {
		names = append(names, c.Name)
	}
	if want := []string{"channel1", "day", "NIGHT", "channel2"}; !slices.Equal(names, want) || n.Slots.Length != 40*time.Second {
		t.Errorf("channels %v, want %v\n%s", names, want, text)
	}
	l.add(march, "MILL", "HARBOR", 7131000, -5)
	n, _, text = mustDraft(t, l.sorted(), DraftOptions{})
	if len(n.Channels) != 1 || n.Channels[0].Name != "40m" || !strings.Contains(text, "typed lists name no frequency") {
		t.Errorf("channels %+v\n%s", n.Channels, text)
	}
}

func TestDraftErrors(t *testing.T) {
	l := &testLog{}
	if _, _, err := Draft(l.sorted(), DraftOptions{}); !errors.Is(err, ErrNothingHeard) {
		t.Errorf("empty log: %v", err)
	}
	l.add(march, "MILL", "MILL", 7131000, 0)
	if _, _, err := Draft(l.sorted(), DraftOptions{}); !errors.Is(err, ErrNothingHeard) {
		t.Errorf("a station that hears itself: %v", err)
	}
	for _, d := range []time.Duration{-time.Second, 7 * time.Second, 1500 * time.Millisecond, 2 * time.Hour} {
		if _, _, err := Draft(l.sorted(), DraftOptions{Slot: d}); err == nil || errors.Is(err, ErrNothingHeard) {
			t.Errorf("slot of %v: %v", d, err)
		}
	}
}

// Whatever a log holds, its draft loads, and is the same twice.
func TestDraftLoads(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		call := rapid.OneOf(rapid.SampledFrom([]string{"HARBOR", "MILL", "SUMMIT", "HARBOR/P", "EVERY-MEMBER", "É", "1", "~", "#X", "A:B", "//", "a", "A"}), rapid.String())
		place := rapid.SampledFrom([]string{"", "RE44", "RE44ab", "re44", "X", "RE45"})
		hz := rapid.OneOf(rapid.SampledFrom([]uint32{0, 7131000, 3651000, 27_185_000}), rapid.Uint32())
		l := &testLog{}
		l.log.Channels = rapid.SliceOfN(rapid.String(), 0, 3).Draw(t, "names")
		for range rapid.IntRange(1, 60).Draw(t, "reports") {
			l.log.Reports = append(l.log.Reports, observations.Report{
				Time:     rapid.Int64Range(-100_000, 4_000_000_000).Draw(t, "time"),
				Receiver: l.site(call.Draw(t, "receiver"), place.Draw(t, "at")), Sender: l.site(call.Draw(t, "sender"), place.Draw(t, "from")),
				Frequency: hz.Draw(t, "hz"), SNR: rapid.Float32Range(-60, 60).Draw(t, "snr"), Power: rapid.Float32Range(0, 1e6).Draw(t, "W"),
				Channel: uint16(rapid.IntRange(0, len(l.log.Channels)).Draw(t, "channel")),
			})
		}
		log := l.sorted()
		text, _, err := Draft(log, DraftOptions{Net: rapid.String().Draw(t, "net")})
		if errors.Is(err, ErrNothingHeard) {
			return
		}
		_, _, once := mustDraft(t, log, DraftOptions{})
		if _, _, again := mustDraft(t, log, DraftOptions{}); again != once {
			t.Fatal("not the same twice")
		}
		if _, ps := Load("p", text); Failed(ps) {
			t.Fatal(lines(ps))
		}
	})
}

// readLog reads a log from a file.
func readLog(t *testing.T, path string) *observations.Log {
	t.Helper()
	log, err := observations.Read(context.Background(), []observations.Input{{Path: path}}, observations.Options{Newest: true})
	if err != nil {
		t.Fatal(err)
	}
	return log
}

// Every plan of the worked examples loads without problems.
func TestExamplesLoad(t *testing.T) {
	plans, err := filepath.Glob("../../../../examples/*/plan.yaml")
	if err != nil || len(plans) == 0 {
		t.Fatal("no plans of examples: ", err)
	}
	for _, path := range plans {
		if net, ps, err := LoadFile(path); err != nil || net == nil || len(ps) > 0 {
			t.Errorf("%s: %v\n%s", path, err, strings.Join(lines(ps), "\n"))
		}
	}
}

// The log of the worked example gives back most of the example's plan.
func TestDraftExample(t *testing.T) {
	const folder = "../../../../examples/aysen/"
	data, err := os.ReadFile(folder + "plan.yaml")
	if err != nil {
		t.Fatal(err)
	}
	truth := mustLoad(t, string(data))
	n, _, _ := mustDraft(t, readLog(t, folder+"observations.csv.gz"), DraftOptions{})
	if n.Slots.Length != truth.Slots.Length || max(n.Slots.HalfDecodeDB-truth.Slots.HalfDecodeDB, truth.Slots.HalfDecodeDB-n.Slots.HalfDecodeDB) > 3 {
		t.Errorf("slots %+v, truth %+v", n.Slots, truth.Slots)
	}
	same, soundings := 0, 0
	for _, s := range truth.Stations {
		i, ok := n.Find(s.Call)
		if !ok || n.Stations[i].Locator != s.Locator || n.Stations[i].PowerW != s.PowerW {
			t.Errorf("%s: found %v, differs: %+v", s.Call, ok, s)
			continue
		}
		for _, want := range s.Soundings {
			soundings++
			if slices.ContainsFunc(n.Stations[i].Soundings, func(got mesh.Sounding) bool {
				return got.Every == want.Every && got.After == want.After && n.Channels[got.Channel].Frequency == truth.Channels[want.Channel].Frequency
			}) {
				same++
			}
		}
	}
	if 10*same < 9*soundings {
		t.Errorf("%d of %d sounding schedules found", same, soundings)
	}
}

// The real beacon sends three times an hour, 20 minutes apart from minute 8 on,
// in slots of two minutes (data as published with the set).
func TestDraftBeacon(t *testing.T) {
	const path = "../../../../../shared/data/beacon-2023.csv.gz"
	if _, err := os.Stat(path); err != nil {
		t.Skip("the recorded beacon reports are not here: ", err)
	}
	n, _, _ := mustDraft(t, readLog(t, path), DraftOptions{})
	i, ok := n.Find("T001")
	if !ok || len(n.Stations) != 120 || n.Slots.Length != 2*time.Minute {
		t.Fatalf("beacon found: %v; %d stations, slots of %v", ok, len(n.Stations), n.Slots.Length)
	}
	if want := []mesh.Sounding{{Every: 20 * time.Minute, After: 8 * time.Minute}}; !slices.Equal(n.Stations[i].Soundings, want) {
		t.Errorf("soundings %+v, want %+v", n.Stations[i].Soundings, want)
	}
}

func BenchmarkDraft(b *testing.B) {
	for _, reports := range []int{10_000, 200_000} {
		l := &testLog{}
		rng := rand.New(rand.NewPCG(3, 4))
		for i := range reports {
			receiver, sender := rng.IntN(50), rng.IntN(50)
			l.add(march+int64(i/10)*40, fmt.Sprintf("S%d", receiver), fmt.Sprintf("S%d", sender), 7_131_000, -5)
		}
		log := l.sorted()
		b.Run(fmt.Sprintf("reports=%d/stations=50", reports), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, _, err := Draft(log, DraftOptions{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

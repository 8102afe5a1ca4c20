package reinforce

import (
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/observations"
	"farhop/routing/cut"
)

// Each station is cut off for its own reason; stated links, half the frames at
// −16 dB, asked at 18:00.
func TestReasons(t *testing.T) {
	net := &mesh.Net{
		Slots: mesh.DefaultSlots(),
		Channels: []mesh.Channel{
			{Name: "day", Frequency: 7_131_000, Windows: windows(t, "08:00-20:00")},
			{Name: "night", Frequency: 3_651_000, Windows: windows(t, "17:00-09:00")},
		},
		Stations: []mesh.Station{
			{Call: "ASLEEP", PowerW: 10, OnAir: windows(t, "20:00-21:00")},
			{Call: "DIM", PowerW: 5, MaxPowerW: 50},
			{Call: "EVENING", PowerW: 10},
			{Call: "FAINT", PowerW: 50},
			{Call: "HARBOR", PowerW: 20},
			{Call: "LONELY", PowerW: 10, Channels: []int{1}},
			{Call: "SILENT", PowerW: 10},
		},
	}
	if issues := net.Prepare(); len(issues) > 0 {
		t.Fatal(issues)
	}
	at := func(call string) int {
		i, ok := net.Find(call)
		if !ok {
			t.Fatal(call)
		}
		return i
	}
	harbor := at("HARBOR")
	for _, l := range []struct {
		call    string
		channel int
		snr     float64
	}{{"DIM", 0, -20}, {"FAINT", 0, -40}, {"EVENING", 0, -40}, {"EVENING", 1, 0}, {"ASLEEP", 1, 0}} {
		net.Fixed = append(net.Fixed, mesh.FixedLink{From: at(l.call), To: harbor, Channel: l.channel, SNRDB: l.snr, SNRSDDB: 2})
	}
	if issues := net.Prepare(); len(issues) > 0 {
		t.Fatal(issues)
	}
	links := learn(t, net)
	d := Diagnosis{Links: links, Unix: links.At(), Threshold: 0.5}
	for _, c := range []struct {
		call   string
		reason Reason
		at     string
	}{
		{"ASLEEP", OffAir, "20:00"},
		{"DIM", LowPower, ""},
		{"EVENING", OtherHour, "20:00"}, // the night channel is watched once the day channel closes
		{"FAINT", WeakPaths, ""},
		{"LONELY", OtherWatch, ""},
		{"SILENT", NoEvidence, ""},
	} {
		h := d.Of(at(c.call), false, true)
		opens := ""
		if h.At != 0 {
			opens = time.Unix(h.At, 0).UTC().Format("15:04")
		}
		if h.Reason != c.reason || opens != c.at {
			t.Errorf("%s: %s at %q, want %s at %q", c.call, h.Reason, opens, c.reason, c.at)
		}
		if c.reason == LowPower && (h.Partner != harbor || h.Watts < 12 || h.Watts > 13 || h.ShortDB != 4) {
			t.Errorf("%s: %+v, want 4 dB more, to 12.6 W", c.call, h)
		}
	}
}

// What little is known is told: a link just reported a few times is a good guess and
// not known, one only ever missed a poor one; once it is known it is no guess.
func TestGuesses(t *testing.T) {
	net := &mesh.Net{
		Slots: mesh.DefaultSlots(), Channels: []mesh.Channel{{Name: "day", Frequency: 7_131_000}},
		Stations: []mesh.Station{{Call: "HARBOR", PowerW: 10}, {Call: "MILL", PowerW: 10}, {Call: "SUMMIT", PowerW: 10}},
	}
	for i := range net.Stations {
		net.Stations[i].Watch = mesh.WatchDeclared
		net.Stations[i].Soundings = []mesh.Sounding{{Every: 20 * time.Minute, After: time.Duration(4*i) * time.Minute}}
	}
	if issues := net.Prepare(); len(issues) > 0 {
		t.Fatal(issues)
	}
	text := "time,receiver,sender,snr_db,frequency_hz\n2026-03-02T17:40:00Z,MILL,HARBOR,2,7131000\n2026-03-02T17:48:00Z,TRAWLER,SUMMIT,2,7131000\n"
	ctx := context.Background()
	log, err := observations.Read(ctx, []observations.Input{{Path: "-"}}, observations.Options{Newest: true, Stdin: strings.NewReader(text)})
	if err != nil {
		t.Fatal(err)
	}
	links, err := mesh.Learn(ctx, net, log, log.Moment+1800)
	if err != nil {
		t.Fatal(err)
	}
	d := Diagnosis{Links: links, Unix: links.At(), Threshold: 0.5}
	h := d.Of(1, true, true)
	if h.Known != 0 || h.Reports != 1 || h.Misses == 0 || h.Reason != TooLittle || !math.IsNaN(h.ShortDB) {
		t.Errorf("MILL: %+v", h)
	}
	if g := h.Guess; g == nil || g.From != 0 || g.To != 1 || g.Decode < 0.5 {
		t.Errorf("MILL: %+v", g)
	}
	h = d.Of(2, true, true)
	if g := h.Guess; g == nil || h.Reports != 0 || h.Misses == 0 || g.Decode > 0.4 {
		t.Errorf("SUMMIT: %+v, %+v", h, g)
	}
	net.Fixed = []mesh.FixedLink{{From: 1, To: 2, SNRDB: 0, SNRSDDB: 2}}
	if issues := net.Prepare(); len(issues) > 0 {
		t.Fatal(issues)
	}
	d.Links = learn(t, net)
	if h := d.Of(1, false, true); h.Guess != nil || h.Known != 1 {
		t.Errorf("stated: %+v", h)
	}
}

// A station next to a generator is told by its hearing.
func TestNoisySite(t *testing.T) {
	net, _ := strewn(t, 3, 12, func(int, int) bool { return false })
	for i := range net.Fixed {
		if f := &net.Fixed[i]; net.Stations[f.To].Call == "S04" {
			f.SNRDB -= 50
		}
	}
	links := learn(t, net)
	d := Diagnosis{Links: links, Law: LearnLaw(links, links.At()), Unix: links.At(), Threshold: 0.5}
	s, _ := net.Find("S04")
	if h := d.Of(s, true, false); h.Reason != NoisySite || h.NoiseDB < 30 || h.Partner < 0 || !(h.KM > 0) {
		t.Errorf("%s, %+v", h.Reason, h)
	}
}

func TestInTrouble(t *testing.T) {
	r := &cut.Report{Stations: 6, Isolated: []int{1, 4}, Deaf: []int{0}, Unheard: []int{5}, Unknown: []int{1}}
	stations, hearing, heard := InTrouble(r)
	want := []struct {
		station        int
		hearing, heard bool
	}{{0, true, false}, {1, true, true}, {4, true, true}, {5, false, true}}
	if len(stations) != len(want) {
		t.Fatalf("%v", stations)
	}
	for i, w := range want {
		if stations[i] != w.station || hearing[i] != w.hearing || heard[i] != w.heard {
			t.Errorf("%d: %d %v %v, want %+v", i, stations[i], hearing[i], heard[i], w)
		}
	}
}

func TestLastContacts(t *testing.T) {
	net := stated(t, []mesh.Station{{Call: "HARBOR", PowerW: 10}, {Call: "MILL", PowerW: 10, Also: []string{"SAW"}}, {Call: "SUMMIT", PowerW: 10}}, nil)
	text := `time,receiver,sender,snr_db,frequency_hz
2026-03-02T10:00:00Z,HARBOR,SAW,-9,7131000
2026-03-02T11:00:00Z,HARBOR,MILL,-11,3651000
2026-03-02T12:00:00Z,MILL,TRAWLER,-3,14000000
`
	log, err := observations.Read(context.Background(), []observations.Input{{Path: "-"}}, observations.Options{Newest: true, Stdin: strings.NewReader(text)})
	if err != nil {
		t.Fatal(err)
	}
	got := LastContacts(net, log, []int{1, 2})
	if c := got[0].HeardBy; c == nil || c.Other != "HARBOR" || c.SNR != -11 || net.Channels[c.Channel].Name != "night" {
		t.Errorf("last heard by %+v", c)
	}
	if c := got[0].Heard; c == nil || c.Other != "TRAWLER" || c.Channel != -1 {
		t.Errorf("last heard %+v", c)
	}
	if got[1].HeardBy != nil || got[1].Heard != nil {
		t.Errorf("nobody: %+v", got[1])
	}
	if none := LastContacts(net, nil, []int{0}); none[0].Heard != nil || none[0].HeardBy != nil {
		t.Errorf("without a log: %+v", none)
	}
}

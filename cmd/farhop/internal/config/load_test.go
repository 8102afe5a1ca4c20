package config

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"farhop/mesh"
	"farhop/mesh/link"
	"farhop/observations/locator"
)

// head is a sound beginning of a plan, five lines long.
const head = `net: Test
slots: {length: 40s, characters: 18, half_decode_snr_db: -16}
channels: [{name: day, frequency_hz: 7131000}, {name: night, frequency_hz: 3651000}]
stations:
  - call: HARBOR
`

// lines returns problems as text.
func lines(ps []Problem) []string {
	var out []string
	for _, p := range ps {
		out = append(out, p.String())
	}
	return out
}

func mustLoad(t *testing.T, plan string) *mesh.Net {
	t.Helper()
	n, ps := Load("p", []byte(plan))
	if n == nil || len(ps) > 0 {
		t.Fatalf("problems in a sound plan:\n%s", strings.Join(lines(ps), "\n"))
	}
	return n
}

func TestLoadSample(t *testing.T) {
	data, err := os.ReadFile("testdata/sample.yaml")
	if err != nil {
		t.Fatal(err)
	}
	windows := func(list ...string) mesh.Windows {
		w, err := mesh.ParseWindows(list)
		if err != nil {
			t.Fatal(err)
		}
		return w
	}
	day, night := windows("17:00-07:00"), windows("06:00-18:00")
	set := link.Defaults()
	set.HalfDecodeDB, set.SpreadDB = -16, 1.5
	at := func(hour int) time.Time { return time.Date(2026, 3, 2, hour, 0, 0, 0, time.UTC) }
	want := &mesh.Net{
		Name: "Highland relief drill",
		Slots: mesh.Slots{
			Length: 40 * time.Second, Keyed: 34 * time.Second, Characters: 18, Header: 1, Ack: 1, Turnaround: 1,
			Rounds: 6, Block: 10, Identify: 10 * time.Minute, HalfDecodeDB: -16, SpreadDB: 1.5, Busy: 0.1,
		},
		Channels: []mesh.Channel{
			{Name: "day", Frequency: 7131000, Windows: day, OffsetsHz: []int{800, 1200, 1600}, NoisyHz: []int{1000, 2000}},
			{Name: "night", Frequency: 3651000, Windows: night},
		},
		Stations: []mesh.Station{
			{
				Call: "HARBOR", Locator: "RE44", Position: locator.Position{Lat: -45.5, Lon: 169}, PowerW: 20, MaxPowerW: 50,
				Channels: []int{0, 1}, OnAir: mesh.Always(), Watch: mesh.WatchDeclared, Roles: []string{"gateway"},
				Soundings: []mesh.Sounding{{Channel: 0, Every: 45 * time.Minute, After: 7 * time.Minute}},
				Supply:    &mesh.Supply{BatteryWh: 128, Reserve: 0.2, ReceiveW: 6, TransmitW: 65, ChargeWhPerDay: 240},
				DutyLimit: 0.5, Quiet: windows("03:00-03:30"), Noisy: []mesh.Noise{{Channel: 0, OffsetHz: 1590}},
			},
			{Call: "MILL", Also: []string{"MILL-2"}, PowerW: 10, Channels: []int{1}, OnAir: mesh.Always()},
			{Call: "SUMMIT", PowerW: 10, Channels: []int{0, 1}, OnAir: mesh.Always()},
		},
		Fixed: []mesh.FixedLink{
			{From: 0, To: 1, Decode: 0.83, HasDecode: true},
			{From: 1, To: 0, SNRDB: -12, SNRSDDB: 4},
		},
		Link: set, CommonDB: 3,
		Evidence: mesh.Evidence{ListeningWindow: 10 * time.Minute, SilentAfter: 8 * time.Hour, MovedKM: 300},
		Limits:   mesh.Limits{DutyLimit: 0.6, Quiet: windows("12:00-12:06"), SideBySideDB: 25, ClearHz: 150},
		Traffic: []mesh.Message{
			{ID: "M1", From: 0, To: 2, Characters: 140, Precedence: mesh.Welfare, Ready: at(18), Deadline: at(20)},
			{ID: "M2", From: 0, To: mesh.EveryMember, Characters: 1, Text: "…", Precedence: mesh.Routine},
		},
	}
	got := mustLoad(t, string(data))
	if diff := cmp.Diff(want, got, cmpopts.IgnoreUnexported(mesh.Net{}), cmpopts.EquateEmpty()); diff != "" {
		t.Errorf("net (-want +got):\n%s", diff)
	}
	if i, ok := got.Find("mill-2"); !ok || i != 1 {
		t.Errorf("Find(mill-2) = %d, %v; the net is not prepared", i, ok)
	}
	file, ps, err := LoadFile("testdata/sample.yaml")
	if err != nil || len(ps) > 0 || !cmp.Equal(got, file, cmpopts.IgnoreUnexported(mesh.Net{})) {
		t.Errorf("LoadFile differs from Load: %v %v", err, ps)
	}
	if _, _, err := LoadFile("testdata/absent.yaml"); err == nil {
		t.Error("no error for a file that is absent")
	}
}

// The defaults of a plan are those of the libraries.
func TestDefaults(t *testing.T) {
	n := mustLoad(t, head)
	slots := mesh.DefaultSlots()
	slots.Keyed = slots.Length // as documented for the plan
	if n.Slots != slots {
		t.Errorf("slots %+v, want %+v", n.Slots, slots)
	}
	full := mustLoad(t, head+"evidence: {}\nmodel: {}\nlinks:\ntraffic: []\n")
	for _, n := range []*mesh.Net{n, full} {
		set := link.Defaults()
		set.HalfDecodeDB, set.SpreadDB = slots.HalfDecodeDB, slots.SpreadDB
		if n.Link != set || n.CommonDB != mesh.DefaultCommonDB || n.Evidence != mesh.DefaultEvidence() {
			t.Errorf("settings %+v %v %+v", n.Link, n.CommonDB, n.Evidence)
		}
		if s := n.Stations[0]; s.PowerW != 10 || s.Watch != mesh.WatchHeard || !s.OnAir.Equal(mesh.Always()) || s.Supply != nil {
			t.Errorf("station %+v", s)
		}
	}
}

// Every setting of the model lands in its own place.
func TestModelKeys(t *testing.T) {
	plan := head + "model: {level_mean_db: -1, level_sd_db: 2, level_time: 30d, harmonics: 4, harmonic_sd_db: 5, harmonic_ratio: 0.6, " +
		"harmonic_time: 70d, fast_sd_db: 8, fast_time: 90m, slow_sd_db: 10, slow_time: 1d11h, slot_sd_db: 12, known_sd_db: 13, common_db: 14}\n"
	n := mustLoad(t, plan)
	const d = 24 * time.Hour
	want := link.Settings{
		HalfDecodeDB: -16, SpreadDB: 1.5, MeanDB: -1, LevelSD: 2, LevelTau: 30 * d, Harmonics: 4, HarmonicSD: 5, HarmonicRatio: 0.6,
		HarmonicTau: 70 * d, FastSD: 8, FastTau: 90 * time.Minute, SlowSD: 10, SlowTau: d + 11*time.Hour, SlotSD: 12, KnownSD: 13,
	}
	if n.Link != want || n.CommonDB != 14 {
		t.Errorf("got %+v %v", n.Link, n.CommonDB)
	}
}

// One mistake never hides another: all of these are reported at once, and only
// these.
func TestAllAtOnce(t *testing.T) {
	plan := `nett: Test
slots:
  length: 7s
  characters: none
  rounds: 0
  half_decode_snr_db: -16
  half_decode_snr_db: -17
channels:
  - {name: day, frequency_hz: 7131, windows: ["17:00-07"]}
  - {name: Day, frequency_hz: 3651000}
stations:
  - call: HARBOR
    power_w: 20W
    watch: declard
    soundings:
      - {channel: day, every: 45, after: 7m}
      - {channel: nite, every: 45m}
      - {channel: day, every: 45m, after: 50m}
  - call: harbor
    on_air: always
  - locator: ZZ99
links:
  - {from: HARBR, to: HARBOR, channel: day, decode: 1.5}
  - {from: HARBOR, to: HARBOR, channel: day, decode: 0.5}
traffic:
  - {id: M1, from: HARBOR, to: every-member, characters: 10, precedence: URGENT, ready: tomorrow}
`
	want := []string{
		`1:1 nett`, `3:11 slots.length`, `4:15 slots.characters`, `5:11 slots.rounds`, `7:3 slots.half_decode_snr_db`,
		`9:31 channels[0].frequency_hz`, `9:47 channels[0].windows[0]`, `10:12 channels[1].name`,
		`13:14 stations[0].power_w`, `14:12 stations[0].watch`, `16:31 stations[0].soundings[0].every`,
		`17:19 stations[0].soundings[1].channel`, `18:43 stations[0].soundings[2].after`,
		`19:11 stations[1].call`, `20:13 stations[1].on_air`, `21:5 stations[2].call`, `21:14 stations[2].locator`,
		`23:12 links[0].from`, `23:53 links[0].decode`, `24:24 links[1].to`,
		`26:74 traffic[0].precedence`, `26:89 traffic[0].ready`,
	}
	net, ps := Load("p", []byte(plan))
	if net != nil {
		t.Error("a net in spite of problems")
	}
	var got []string
	for _, p := range ps {
		got = append(got, strings.TrimPrefix(strings.SplitN(p.String(), ": ", 2)[0], "p:")+" "+p.Path)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s\n%s", diff, strings.Join(lines(ps), "\n"))
	}
}

// Anchors, aliases and merged settings mean what they repeat.
func TestAliases(t *testing.T) {
	plan := `net: &name Test
slots: &s {length: 40s, characters: 18, half_decode_snr_db: -16}
channels: [{name: day, frequency_hz: 7131000}]
stations:
  - &base {call: HARBOR, power_w: 5, watch: all, roles: &r [gateway], locator: RE44}
  - {<<: *base, call: MILL, power_w: 7}
  - {<<: [*base, {watch: declared}], call: SUMMIT, roles: *r}
`
	n := mustLoad(t, plan)
	mill, _ := n.Find("MILL")
	summit, _ := n.Find("SUMMIT")
	if s := n.Stations[mill]; s.PowerW != 7 || s.Watch != mesh.WatchAll || s.Locator != "RE44" {
		t.Errorf("MILL %+v", s)
	}
	if s := n.Stations[summit]; s.PowerW != 5 || s.Watch != mesh.WatchAll || !slices.Equal(s.Roles, []string{"gateway"}) {
		t.Errorf("SUMMIT %+v", s)
	}
	// A slip in what is repeated is one problem, where it stands.
	_, ps := Load("p", []byte(strings.Replace(plan, "watch: all", "watch: al", 1)))
	want := []string{`p:5:45: stations[0].watch: "al" is unknown here; did you mean all? allowed is heard, declared or all`}
	if diff := cmp.Diff(want, lines(ps)); diff != "" {
		t.Error(diff)
	}
}

// Plans made to eat memory or time are refused soon.
func TestBombs(t *testing.T) {
	laughs := head + "links: &l0 []\n"
	merge := "a0: &a0 {x: 1}\n"
	for i := 1; i < 30; i++ {
		laughs += strings.ReplaceAll("lX: &lX [*lY, *lY, *lY, *lY, *lY, *lY, *lY, *lY, *lY]\n", "X", string(rune('a'+i)))
		merge += "<<: &m" + string(rune('a'+i)) + " {<<: [" + strings.Repeat("*a0, ", 20) + "]}\n"
	}
	many := head + "  - &s {call: MILL, also: [" + strings.Repeat("A,", 300) + "A]}\n" + strings.Repeat("  - *s\n", 8000)
	selfMerge := head + "    <<: &m {<<: [" + strings.Repeat("*m, ", 30) + "*m], power_w: 1}\n"
	for name, plan := range map[string]string{
		"laughs": laughs, "merge": merge, "many": many, "self merge": selfMerge,
		"deep flow": "net: " + strings.Repeat("[", 200_000), "deep keys": "net: " + strings.Repeat("{a: ", 5000),
		"dashes": strings.Repeat("- ", 100_000), "self": "net: &a [*a]\n", "large": head + strings.Repeat("#\n", MaxPlanBytes/2),
	} {
		t.Run(name, func(t *testing.T) {
			net, ps := Load("p", []byte(plan))
			if net != nil || !Failed(ps) || len(ps) > maxProblems+1 {
				t.Errorf("net %v with %d problems", net != nil, len(ps))
			}
		})
	}
}

func TestManyProblems(t *testing.T) {
	_, ps := Load("p", []byte(head+strings.Repeat("  - call: A B\n", 3000)))
	if len(ps) != maxProblems+1 {
		t.Fatalf("%d problems", len(ps))
	}
	if got := ps[maxProblems].String(); got != "p: 2000 more problems are not listed; mend these first" {
		t.Error(got)
	}
}

func BenchmarkLoad(b *testing.B) {
	sample, err := os.ReadFile("testdata/sample.yaml")
	if err != nil {
		b.Fatal(err)
	}
	large := head
	for i := range 1000 {
		large += fmt.Sprintf("  - {call: S%d, locator: RE44, power_w: 20, channels: [day, night], roles: [gateway], soundings: [{channel: day, every: 45m, after: 7m}]}\n", i)
	}
	for _, c := range []struct{ name, plan string }{{"stations=3", string(sample)}, {"stations=1000", large}} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			b.SetBytes(int64(len(c.plan)))
			for b.Loop() {
				if _, ps := Load("p", []byte(c.plan)); Failed(ps) {
					b.Fatal(lines(ps))
				}
			}
		})
	}
}

package aysen

import (
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/observations/locator"
)

// The truth and its log are worked out once for all tests, which don't change them.
var (
	onceTruth = sync.OnceValues(func() (*Truth, error) { return NewTruth(New()) })
	onceRows  = sync.OnceValue(func() []Row {
		truth, err := onceTruth()
		if err != nil {
			return nil
		}
		return truth.Observations()
	})
)

func newTruth(t testing.TB) *Truth {
	t.Helper()
	truth, err := onceTruth()
	if err != nil {
		t.Fatal(err)
	}
	return truth
}

func TestStationTable(t *testing.T) {
	s := New()
	if n := len(s.Stations); n < 16 || n > 18 {
		t.Errorf("%d stations, want 16 to 18", n)
	}
	word := regexp.MustCompile(`^[A-Z]+$`)
	for i, st := range s.Stations {
		if i > 0 && s.Stations[i-1].Call >= st.Call {
			t.Errorf("%s stands after %s", st.Call, s.Stations[i-1].Call)
		}
		if !word.MatchString(st.Call) {
			t.Errorf("%s is no plain word", st.Call)
		}
		p, err := locator.Parse(st.Locator)
		if err != nil || p.Lat < -49 || p.Lat > -43 || p.Lon < -76 || p.Lon > -71 {
			t.Errorf("%s at %v (%v), outside the region", st.Call, p, err)
		}
		if st.Supply.BatteryWh <= 0 || st.Supply.TransmitW <= st.PowerW || st.Site == "" {
			t.Errorf("%s: supply %+v for %v W, site %q", st.Call, st.Supply, st.PowerW, st.Site)
		}
	}
	for _, call := range s.calls() {
		if index(s.Stations, call) < 0 {
			t.Errorf("%s is named but no member", call)
		}
	}
}

// calls lists every call named outside the station table.
func (s *Scenario) calls() []string {
	p := s.Plant()
	list := append([]string{p.Weak, p.Deaf, p.Isolated, s.Ridge.Pass}, s.Ridge.South...)
	list = append(append(append(append(list, p.CutOff...), p.DayOnly...), p.LowSupply...), p.Gateways...)
	for _, a := range s.Aliases {
		list = append(list, a.Call)
	}
	for _, b := range s.Bulletin {
		list = append(list, b.Call)
	}
	for _, m := range s.Traffic {
		list = append(list, m.From)
		if m.To != everyMember {
			list = append(list, m.To)
		}
	}
	return list
}

// One station at most sounds on a channel in a slot, and no station on both.
func TestSoundingsDoNotCollide(t *testing.T) {
	s := New()
	type slot struct{ minute, channel int }
	taken := make(map[slot]string)
	for _, st := range append(slices.Clone(s.Stations), s.Guests...) {
		own := make(map[int]bool)
		for _, x := range st.Soundings {
			if x.After%s.Slots.Length != 0 || x.Every%s.Slots.Length != 0 || time.Hour%x.Every != 0 {
				t.Errorf("%s sounds every %v after %v, not at slot boundaries of each hour", st.Call, x.Every, x.After)
			}
			for at := x.After; at < time.Hour; at += x.Every {
				m := int(at / time.Minute)
				if other := taken[slot{m, x.Channel}]; other != "" {
					t.Errorf("%s and %s both sound on channel %d at minute %d", st.Call, other, x.Channel, m)
				}
				if own[m] {
					t.Errorf("%s sounds on both channels at minute %d", st.Call, m)
				}
				taken[slot{m, x.Channel}], own[m] = st.Call, true
			}
		}
	}
}

func TestNetIsPrepared(t *testing.T) {
	s := New()
	net, err := s.Net()
	if err != nil {
		t.Fatal(err)
	}
	if len(net.Stations) != len(s.Stations) {
		t.Fatalf("%d stations, want %d", len(net.Stations), len(s.Stations))
	}
	for i, st := range net.Stations {
		if st.Call != s.Stations[i].Call || st.PowerW != s.Stations[i].PowerW {
			t.Errorf("station %d is %s with %v W, want %s", i, st.Call, st.PowerW, s.Stations[i].Call)
		}
	}
	for i, m := range net.Traffic {
		if got := net.Stations[m.From].Call; got != s.Traffic[i].From {
			t.Errorf("%s comes from %s, want %s", m.ID, got, s.Traffic[i].From)
		}
		if m.Characters <= 0 || !m.Deadline.After(m.Ready) {
			t.Errorf("%s: %d characters from %v to %v", m.ID, m.Characters, m.Ready, m.Deadline)
		}
	}
}

// The truth and the net must agree on who listens where, in every slot of a day.
func TestWatchesAgreesWithTheNet(t *testing.T) {
	truth := newTruth(t)
	net, err := truth.Scenario.Net()
	if err != nil {
		t.Fatal(err)
	}
	for k := range int64(2160) {
		at := truth.Scenario.Start.Unix() + 40*k
		for i := range net.Stations {
			for c := range net.Channels {
				want := net.Listens(i, c, at)
				if got := truth.Watches(i, c, time.Unix(at, 0)); got != want {
					t.Fatalf("%s on %s at slot %d: %v, the net says %v", net.Stations[i].Call, net.Channels[c].Name, k, got, want)
				}
			}
		}
	}
}

func TestPlanNamesEverything(t *testing.T) {
	s := New()
	plan, err := s.Plan()
	if err != nil {
		t.Fatal(err)
	}
	text := string(plan)
	for _, st := range s.Stations {
		if !strings.Contains(text, "- call: "+st.Call+"\n    # "+st.Site+"\n") {
			t.Errorf("the plan lacks %s, %s", st.Call, st.Site)
		}
	}
	for _, secret := range []string{"site_db", "noise_db", "NoiseDB", "TRAWLER", "\t"} {
		if strings.Contains(text, secret) {
			t.Errorf("the plan says %q", secret)
		}
	}
	if got, want := strings.Count(text, "watch: declared"), countWatch(s, mesh.WatchDeclared); got != want {
		t.Errorf("%d declared watches, want %d", got, want)
	}
}

func countWatch(s *Scenario, w mesh.Watch) (n int) {
	for _, st := range s.Stations {
		if st.Watch == w {
			n++
		}
	}
	return n
}

func TestShortDuration(t *testing.T) {
	tests := map[time.Duration]string{
		0: "0m", 40 * time.Second: "40s", 7 * time.Minute: "7m", time.Hour: "1h", 90 * time.Minute: "1h30m",
		10 * time.Hour: "10h", 100 * time.Second: "1m40s",
	}
	for d, want := range tests {
		if got := shortDuration(d); got != want {
			t.Errorf("%v is written %q, want %q", d, got, want)
		}
		if back, err := time.ParseDuration(shortDuration(d)); err != nil || back != d {
			t.Errorf("%v reads back as %v, %v", d, back, err)
		}
	}
}

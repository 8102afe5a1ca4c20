package mesh_test

import (
	"context"
	"reflect"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/meshtest"
	"farhop/observations"
)

// beaconNet is a plan for a log of one beacon: every station in it is a member
// that listens on all its channels, the beacon sounds three times an hour.
func beaconNet(t *testing.T, log *observations.Log) *mesh.Net {
	t.Helper()
	n := &mesh.Net{Slots: mesh.DefaultSlots(), Channels: []mesh.Channel{{Name: "beacon", Frequency: 10_140_200}}, CommonDB: mesh.DefaultCommonDB}
	n.Slots.Length, n.Slots.Keyed, n.Slots.HalfDecodeDB, n.Slots.SpreadDB = 2*time.Minute, 110*time.Second, -28.5, 0.5
	seen := make(map[string]bool)
	for _, s := range log.Sites {
		if seen[s.Call] {
			continue
		}
		seen[s.Call] = true
		st := mesh.Station{Call: s.Call, PowerW: 0.2, Watch: mesh.WatchAll}
		if s.Call == "T001" {
			st.Soundings = []mesh.Sounding{{Every: 20 * time.Minute, After: 8 * time.Minute}}
		}
		n.Stations = append(n.Stations, st)
	}
	if issues := n.Prepare(); len(issues) > 0 {
		t.Fatal(issues)
	}
	return n
}

// learnBeacon reads a month of real reports and learns from them; it skips the
// test where they are absent.
func learnBeacon(t *testing.T) (*mesh.Net, *observations.Log, *mesh.Links) {
	t.Helper()
	path := meshtest.Shared(t, "data", "beacon-2023.csv.gz")
	log, err := observations.Read(context.Background(), []observations.Input{{Path: path}}, observations.Options{Newest: true})
	if err != nil {
		t.Fatal(err)
	}
	n := beaconNet(t, log)
	l, err := mesh.Learn(context.Background(), n, log, log.Moment)
	if err != nil {
		t.Fatal(err)
	}
	return n, log, l
}

// TestRealReports learns a month of real reports of one beacon. Skips where they
// are absent.
func TestRealReports(t *testing.T) {
	n, log, l := learnBeacon(t)
	// 6,426 reports, two of them on 3 MHz, where the plan has no channel.
	if c := l.Counts; c.Read != 6426 || c.Outside != 2 || c.Read != c.Rejected+c.Earlier+c.Later+c.Duplicate+c.Outside+c.Used {
		t.Errorf("counts %+v", c)
	}
	beacon, _ := n.Find("T001")
	// Soundings are over at the moment but the last, and stop eight hours after
	// the beacon was last heard before its outage.
	opportunities := soundings(log, "T001")
	reports, misses := 0, 0
	for to := range n.Stations {
		e, ok := l.Edge(beacon, to, 0, l.At())
		if to == beacon {
			continue
		}
		if !ok || e.Unwitnessed > e.Reports/10 {
			t.Errorf("%s: %+v", n.Stations[to].Call, e)
		}
		if d := e.Reports + e.Misses - opportunities; d < 0 || d > 40 {
			t.Errorf("%s had %d opportunities, the beacon sent at least %d times", n.Stations[to].Call, e.Reports+e.Misses, opportunities)
		}
		reports, misses = reports+e.Reports, misses+e.Misses
		if back, ok := l.Edge(to, beacon, 0, l.At()); !ok || back.Known && !back.Inferred {
			t.Errorf("%s → beacon: %+v, but nobody listened there", n.Stations[to].Call, back)
		}
	}
	if reports != l.Counts.Used || misses < 100_000 {
		t.Errorf("%d reports of %d used, %d misses", reports, l.Counts.Used, misses)
	}
	// The best receiver is likelier to hear the beacon than one that heard it once.
	best, _ := n.Find("R013")
	worst, _ := n.Find("R041")
	good, _ := l.Edge(beacon, best, 0, l.At())
	bad, _ := l.Edge(beacon, worst, 0, l.At())
	if !(good.Decode > bad.Decode) || bad.Decode > 0.05 || !good.Known {
		t.Errorf("R013 %+v\nR041 %+v", good, bad)
	}
	again, err := mesh.Learn(context.Background(), n, log, log.Moment)
	if err != nil || !reflect.DeepEqual(again.Graph(l.At()).Edges(), l.Graph(l.At()).Edges()) {
		t.Errorf("a second time gives something else, %v", err)
	}
	t.Logf("%d reports, %d misses; R013 %.2f, R041 %.4f", reports, misses, good.Decode, bad.Decode)
}

// soundings counts the slots of the beacon's schedule that begin at most eight hours
// after somebody reported it before.
func soundings(log *observations.Log, call string) int {
	count, i := 0, 0
	last := int64(-1 << 62)
	for slot := log.Reports[0].Time; slot+120 <= log.Moment; slot += 120 {
		for i < len(log.Reports) && log.Reports[i].Time < slot {
			if log.Call(log.Reports[i].Sender) == call {
				last = log.Reports[i].Time
			}
			i++
		}
		if m := slot % 3600 / 60; (m == 8 || m == 28 || m == 48) && last >= slot-8*3600 {
			count++
		}
	}
	return count
}

func TestRealReportsInspect(t *testing.T) {
	n, log, l := learnBeacon(t)
	kinds := make(map[mesh.FindingKind]int)
	for _, f := range mesh.Inspect(n, log, l, log.Moment) {
		kinds[f.Kind]++
		if f.Kind == mesh.FindClock {
			t.Errorf("clock: %s", f.Message)
		}
	}
	// 119 receivers that nobody hears and that hear one who can't hear them, told
	// of 20 and the rest; one beacon that reports nobody.
	if kinds[mesh.FindUnheard] != 21 || kinds[mesh.FindUnreported] != 1 || kinds[mesh.FindOneWay] != 21 || kinds[mesh.FindBand] != 1 {
		t.Errorf("findings %v", kinds)
	}
}

package meshtest

import (
	"context"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
	"farhop/observations"
)

// RealSets are the sets of real reports that Real knows.
var RealSets = []string{"beacon-2023", "link-2025"}

// realPlans says how the senders of the sets send.
var realPlans = map[string]struct {
	channels     []uint32
	every, after time.Duration
}{
	"beacon-2023": {[]uint32{10_140_200}, 20 * time.Minute, 8 * time.Minute},
	"link-2025":   {[]uint32{3_570_100, 7_040_100, 10_140_200, 14_097_100, 21_096_100, 24_926_100, 28_126_100}, 2 * time.Minute, 0},
}

// Real reads a set of real reports and makes a plan for it, in which everybody
// listens on all channels and the sender sounds on all of them, as its log shows. It
// skips the test where the set is absent.
func Real(tb testing.TB, name string) (*mesh.Net, *observations.Log) {
	tb.Helper()
	path := Shared(tb, "data", name+".csv.gz")
	log, err := observations.Read(context.Background(), []observations.Input{{Path: path}}, observations.Options{Newest: true})
	if err != nil {
		tb.Fatal(err)
	}
	n := &mesh.Net{Slots: mesh.DefaultSlots(), Link: link.Defaults(), CommonDB: mesh.DefaultCommonDB}
	n.Slots.Length, n.Slots.Keyed = 2*time.Minute, 110*time.Second
	n.Slots.HalfDecodeDB, n.Slots.SpreadDB = n.Link.HalfDecodeDB, n.Link.SpreadDB
	plan, known := realPlans[name]
	if !known {
		tb.Fatalf("meshtest: no set %q", name)
	}
	var soundings []mesh.Sounding
	for i, hz := range plan.channels {
		n.Channels = append(n.Channels, mesh.Channel{Name: string(rune('a' + i)), Frequency: hz})
		soundings = append(soundings, mesh.Sounding{Channel: i, Every: plan.every, After: plan.after})
	}
	power := map[string]float64{}
	for _, p := range log.Reports {
		power[log.Call(p.Sender)] = float64(p.Power)
	}
	seen := map[string]bool{}
	for _, s := range log.Sites {
		if seen[s.Call] {
			continue
		}
		seen[s.Call] = true
		st := mesh.Station{Call: s.Call, PowerW: 1, Watch: mesh.WatchAll}
		if w, ok := power[s.Call]; ok {
			st.PowerW, st.Soundings = w, soundings
		}
		n.Stations = append(n.Stations, st)
	}
	if issues := n.Prepare(); len(issues) > 0 {
		tb.Fatal(issues)
	}
	return n, log
}

// RealHistory is Real, with the evidence of the set laid out.
func RealHistory(tb testing.TB, name string) (*mesh.Net, *mesh.History) {
	tb.Helper()
	n, log := Real(tb, name)
	h, err := mesh.Gather(context.Background(), n, log, log.Moment)
	if err != nil {
		tb.Fatal(err)
	}
	return n, h
}

package reinforce

import (
	"context"
	"math"
	"reflect"
	"runtime"
	"testing"

	"pgregory.net/rapid"

	"farhop/mesh"
	"farhop/observations/locator"
)

func windows(t testing.TB, text ...string) mesh.Windows {
	t.Helper()
	w, err := mesh.ParseWindows(text)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// stated is a net of stations on one channel with links of stated SNR both ways.
func stated(t testing.TB, stations []mesh.Station, snr map[[2]string]float64) *mesh.Net {
	t.Helper()
	net := &mesh.Net{
		Slots: mesh.DefaultSlots(), Channels: []mesh.Channel{{Name: "day", Frequency: 7_131_000}, {Name: "night", Frequency: 3_651_000}},
		Stations: stations,
	}
	if issues := net.Prepare(); len(issues) > 0 {
		t.Fatal(issues)
	}
	for a := range stations {
		for b := range stations {
			if s, ok := snr[[2]string{net.Stations[a].Call, net.Stations[b].Call}]; ok {
				net.Fixed = append(net.Fixed, mesh.FixedLink{From: a, To: b, SNRDB: s, SNRSDDB: 3})
				net.Fixed = append(net.Fixed, mesh.FixedLink{From: b, To: a, SNRDB: s, SNRSDDB: 3})
			}
		}
	}
	if issues := net.Prepare(); len(issues) > 0 {
		t.Fatal(issues)
	}
	return net
}

// Half the frames decode at −16 dB. SUMMIT hangs on MILL alone; with 40 W HARBOR
// and SUMMIT would hear each other but for SUMMIT's own power, which is raised next.
func TestPowerIsFoundGreedily(t *testing.T) {
	net := stated(t, []mesh.Station{
		{Call: "HARBOR", PowerW: 4, MaxPowerW: 40}, {Call: "MILL", PowerW: 10}, {Call: "SUMMIT", PowerW: 4, MaxPowerW: 40},
	}, map[[2]string]float64{{"HARBOR", "MILL"}: 0, {"MILL", "SUMMIT"}: 0, {"HARBOR", "SUMMIT"}: -20})
	links := learn(t, net)
	a, err := Advise(context.Background(), links, Request{Changes: 4})
	if err != nil {
		t.Fatal(err)
	}
	if len(a.Steps) != 2 || a.Steps[0].Kind != Power || a.Steps[1].Kind != Power || a.Steps[0].Station == a.Steps[1].Station {
		t.Fatalf("steps %+v", a.Steps)
	}
	mill, _ := net.Find("MILL")
	if got := a.Before.Single; !reflect.DeepEqual(got, []int{mill}) {
		t.Errorf("single points before %v", got)
	}
	if got := a.Steps[1].Removed; !reflect.DeepEqual(got, []int{mill}) || a.Steps[1].After.Firm != 1 {
		t.Errorf("after both steps: removed %v, firm %v", got, a.Steps[1].After.Firm)
	}
	// 4 of 6 pairs are firm before, and one more after each step.
	for i, want := range []float64{4.0 / 6, 5.0 / 6} {
		if got := a.Steps[i].Before.Firm; math.Abs(got-want) > 1e-9 {
			t.Errorf("step %d starts at %v firm, want %v", i, got, want)
		}
		if g := a.Steps[i].Firm; math.Abs(g.Mean-1.0/6) > 1e-9 || g.Low > g.Mean || g.High < g.Mean {
			t.Errorf("step %d: gain %+v", i, g)
		}
	}
	again, err := Advise(context.Background(), links, Request{Changes: 4})
	if err != nil || !reflect.DeepEqual(a.Steps, again.Steps) {
		t.Error("the same question has another answer")
	}
}

// A station off the air with a stated link: the window is lengthened to hold the
// moment, 18:00, and the hour after it.
func TestWindowIsLengthened(t *testing.T) {
	net := stated(t, []mesh.Station{
		{Call: "HARBOR", PowerW: 10}, {Call: "MILL", PowerW: 10, OnAir: windows(t, "08:00-17:10")}, {Call: "SUMMIT", PowerW: 10},
	}, map[[2]string]float64{{"HARBOR", "MILL"}: 0, {"MILL", "SUMMIT"}: 0})
	links := learn(t, net)
	a, err := Advise(context.Background(), links, Request{})
	if err != nil || len(a.Steps) != 1 {
		t.Fatalf("%+v, %v", a, err)
	}
	o := a.Steps[0]
	if o.Kind != Window || o.Windows.String() != "08:00-19:10" || o.After.Joined != 1 || o.Expected != 0 {
		t.Errorf("%s, %s, joined %v", o.Kind, o.Windows, o.After.Joined)
	}
	// The stated links make MILL a new single point of failure.
	if len(o.Added) != 1 || net.Stations[o.Added[0]].Call != "MILL" {
		t.Errorf("added %v", o.Added)
	}
}

func TestLonger(t *testing.T) {
	for _, c := range []struct {
		on      string
		moments []int64
		want    []string
	}{
		{"00:00-24:00", []int64{18 * 3600}, nil},
		{"10:00-12:00", []int64{11 * 3600}, nil},
		{"20:00-23:00", []int64{18 * 3600}, []string{"18:00-23:00"}},
		{"22:00-02:00", []int64{3 * 3600}, []string{"22:00-04:00"}},
		{"10:00-12:00", []int64{0, 11 * 3600}, []string{"10:00-15:00", "07:00-12:00", "00:00-24:00"}},
		{"22:00-02:00", []int64{0, 11 * 3600}, []string{"22:00-05:00", "19:00-02:00", "00:00-24:00"}},
	} {
		net := &mesh.Net{Slots: mesh.DefaultSlots(), Stations: []mesh.Station{{OnAir: windows(t, c.on)}}}
		w := &world{net: net, members: 1, moments: c.moments}
		var got []string
		for _, l := range w.longer(0) {
			got = append(got, l.String())
		}
		if !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s at %v: %v, want %v", c.on, c.moments, got, c.want)
		}
	}
}

// The grid has as many points as asked for at most, all within the rectangle, on
// either side of 180° as well.
func TestGridCoversTheNet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		home := rapid.Float64Range(-180, 180).Draw(t, "home")
		lat := rapid.Float64Range(-70, 70).Draw(t, "lat")
		high, wide := rapid.Float64Range(0, 6).Draw(t, "high"), rapid.Float64Range(0, 12).Draw(t, "wide")
		lon := func(x float64) float64 { return math.Remainder(home+x, 360) }
		places := []locator.Position{{Lat: lat, Lon: lon(0)}, {Lat: lat + high, Lon: lon(wide)}}
		most := rapid.IntRange(1, 90).Draw(t, "most")
		grid := gridOver(places, most)
		if len(grid) == 0 || len(grid) > most {
			t.Fatalf("%d points of %d", len(grid), most)
		}
		for _, p := range grid {
			if p.Lat < lat-1e-6 || p.Lat > lat+high+1e-6 {
				t.Fatalf("%v is north or south of the net", p)
			}
			if x := math.Remainder(p.Lon-home, 360); x < -1e-6 || x > wide+1e-6 {
				t.Fatalf("%v is east or west of the net", p)
			}
		}
		if high > 2 && wide > 2 && most >= 16 && len(grid) < most/3 {
			t.Fatalf("only %d points of %d", len(grid), most)
		}
	})
}

// Two halves with nothing stated between them: a relay that is expected to be
// heard from both helps, and is put where it is.
func TestRelayJoinsTwoHalves(t *testing.T) {
	net, _ := strewn(t, 11, 12, func(int, int) bool { return false })
	west := func(i int) bool { return net.Stations[i].Position.Lon < -71.2 }
	kept := net.Fixed[:0]
	for _, f := range net.Fixed {
		if west(f.From) == west(f.To) {
			kept = append(kept, f)
		}
	}
	net.Fixed = kept
	links := learn(t, net)
	a, err := Advise(context.Background(), links, Request{})
	if err != nil || len(a.First) == 0 {
		t.Fatalf("%+v, %v", a, err)
	}
	o := a.Steps[0]
	if o.Kind != Relay || o.Station != len(net.Stations) || o.Expected == 0 || !(o.ExpectedSD > 0 && o.ExpectedSD < vaguestDB) {
		t.Fatalf("%+v", o)
	}
	if o.Before.Joined > 0.7 || o.Mean.Mean < 0.2 || o.Score.Low > o.Score.Mean || o.Score.High < o.Score.Mean {
		t.Errorf("before %+v, gain %+v", o.Before, o.Score)
	}
	if centre, err := locator.Parse(o.Locator); err != nil || centre != o.Position {
		t.Errorf("square %s, position %v", o.Locator, o.Position)
	}
}

// Changes are looked at on all processors; how many there are doesn't show.
func TestProcessorsDontShow(t *testing.T) {
	net, _ := strewn(t, 12, 9, func(a, b int) bool { return a+1 != b && b+1 != a })
	net.Stations[2].MaxPowerW, net.Stations[4].OnAir = 60, windows(t, "20:00-23:00")
	links := learn(t, net)
	var all []*Advice
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	for _, procs := range []int{1, 3, 8} {
		runtime.GOMAXPROCS(procs)
		a, err := Advise(context.Background(), links, Request{Changes: 2, Samples: 256, Draws: 8, Moments: []int64{links.At(), links.At() + 7200}})
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, a)
	}
	if len(all[0].First) < 3 || len(all[0].Steps) != 2 {
		t.Fatalf("%d first changes, %d steps", len(all[0].First), len(all[0].Steps))
	}
	for _, a := range all[1:] {
		if !reflect.DeepEqual(a.First, all[0].First) || !reflect.DeepEqual(a.Steps, all[0].Steps) {
			t.Errorf("%+v\n%+v", a.Steps, all[0].Steps)
		}
	}
}

func TestAdviseRefuses(t *testing.T) {
	net, _ := strewn(t, 1, 4, func(int, int) bool { return false })
	links := learn(t, net)
	for _, r := range []Request{{Threshold: 2}, {Threshold: -1}, {Changes: -1}, {Samples: -1}} {
		if _, err := Advise(context.Background(), links, r); err == nil {
			t.Errorf("%+v is accepted", r)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Advise(ctx, links, Request{}); err == nil {
		t.Error("a cancelled context is passed over")
	}
	empty := &mesh.Net{Slots: mesh.DefaultSlots(), Channels: []mesh.Channel{{Name: "day", Frequency: 7_131_000}}, Stations: []mesh.Station{{Call: "HARBOR", PowerW: 5}}}
	if issues := empty.Prepare(); len(issues) > 0 {
		t.Fatal(issues)
	}
	if a, err := Advise(context.Background(), learn(t, empty), Request{}); err != nil || len(a.Steps) != 0 {
		t.Errorf("one station: %+v, %v", a, err)
	}
}

package cut

import (
	"math"
	"slices"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
	"farhop/mesh/meshtest"
	"farhop/observations"
)

func fromText(t *testing.T, text string) *Graph {
	t.Helper()
	return fromNet(t, meshtest.Net(t, text), nil, 0, Use{})
}

func fromNet(t *testing.T, n *mesh.Net, log *observations.Log, unix int64, use Use) *Graph {
	t.Helper()
	links, err := mesh.Learn(t.Context(), n, log, unix)
	if err != nil {
		t.Fatal(err)
	}
	g, err := FromMesh(links.Graph(unix), use)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// TestFromMeshRoles names the deaf, the unheard and the isolated of a small net.
func TestFromMeshRoles(t *testing.T) {
	// HARBOR 0, LODGE 1 (heard only), MILL 2, QUIET 3 (alone), RIDGE 4 (hears only), SUMMIT 5
	g := fromText(t, "HARBOR-MILL:0.9 MILL-SUMMIT:0.8 LODGE-MILL:0.7/- RIDGE-SUMMIT:0.3/0.6 QUIET")
	r, err := Analyse(t.Context(), g, Defaults())
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(r.Isolated, []int{3}) || !slices.Equal(r.Deaf, []int{1}) || !slices.Equal(r.Unheard, []int{4}) || r.Unknown != nil {
		t.Errorf("isolated %v, deaf %v, unheard %v, unknown %v", r.Isolated, r.Deaf, r.Unheard, r.Unknown)
	}
	if r.OpenLinks != 6 || r.KnownLinks != 7 || r.UnknownLinks != 0 {
		t.Errorf("%d open, %d known, %d unknown links", r.OpenLinks, r.KnownLinks, r.UnknownLinks)
	}
	want := []SingleStation{
		{Station: 2, PairsLost: 6, CutsOff: []int{1, 5, 4}, Certain: true},
		{Station: 5, PairsLost: 3, CutsOff: []int{4}, Certain: false},
	}
	slices.Sort(want[0].CutsOff)
	if len(r.SingleStations) != 2 {
		t.Fatalf("single stations %+v", r.SingleStations)
	}
	for i, s := range r.SingleStations {
		if s.Station != want[i].Station || s.PairsLost != want[i].PairsLost || s.Certain != want[i].Certain || !slices.Equal(s.CutsOff, want[i].CutsOff) {
			t.Errorf("single station %+v, want %+v", s, want[i])
		}
	}
}

// TestFromMeshWindows: a link counts while both stations listen to its channel,
// in the first slot that begins at or after the moment.
func TestFromMeshWindows(t *testing.T) {
	n := meshtest.Net(t, "A-B:0.9@night A-B:0.8 B-C:0.7@night")
	windows := func(text ...string) mesh.Windows {
		w, err := mesh.ParseWindows(text)
		if err != nil {
			t.Fatal(err)
		}
		return w
	}
	n.Channels[1].Windows = windows("18:00-06:00")
	n.Stations[2].OnAir = windows("20:00-22:00")
	day := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC).Unix()
	tests := []struct {
		name    string
		seconds int64
		want    [][3]int // from, to, channel
	}{
		{"noon", 12 * 3600, [][3]int{{0, 1, 0}, {1, 0, 0}}},
		{"evening", 19 * 3600, [][3]int{{0, 1, 0}, {0, 1, 1}, {1, 0, 0}, {1, 0, 1}}},
		{"all on the air", 21 * 3600, [][3]int{{0, 1, 0}, {0, 1, 1}, {1, 0, 0}, {1, 0, 1}, {1, 2, 1}, {2, 1, 1}}},
		{"one second before the window closes", 22*3600 - 1, [][3]int{{0, 1, 0}, {0, 1, 1}, {1, 0, 0}, {1, 0, 1}}},
		{"the slot begins when the window opens", 20*3600 - 1, [][3]int{{0, 1, 0}, {0, 1, 1}, {1, 0, 0}, {1, 0, 1}, {1, 2, 1}, {2, 1, 1}}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var got [][3]int
			for _, l := range fromNet(t, n, nil, day+tt.seconds, Use{}).Links() {
				got = append(got, [3]int{l.From, l.To, l.Channel})
			}
			if !slices.Equal(got, tt.want) {
				t.Errorf("links %v, want %v", got, tt.want)
			}
		})
	}
}

// TestFromMeshUncertain: links nobody ever tried are unknown until asked for, and
// share one state on channels of one band.
func TestFromMeshUncertain(t *testing.T) {
	n := meshtest.Net(t, "A-B:0.9@night A-C:0.9@other C")
	n.Channels[1].Frequency, n.Channels[2].Frequency = 7_040_000, 10_120_000 // day and night on one band
	n.Fixed = nil
	log := &observations.Log{Counts: observations.Counts{Read: 1}}
	g := fromNet(t, n, log, 0, Use{})
	r, err := Analyse(t.Context(), g, Defaults())
	if err != nil {
		t.Fatal(err)
	}
	if r.KnownLinks != 0 || r.UnknownLinks != 6 || r.OpenLinks != 0 || !slices.Equal(r.Unknown, []int{0, 1, 2}) || !slices.Equal(r.Isolated, []int{0, 1, 2}) {
		t.Errorf("report %+v", r)
	}
	if !slices.Contains(r.Warnings, Warning{UnknownLeftOut, 6}) || !slices.Contains(r.Warnings, Warning{NothingOpen, 0}) {
		t.Errorf("warnings %v", r.Warnings)
	}
	opt := Defaults()
	opt.Threshold, opt.Pairs = 0, [][2]int{{0, 1}}
	g = fromNet(t, n, log, 0, Use{Unknown: true})
	if r, err = Analyse(t.Context(), g, opt); err != nil {
		t.Fatal(err)
	}
	if r.OpenLinks != 6 || !slices.Contains(r.Warnings, Warning{UncertainUsed, 6}) {
		t.Errorf("report %+v", r)
	}
	for _, l := range g.Links()[:2] {
		if l.Band != 0 {
			t.Errorf("link %+v does not share the state of its band", l)
		}
	}
}

// TestFixedLinksAreTheirOwn: a station with two receivers has two chances.
func TestFixedLinksAreTheirOwn(t *testing.T) {
	opt := Defaults()
	opt.Pairs = [][2]int{{0, 1}}
	r, err := Analyse(t.Context(), fromText(t, "A-B:0.6 A-B:0.7@night"), opt)
	if err != nil {
		t.Fatal(err)
	}
	if p := r.Pairs[0]; math.Abs(p.Reach-0.88) > 1e-12 || p.Lowest != 0.7 || p.Highest != 1 {
		t.Errorf("reach %v in %v…%v, want 0.88 in 0.7…1", p.Reach, p.Lowest, p.Highest)
	}
}

// TestFixedSNR: the chance of being open is P(x ≥ θ), the fading being in the
// spread of a stated link.
func TestFixedSNR(t *testing.T) {
	opt := Defaults()
	opt.Pairs = [][2]int{{0, 1}, {1, 0}}
	r, err := Analyse(t.Context(), fromText(t, "A-B:-12dB±4/-17dB"), opt)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := r.Pairs[0].Reach, link.Phi(1); math.Abs(got-want) > 1e-12 {
		t.Errorf("reach %v, want %v", got, want)
	}
	if got := r.Pairs[1].Reach; got != 0 {
		t.Errorf("reach %v of a link that is below θ for sure", got)
	}
}

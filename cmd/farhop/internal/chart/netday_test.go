package chart

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"farhop/cmd/farhop/internal/scene"
	"farhop/cmd/farhop/internal/view"
)

// inventedDay is the day of a net of n stations: every hour they are dealt anew into
// groups, and among those alone, unknown or off the air.
func inventedDay(n int, seed uint64, at time.Time) *view.NetDay {
	r := rand.New(rand.NewPCG(seed, 9))
	v := &view.NetDay{Head: inventedHead(), Stations: n, Threshold: 0.5}
	for k := range 24 {
		h := view.Hour{At: at.Add(time.Duration(k) * time.Hour), KnownLinks: r.IntN(n*n + 1), UnknownLinks: r.IntN(n*n + 1), Members: [][]string{}}
		groups := make([][]string, 1+r.IntN(6))
		for i := range n {
			call := fmt.Sprintf("LIGHTHOUSE %d", i)
			switch r.IntN(8) {
			case 0:
				h.OffAir = append(h.OffAir, call)
				continue
			case 1:
				h.Alone = append(h.Alone, call)
				h.Unknown = append(h.Unknown, call)
			case 2:
				h.Alone = append(h.Alone, call)
				h.Isolated = append(h.Isolated, call)
			case 3:
				h.Alone = append(h.Alone, call)
			default:
				g := r.IntN(len(groups))
				groups[g] = append(groups[g], call)
			}
			h.OnAir++
		}
		slices.SortStableFunc(groups, func(a, b []string) int { return len(b) - len(a) })
		for _, g := range groups {
			switch len(g) {
			case 0:
			case 1:
				h.Alone = append(h.Alone, g...)
			default:
				h.Members, h.Groups, h.LargestGroup = append(h.Members, g), h.Groups+1, max(h.LargestGroup, len(g))
				for _, call := range g {
					if r.IntN(9) == 0 {
						h.SingleStations = append(h.SingleStations, call)
						h.SinglePoints = append(h.SinglePoints, view.HourSingle{Station: call, PairsLost: 1 + r.IntN(n*n), Certain: r.IntN(2) == 0})
					}
				}
			}
		}
		if h.LargestGroup > 1 && k%7 != 3 {
			worst := r.Float64()
			h.WorstReach, h.WorstPair = &worst, &[2]string{"HARBOR", "MILL"}
		}
		v.Hours = append(v.Hours, h)
	}
	return v
}

// daySizes are the nets whose day is drawn.
var daySizes = []int{0, 1, 2, 3, 5, 9, 18, 30, 60, 300}

func inventedDays() map[string]*view.NetDay {
	all := map[string]*view.NetDay{}
	for _, n := range daySizes {
		for _, at := range []time.Time{noon, noon.Add(30 * time.Minute)} {
			v := inventedDay(n, uint64(n), at)
			if n == 18 {
				v.Assumed, v.Before = []string{"no RANCH"}, inventedDay(n, 4, at).Hours
			}
			all[fmt.Sprintf("%d stations from %s", n, at.Format("15:04"))] = v
		}
	}
	return all
}

// No text touches another or leaves the picture; it tells in words what it shows, when,
// and the caution; equal days give equal bytes.
func TestNetDayKeepsApart(t *testing.T) {
	for name, v := range inventedDays() {
		t.Run(name, func(t *testing.T) {
			s := Of(v)
			apartAndInside(t, s)
			data := svg(t, s)
			wellFormed(t, data)
			if !bytes.Equal(data, svg(t, NetDay(v))) {
				t.Error("it differs from run to run")
			}
			if len(data) > 700_000 {
				t.Errorf("%d bytes", len(data))
			}
			var all strings.Builder
			for _, x := range s.Texts() {
				all.WriteString(x.String + " ")
			}
			words := []string{"2026-03-16 12:00Z", "not a guarantee", "UTC, the first now", "Worst reach, %", "Unknown directions"}
			if v.Before != nil {
				words = append(words, "Assumed, against the plan: no RANCH", "Without the assumptions", "With them")
			}
			for _, word := range words {
				if !strings.Contains(all.String(), word) {
					t.Errorf("%q is missing", word)
				}
			}
			if !strings.Contains(s.Description, "farhop draw --view day --format text") || !strings.Contains(s.Description, "Most parted at") && v.Stations > 1 {
				t.Errorf("description %q", s.Description)
			}
		})
	}
}

// Every station has its share of every column, and blocks lie on one another in order.
func TestNetDayColumnsAddUp(t *testing.T) {
	for _, n := range daySizes {
		v := inventedDay(n, uint64(n)+7, noon)
		for k := range v.Hours {
			sum, last := 0, 0
			for _, p := range parts(&v.Hours[k]) {
				sum += p.stations
				if p.group > 0 && p.group != last+1 || p.group == 0 && p.state == view.LaneNone {
					t.Errorf("%d stations, hour %d: part %+v after group %d", n, k, p, last)
				}
				if p.group > 0 {
					last = p.group
				}
			}
			if sum != n {
				t.Errorf("hour %d shows %d of %d stations", k, sum, n)
			}
		}
	}
}

// A block is as high as its number of stations says.
func TestNetDayBlocksAreToScale(t *testing.T) {
	v := inventedDay(20, 3, noon)
	s := NetDay(v)
	unit := 0.0
	for _, at := range []string{"0", "5"} {
		for _, x := range s.Texts() {
			if x.String == at && x.Anchor == scene.End {
				unit = x.At.Y/5 - unit
			}
		}
	}
	unit = -unit
	checked := 0
	for _, item := range s.Items {
		p, ok := item.(*scene.Path)
		if !ok || p.Fill != groupColour(1) || len(p.Lines[0]) != 4 || p.Lines[0][0].X < margin+stripLabel {
			continue
		}
		hour := checked
		for len(v.Hours[hour].Members) == 0 {
			hour++
		}
		height := p.Lines[0][2].Y - p.Lines[0][0].Y
		if want := unit*float64(len(v.Hours[hour].Members[0])) - 1; height < want-1e-6 || height > want+1e-6 {
			t.Errorf("hour %d: the largest group is %v high, want %v", hour, height, want)
		}
		checked++
	}
	if checked < 20 {
		t.Errorf("%d blocks checked", checked)
	}
}

// Many lanes end with how many more there are; a lane has a sign for every hour.
func TestNetDayLanes(t *testing.T) {
	v := inventedDay(300, 1, noon)
	more := 0
	for _, x := range NetDay(v).Texts() {
		if strings.HasPrefix(x.String, "and ") && strings.Contains(x.String, " more: farhop draw --view day") {
			more++
		}
	}
	if more != 2 {
		t.Errorf("%d times it is said how many more there are", more)
	}
	v = inventedDay(6, 1, noon)
	for _, l := range append(v.Singles(), v.Alone()...) {
		told := 0
		for k, state := range l.States {
			if off := slices.Contains(v.Hours[k].OffAir, l.Call); off != (state == view.LaneOffAir) {
				t.Errorf("%s at hour %d: %v, off the air %v", l.Call, k, state, off)
			}
			if state != view.LaneNone && state != view.LaneOffAir {
				told++
			}
		}
		if told != l.Count() || told == 0 {
			t.Errorf("%s: %d hours, %d counted", l.Call, told, l.Count())
		}
	}
}

func TestNetDayPictures(t *testing.T) {
	dir := os.Getenv("FARHOP_PICTURES")
	if dir == "" {
		t.Skip("FARHOP_PICTURES names no folder to write pictures to")
	}
	for name, v := range inventedDays() {
		f, err := os.Create(filepath.Join(dir, "day-"+strings.ReplaceAll(name, " ", "-")+".png"))
		if err != nil {
			t.Fatal(err)
		}
		s := NetDay(v)
		if err := s.PNG(f, 1800/s.Width); err != nil {
			t.Error(err)
		}
		if err := f.Close(); err != nil {
			t.Error(err)
		}
	}
}

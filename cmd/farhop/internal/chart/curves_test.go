package chart

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"farhop/cmd/farhop/internal/scene"
	"farhop/cmd/farhop/internal/view"
)

// answers are one of each kind that has a picture of its own, by size.
func answers() map[string]any {
	all := map[string]any{}
	for _, n := range []int{0, 1, 2, 6, 9} {
		for _, minutes := range []float64{3, 45, 240, 2880, 10080} {
			all[fmt.Sprintf("arrival of %d chains in %g min", n, minutes)] = inventedRoutes(n, uint64(n), minutes)
		}
	}
	several := inventedRoutes(2, 1, 240)
	for i := range 4 {
		r := inventedRoutes(1, uint64(20+i), 240)[0]
		r.To = fmt.Sprintf("ORCHARD %d", i)
		several = append(several, r)
	}
	all["arrival at several"] = several
	for _, n := range []int{0, 1, 5, 18, 60, 200, 300} {
		for _, hours := range []int{1, 24, 72, 336} {
			all[fmt.Sprintf("%d batteries over %d h", n, hours)] = inventedBatteries(n, uint64(n), hours)
		}
	}
	alone := inventedBatteries(5, 2, 24)
	alone.Only = alone.Stations[2].Call
	all["one battery"] = alone
	for n := range 8 {
		for _, forecasts := range []int{40, 5000, 50_000_000} {
			all[fmt.Sprintf("%d horizons, %d forecasts", n, forecasts)] = inventedScores(n, uint64(n), forecasts)
		}
	}
	for _, n := range []int{0, 1, 2, 6, 9} {
		all[fmt.Sprintf("strip of %d hops", n)] = inventedStrip(n, uint64(n), noon)
		all[fmt.Sprintf("strip of %d hops at half past", n)] = inventedStrip(n, uint64(n), noon.Add(30*time.Minute))
	}
	return all
}

// No text of any picture touches another or leaves it, and each tells in words what
// it shows, when, and the caution.
func TestCurvesKeepApart(t *testing.T) {
	for name, v := range answers() {
		t.Run(name, func(t *testing.T) {
			s := Of(v)
			apartAndInside(t, s)
			wellFormed(t, svg(t, s))
			var all strings.Builder
			for _, x := range s.Texts() {
				all.WriteString(x.String + " ")
			}
			for _, word := range []string{"2026-03-16 12:00Z", "not a guarantee"} {
				if !strings.Contains(all.String(), word) {
					t.Errorf("%q is missing", word)
				}
			}
			if !strings.Contains(s.Description, "The same in ") || !strings.Contains(s.Title, "Invented net") {
				t.Errorf("title %q, description %q", s.Title, s.Description)
			}
			if len(svg(t, s)) > 700_000 {
				t.Errorf("%d bytes", len(svg(t, s)))
			}
		})
	}
}

func TestCurvesAreStable(t *testing.T) {
	a, b := answers(), answers()
	for name := range a {
		if !bytes.Equal(svg(t, Of(a[name])), svg(t, Of(b[name]))) {
			t.Errorf("%s differs from run to run", name)
		}
	}
	if Of("no answer") != nil {
		t.Error("something without a picture was drawn")
	}
}

// Pictures can stand in one page: nothing in them has a name that could clash, or
// points elsewhere.
func TestPicturesHaveNoNames(t *testing.T) {
	for name, v := range answers() {
		data := svg(t, Of(v))
		for _, bad := range []string{" id=", "url(", "<style", "class="} {
			if bytes.Contains(data, []byte(bad)) {
				t.Errorf("%s: %q", name, bad)
			}
		}
	}
}

// The curve stands where the distribution does: a step at the end of a slot up to its
// chance, never down, level at the end.
func TestArrivalSteps(t *testing.T) {
	r := inventedRoutes(1, 8, 60)[0]
	c := curve{chain: &r.Chains[0], route: r}
	p := &plot{x1: 60, y1: 1, box: scene.Box{X0: 100, Y0: 50, X1: 700, Y1: 450}}
	line := p.steps(&c, 700)
	for i := 1; i < len(line); i++ {
		if line[i].Y > line[i-1].Y || line[i].X < line[i-1].X {
			t.Fatalf("it goes back from %v to %v", line[i-1], line[i])
		}
	}
	for s, chance := range r.Chains[0].Arrival {
		x := 100 + 600*r.SlotEnd(s)/60
		if got := height(line, x+1e-6); math.Abs(got-(450-400*chance)) > 0.06 {
			t.Fatalf("after slot %d the curve is at %v, not %v", s, got, 450-400*chance)
		}
	}
}

// height is where a line of steps stands right at x.
func height(line []scene.Point, x float64) float64 {
	y := line[0].Y
	for _, p := range line {
		if p.X <= x {
			y = p.Y
		}
	}
	return y
}

// What isn't there in time is hatched from the curve's end to the top.
func TestArrivalShowsWhatIsMissed(t *testing.T) {
	v := inventedRoutes(1, 4, 60)
	v[0].Chains[0].DeliveredByDeadline = 0.75
	s := Arrival(v)
	found := false
	for _, i := range s.Items {
		if p, ok := i.(*scene.Path); ok && p.Closed && len(p.Lines) == 1 && len(p.Lines[0]) == 4 {
			q := p.Lines[0]
			found = found || math.Abs((q[2].Y-q[0].Y)-0.25*arrivalHeight) < 0.01
		}
	}
	if !found {
		t.Error("no box is a quarter of the plot high")
	}
	for _, x := range s.Texts() {
		if strings.Contains(x.String, "75 % in time, 25 % not") {
			return
		}
	}
	t.Error("the shares are not told at the curve")
}

// The axis ends early only where no curve rises any more.
func TestHorizon(t *testing.T) {
	for seed := range uint64(40) {
		v := inventedRoutes(4, seed, 600)
		curves, _ := curvesOf(v)
		end := horizon(curves, 600)
		for i := range curves {
			c := curves[i].chain
			for s, chance := range c.Arrival {
				if v[0].SlotEnd(s) >= end && c.DeliveredByDeadline-chance > 0.002 {
					t.Fatalf("seed %d: the axis ends at %g, but chain %d still rises by %g", seed, end, i, c.DeliveredByDeadline-chance)
				}
			}
		}
		if end > 600 || end <= 0 {
			t.Errorf("seed %d: the axis ends at %g", seed, end)
		}
	}
}

// The mark of the lowest charge lies on the curve, batteries come lowest first, and
// the reserve has its line.
func TestBatteryCurve(t *testing.T) {
	v := inventedBatteries(7, 3, 48)
	for i := range v.Stations {
		b := &v.Stations[i]
		p := &plot{x1: 48 * 60, y1: 1, box: scene.Box{X0: 0, Y0: 0, X1: 480, Y1: 100}}
		line, lowest := p.charge(v, b)
		if math.Abs(lowest.Y-100*(1-b.LowestCharge)) > 1e-9 {
			t.Errorf("%s: the mark is at %v, the charge %v", b.Call, lowest.Y, b.LowestCharge)
		}
		deepest := 0.0
		for k, q := range line {
			deepest = math.Max(deepest, q.Y)
			if k > 0 && q.X < line[k-1].X {
				t.Errorf("%s goes back at %v", b.Call, q)
			}
		}
		if math.Abs(deepest-lowest.Y) > 1e-9 {
			t.Errorf("%s: the curve falls to %v, the mark is at %v", b.Call, deepest, lowest.Y)
		}
	}
	list := v.Sorted()
	for i := 1; i < len(list); i++ {
		if list[i].LowestCharge < list[i-1].LowestCharge {
			t.Error("not the lowest first")
		}
	}
	if StationCharge(v, "NOBODY", 300, 120) != nil {
		t.Error("a battery was drawn that isn't there")
	}
	s := StationCharge(v, v.Stations[1].Call, 300, 120)
	for _, x := range s.Texts() {
		if !x.Box().Within(s.Bounds()) {
			t.Errorf("%q leaves the picture", x.String)
		}
	}
}

// Wilson's interval against figures worked out by its formula by hand: 8 of 10 gives
// 0.490 to 0.943, none of 10 gives 0 to 0.278.
func TestWilson(t *testing.T) {
	for _, c := range []struct {
		share     float64
		n         int
		low, high float64
	}{{0.8, 10, 0.4902, 0.9433}, {0, 10, 0, 0.2775}, {1, 10, 0.7225, 1}} {
		low, high := wilson(c.share, c.n)
		if math.Abs(low-c.low) > 1e-4 || math.Abs(high-c.high) > 1e-4 {
			t.Errorf("%v of %d: %.4f to %.4f, want %.4f to %.4f", c.share, c.n, low, high, c.low, c.high)
		}
	}
}

// Labels moved apart stay in their order and in their room, and don't overlap.
func TestSpread(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mid := rapid.SliceOfN(rapid.Float64Range(0, 100), 1, 8).Draw(t, "mid")
		out := spread(mid, 12, -5, 105)
		order := sortedIndex(mid)
		for k, i := range order {
			if out[i] < 1-1e-9 || out[i] > 99+1e-9 {
				t.Fatalf("%v leaves the room: %v", mid, out)
			}
			if k > 0 && out[i]-out[order[k-1]] < 12-1e-9 {
				t.Fatalf("%v overlap: %v", mid, out)
			}
		}
	})
	if got := spread([]float64{50, 20}, 12, 0, 100); got[0] != 50 || got[1] != 20 {
		t.Errorf("moved without need: %v", got)
	}
}

// Hatching stays in its box and goes all the way through it.
func TestHatch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := scene.Box{X0: 10, Y0: 20, X1: 10 + rapid.Float64Range(1, 80).Draw(t, "w"), Y1: 20 + rapid.Float64Range(1, 80).Draw(t, "h")}
		for _, l := range hatch(b, 5, ink).Lines {
			for _, p := range l {
				onSide := math.Min(math.Min(p.X-b.X0, b.X1-p.X), math.Min(p.Y-b.Y0, b.Y1-p.Y))
				if math.Abs(onSide) > 1e-9 {
					t.Fatalf("%v is not on a side of %v", p, b)
				}
			}
			if math.Abs((l[1].X-l[0].X)+(l[1].Y-l[0].Y)) > 1e-9 {
				t.Fatalf("%v doesn't slant by 45°", l)
			}
		}
	})
}

// States of an hour differ in shape or in grey, not only in colour.
func TestStripStatesDifferInShape(t *testing.T) {
	drawn := map[string]view.StripState{}
	for _, x := range stripStates {
		decode := 0.2
		s := &scene.Scene{}
		stripCell(s, scene.Box{X0: 0, Y0: 0, X1: 30, Y1: 20}, &view.StripWay{State: x.state, Decode: &decode})
		for _, i := range s.Items {
			switch i := i.(type) {
			case *scene.Path:
				i.Stroke = 0
				if i.Fill != scene.None {
					i.Fill = scene.Colour(math.Round(3 * i.Fill.Grey()))
				}
			case *scene.Circle:
				i.Fill, i.Stroke = 0, 0
			}
		}
		key := strings.ReplaceAll(string(svg(t, s)), "#", "")
		if other, ok := drawn[key]; ok {
			t.Errorf("%s looks like %s", x.state, other)
		}
		drawn[key] = x.state
	}
}

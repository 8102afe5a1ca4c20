package globe

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"farhop/observations/locator"
)

func drawPosition(t *rapid.T, name string) locator.Position {
	return locator.Position{
		Lat: rapid.Float64Range(-89.9, 89.9).Draw(t, name+" lat"),
		Lon: rapid.Float64Range(-180, 180).Draw(t, name+" lon"),
	}
}

// Distance and bearing from the centre are the great circle's.
func TestDistanceAndBearingAreTrue(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, a := drawPosition(t, "centre"), drawPosition(t, "place")
		q := NewProjection(c).Project(a)
		want := locator.Distance(c, a)
		if got := math.Hypot(q.X, q.Y); math.Abs(got-want) > 1e-6*want+1e-6 {
			t.Fatalf("distance %v, want %v", got, want)
		}
		if want < 1 || want > math.Pi*locator.EarthRadius-1 {
			return
		}
		bearing := math.Atan2(q.X, -q.Y) / degree
		if d := math.Remainder(bearing-locator.Bearing(c, a), 360); math.Abs(d) > 1e-6 {
			t.Fatalf("bearing %v, want %v", bearing, locator.Bearing(c, a))
		}
		if back := NewProjection(c).Inverse(q); locator.Distance(back, a) > 1e-4 {
			t.Fatalf("%v comes back as %v", a, back)
		}
	})
}

// The vertices that Snyder's table gives for the polar aspect: distance along a
// meridian on a sphere of radius 1 is the colatitude (Professional Paper 1395, 1987,
// equation 25-1, k' = c / sin c).
func TestPolarAspect(t *testing.T) {
	p := NewProjection(locator.Position{Lat: 90})
	for lat := -80.0; lat <= 80; lat += 20 {
		q := p.Project(locator.Position{Lat: lat, Lon: 90})
		want := (90 - lat) * degree * locator.EarthRadius
		if math.Abs(q.X-want) > 1e-6*want || math.Abs(q.Y) > 1e-6*want {
			t.Errorf("latitude %v: %v, want %v to the right", lat, q, want)
		}
	}
}

// A great circle is as long as the distance between its ends, its pieces are no
// longer than the step, and through the centre it is straight.
func TestCircle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawPosition(t, "a"), drawPosition(t, "b")
		want := locator.Distance(a, b)
		if want > 19_900 { // nearly opposite: any way will do
			return
		}
		circle := Circle(a, b, 200)
		sum := 0.0
		for i := 1; i < len(circle); i++ {
			d := locator.Distance(circle[i-1], circle[i])
			if d > 200.001 {
				t.Fatalf("a piece of %v km", d)
			}
			sum += d
		}
		if math.Abs(sum-want) > 1e-5*want+1e-6 {
			t.Fatalf("%v km long, want %v", sum, want)
		}
		end := NewProjection(a).Project(b)
		for _, q := range NewProjection(a).Arc(a, b, 500) {
			if off := math.Abs(q.X*end.Y-q.Y*end.X) / math.Max(1, want); off > 0.01 {
				t.Fatalf("%v is %v km off the straight line to %v", q, off, end)
			}
		}
	})
}

func TestMiddle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		around := drawPosition(t, "around")
		var all []locator.Position
		p := NewProjection(around)
		for range rapid.IntRange(1, 12).Draw(t, "n") {
			all = append(all, p.Inverse(Place{rapid.Float64Range(-2000, 2000).Draw(t, "x"), rapid.Float64Range(-2000, 2000).Draw(t, "y")}))
		}
		far := func(c locator.Position) (most float64) {
			for _, a := range all {
				most = max(most, locator.Distance(c, a))
			}
			return most
		}
		m := Middle(all)
		widest := 0.0
		for _, a := range all {
			widest = max(widest, far(a))
		}
		// No circle is smaller than half the widest pair, nor needs more than
		// 2/√3 times that (Jung), flat; the earth's curvature adds little here.
		if r := far(m); r > 1.06*widest*1.16/2+1 {
			t.Fatalf("%v km from the middle to the farthest, the widest pair being %v", r, widest)
		}
	})
}

func drawFrame(t *rapid.T) Frame {
	x, y := rapid.Float64Range(-50, 50).Draw(t, "x"), rapid.Float64Range(-50, 50).Draw(t, "y")
	return Frame{x, y, x + rapid.Float64Range(1, 80).Draw(t, "w"), y + rapid.Float64Range(1, 80).Draw(t, "h")}
}

func drawLine(t *rapid.T, n int) []Place {
	line := make([]Place, n)
	for i := range line {
		line[i] = Place{rapid.Float64Range(-100, 100).Draw(t, "px"), rapid.Float64Range(-100, 100).Draw(t, "py")}
	}
	return line
}

// Of a cut line everything is in the frame, and as much as sampling finds there.
func TestClipLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f, line := drawFrame(t), drawLine(t, rapid.IntRange(2, 6).Draw(t, "n"))
		got := 0.0
		loose := Frame{f.X0 - 1e-9, f.Y0 - 1e-9, f.X1 + 1e-9, f.Y1 + 1e-9}
		for _, part := range f.Line(line) {
			for i, p := range part {
				if !loose.Holds(p) {
					t.Fatalf("%v is outside of %v", p, f)
				}
				if i > 0 {
					got += math.Hypot(p.X-part[i-1].X, p.Y-part[i-1].Y)
				}
			}
		}
		want, total := 0.0, 0.0
		const n = 2000
		for i := 1; i < len(line); i++ {
			length := math.Hypot(line[i].X-line[i-1].X, line[i].Y-line[i-1].Y)
			total += length
			for k := range n {
				s := (float64(k) + 0.5) / n
				if f.Holds(Place{line[i-1].X + s*(line[i].X-line[i-1].X), line[i-1].Y + s*(line[i].Y-line[i-1].Y)}) {
					want += length / n
				}
			}
		}
		if math.Abs(got-want) > 2*total/n+1e-6 {
			t.Fatalf("%v inside, want %v", got, want)
		}
	})
}

// winding is how often areas turn around a place.
func winding(areas [][]Place, p Place) int {
	n := 0
	for _, a := range areas {
		for i, q := range a {
			r := a[(i+1)%len(a)]
			left := (r.X-q.X)*(p.Y-q.Y) - (p.X-q.X)*(r.Y-q.Y)
			switch {
			case q.Y <= p.Y && r.Y > p.Y && left > 0:
				n++
			case q.Y > p.Y && r.Y <= p.Y && left < 0:
				n--
			}
		}
	}
	return n
}

// near tells whether a place is so near to an area's edge that rounding decides on which
// side it is.
func near(area []Place, p Place) bool {
	for i, q := range area {
		r := area[(i+1)%len(area)]
		dx, dy := r.X-q.X, r.Y-q.Y
		along := 0.0
		if square := dx*dx + dy*dy; square > 0 {
			along = min(max(((p.X-q.X)*dx+(p.Y-q.Y)*dy)/square, 0), 1)
		}
		if math.Hypot(q.X+along*dx-p.X, q.Y+along*dy-p.Y) < 1e-9 {
			return true
		}
	}
	return false
}

// A cut area holds the same places within the frame as before.
func TestClipArea(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f, ring := drawFrame(t), drawLine(t, rapid.IntRange(3, 7).Draw(t, "n"))
		cut := f.Area(ring)
		for range 20 {
			p := Place{rapid.Float64Range(f.X0+0.01, f.X1-0.01).Draw(t, "qx"), rapid.Float64Range(f.Y0+0.01, f.Y1-0.01).Draw(t, "qy")}
			var parts [][]Place
			if len(cut) > 0 {
				parts = [][]Place{cut}
			}
			if a, b := winding([][]Place{ring}, p), winding(parts, p); a != b && !near(ring, p) {
				t.Fatalf("%v: turned around %d times, cut %d times", p, a, b)
			}
		}
	})
}

// Known places are land or sea, wherever the map is centred; the last centres have
// land opposite.
func TestLand(t *testing.T) {
	places := []struct {
		name     string
		lat, lon float64
		land     bool
	}{
		{"central Australia", -25, 134, true},
		{"Sahara", 23, 10, true},
		{"Siberia", 62, 105, true},
		{"Chukotka, beyond 180°", 67, -176, true},
		{"inner Brazil", -10, -52, true},
		{"Greenland's ice", 73, -40, true},
		{"Antarctica", -85, 60, true},
		{"middle of the North Atlantic", 40, -40, false},
		{"middle of the South Pacific", -40, -130, false},
		{"Gulf of Guinea", 0, 0, false},
		{"Caspian Sea", 42, 50.5, false},
		{"North Pole", 89.5, 0, false},
		{"Indian Ocean", -25, 80, false},
	}
	whole := Frame{-21_000, -21_000, 21_000, 21_000}
	for _, centre := range []locator.Position{
		{Lat: -45.5, Lon: -73},
		{Lat: 0, Lon: 0},
		{Lat: 52, Lon: 13},
		{Lat: 90},
		{Lat: -90},
		{Lat: 25, Lon: -46},
		{Lat: -62, Lon: -75},
		{Lat: -23, Lon: -170},
		{Lat: 10, Lon: 128},
	} {
		p := NewProjection(centre)
		areas, coasts := p.Land(whole, 0)
		if len(areas) < 500 || len(coasts) < 500 {
			t.Fatalf("only %d areas and %d coasts", len(areas), len(coasts))
		}
		for _, c := range places {
			if got := winding(areas, p.Project(locator.Position{Lat: c.lat, Lon: c.lon})) != 0; got != c.land {
				t.Errorf("centred on %v: %s is land: %v", centre, c.name, got)
			}
		}
	}
}

// No coast is drawn along 180° or at the pole.
func TestSeamsAreNoCoast(t *testing.T) {
	p := NewProjection(locator.Position{Lat: 68, Lon: 180})
	_, coasts := p.Land(Frame{-300, -300, 300, 300}, 0)
	if len(coasts) == 0 {
		t.Fatal("no coast at all")
	}
	for _, line := range coasts {
		for i := 1; i < len(line); i++ {
			if math.Abs(line[i].X) < 2 && math.Abs(line[i-1].X) < 2 && math.Abs(line[i].Y-line[i-1].Y) > 20 {
				t.Errorf("a coast runs along 180°: %v to %v", line[i-1], line[i])
			}
		}
	}
}

func TestUnpackTakesDamage(t *testing.T) {
	for _, raw := range [][]byte{nil, {200}, {2, 5, 5, 1}, {0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff}} {
		if got := unpack(raw); got != nil {
			t.Errorf("%v gave %d rings", raw, len(got))
		}
	}
}

func BenchmarkLand(b *testing.B) {
	p := NewProjection(locator.Position{Lat: -45.5, Lon: -73})
	b.ReportAllocs()
	for b.Loop() {
		p.Land(Frame{-400, -400, 400, 400}, 1)
	}
}

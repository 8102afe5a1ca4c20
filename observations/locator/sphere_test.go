package locator

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Distances on the ellipsoid: C. F. F. Karney, Algorithms for geodesics,
// J. Geodesy 87 (2013) 43–55, and geographiclib-geodesic 2.2.0; see
// testdata/README.md. The sphere is good to 0.6 %.
func TestDistanceAgainstEllipsoid(t *testing.T) {
	for _, row := range table(t, "testdata/geodesics.csv") {
		a := Position{number(t, row[0]), number(t, row[1])}
		b := Position{number(t, row[2]), number(t, row[3])}
		want := number(t, row[4]) / 1000
		if got := Distance(a, b); math.Abs(got/want-1) > 0.006 {
			t.Errorf("%v to %v is %.3f km, not %.3f (%s)", a, b, want, got, row[6])
		}
	}
}

// Azimuths of the same pairs. Sphere and ellipsoid differ by a fraction of a
// degree, more where the places are nearly opposite, where the direction hangs
// on metres: there only the distance is compared.
func TestBearingAgainstEllipsoid(t *testing.T) {
	compared := 0
	for _, row := range table(t, "testdata/geodesics.csv") {
		a := Position{number(t, row[0]), number(t, row[1])}
		b := Position{number(t, row[2]), number(t, row[3])}
		want := number(t, row[5])
		if Distance(a, b) > 0.97*math.Pi*EarthRadius {
			continue
		}
		compared++
		if off := math.Abs(math.Remainder(Bearing(a, b)-want, 360)); off > 0.006*90 {
			t.Errorf("%v to %v bears %.3f°, not %.3f° (%s)", a, b, want, Bearing(a, b), row[6])
		}
	}
	if compared < 15 {
		t.Errorf("only %d pairs compared", compared)
	}
}

func TestKnownDistances(t *testing.T) {
	quarter := math.Pi / 2 * EarthRadius
	for _, c := range []struct {
		a, b        Position
		km, bearing float64
	}{
		{Position{0, 0}, Position{0, 90}, quarter, 90},
		{Position{0, 0}, Position{0, -90}, quarter, 270},
		{Position{0, 0}, Position{90, 0}, quarter, 0},
		{Position{0, 0}, Position{-90, 0}, quarter, 180},
		{Position{0, 179}, Position{0, -179}, quarter / 45, 90},
		{Position{10, 20}, Position{10, 20}, 0, 0},
	} {
		if got := Distance(c.a, c.b); math.Abs(got-c.km) > 1e-9 {
			t.Errorf("%v to %v: %v km, want %v", c.a, c.b, got, c.km)
		}
		if got := Bearing(c.a, c.b); math.Abs(got-c.bearing) > 1e-9 {
			t.Errorf("%v to %v: %v°, want %v", c.a, c.b, got, c.bearing)
		}
	}
}

func TestSphereIdentities(t *testing.T) {
	lat, lon := rapid.Float64Range(-89, 89), rapid.Float64Range(-180, 180)
	rapid.Check(t, func(t *rapid.T) {
		a := Position{lat.Draw(t, "lat a"), lon.Draw(t, "lon a")}
		b := Position{lat.Draw(t, "lat b"), lon.Draw(t, "lon b")}
		c := Position{lat.Draw(t, "lat c"), lon.Draw(t, "lon c")}
		d := Distance(a, b)
		if back := Distance(b, a); math.Abs(d-back) > 1e-9 || d < 0 || d > math.Pi*EarthRadius+1e-9 {
			t.Fatalf("%v there, %v back", d, back)
		}
		if d > Distance(a, c)+Distance(c, b)+1e-9 {
			t.Fatalf("a detour over %v is shorter", c)
		}
		bearing := Bearing(a, b)
		if !(bearing >= 0 && bearing < 360) {
			t.Fatalf("bearing %v", bearing)
		}
		if off := Distance(travel(a, bearing, d), b); off > 1e-5 {
			t.Fatalf("going %v km at %v° ends %v km off", d, bearing, off)
		}
	})
}

// travel goes from a on a great circle: an independent way through the angles.
func travel(a Position, bearing, km float64) Position {
	angle, course := km/EarthRadius, bearing*math.Pi/180
	lat := a.Lat * math.Pi / 180
	sin := math.Sin(lat)*math.Cos(angle) + math.Cos(lat)*math.Sin(angle)*math.Cos(course)
	east := math.Atan2(math.Sin(course)*math.Sin(angle)*math.Cos(lat), math.Cos(angle)-math.Sin(lat)*sin)
	north := math.Atan2(sin, math.Hypot(
		math.Sin(angle)*math.Sin(course),
		math.Cos(lat)*math.Cos(angle)-math.Sin(lat)*math.Sin(angle)*math.Cos(course)))
	return Position{north * 180 / math.Pi, a.Lon + east*180/math.Pi}
}

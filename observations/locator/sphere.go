package locator

import "math"

// EarthRadius is the mean radius (2a + b)/3 of the WGS-84 ellipsoid, in km.
// Distances on that sphere are within 0.6 % of the ellipsoid's.
const EarthRadius = 6371.0088

const degree = math.Pi / 180

// Distance is the great-circle distance from a to b in km on a sphere of
// EarthRadius. It is accurate for near and for nearly opposite places alike.
func Distance(a, b Position) float64 {
	sinA, cosA := math.Sincos(a.Lat * degree)
	sinB, cosB := math.Sincos(b.Lat * degree)
	sinL, cosL := math.Sincos((b.Lon - a.Lon) * degree)
	across := math.Hypot(cosB*sinL, cosA*sinB-sinA*cosB*cosL)
	along := sinA*sinB + cosA*cosB*cosL
	return EarthRadius * math.Atan2(across, along)
}

// Bearing is the direction in which the great circle from a to b sets out, in
// degrees clockwise from true north, 0 ≤ bearing < 360. Between equal or
// exactly opposite places, where every direction will do, it is some direction.
func Bearing(a, b Position) float64 {
	sinA, cosA := math.Sincos(a.Lat * degree)
	sinB, cosB := math.Sincos(b.Lat * degree)
	sinL, cosL := math.Sincos((b.Lon - a.Lon) * degree)
	d := math.Atan2(cosB*sinL, cosA*sinB-sinA*cosB*cosL) / degree
	if d < 0 {
		d += 360
	}
	if d >= 360 {
		d = 0
	}
	return d
}

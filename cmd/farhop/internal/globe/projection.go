// Package globe draws the earth flat: the azimuthal equidistant projection, great
// circles, range rings, coast lines and clipping.
//
// Positions are degrees on a sphere of locator.EarthRadius. In the plane x points
// east and y south, in kilometres, as in a picture.
package globe

import (
	"math"

	"farhop/observations/locator"
)

const degree = math.Pi / 180

// Place is a point of the plane, in km from the centre, x east, y south.
type Place struct{ X, Y float64 }

// Projection is azimuthal equidistant: distance and bearing from the centre are
// true, so straight lines through the centre are great circles and circles around
// it hold what is equally far (J. P. Snyder, Map Projections – A Working Manual,
// U.S. Geological Survey Professional Paper 1395, 1987, pages 191–202).
type Projection struct {
	centre   locator.Position
	sin, cos float64 // of the centre's latitude
}

// NewProjection returns the projection about a centre.
func NewProjection(centre locator.Position) *Projection {
	sin, cos := math.Sincos(centre.Lat * degree)
	return &Projection{centre: centre, sin: sin, cos: cos}
}

// Centre is where distances and bearings are true.
func (p *Projection) Centre() locator.Position { return p.centre }

// Project maps a position. The point opposite the centre, which is a whole circle
// in the plane, comes out as some place on it.
func (p *Projection) Project(a locator.Position) Place {
	sinA, cosA := math.Sincos(a.Lat * degree)
	sinL, cosL := math.Sincos((a.Lon - p.centre.Lon) * degree)
	east := cosA * sinL
	north := p.cos*sinA - p.sin*cosA*cosL
	across := math.Hypot(east, north)
	if across == 0 {
		if p.sin*sinA+p.cos*cosA*cosL > 0 {
			return Place{}
		}
		return Place{0, -math.Pi * locator.EarthRadius}
	}
	k := locator.EarthRadius * math.Atan2(across, p.sin*sinA+p.cos*cosA*cosL) / across
	return Place{east * k, -north * k}
}

// Inverse is the position at a place no farther than half the way around.
func (p *Projection) Inverse(q Place) locator.Position {
	rho := math.Hypot(q.X, q.Y)
	if rho == 0 {
		return p.centre
	}
	sinC, cosC := math.Sincos(rho / locator.EarthRadius)
	north, east := -q.Y/rho, q.X/rho
	lat := math.Asin(max(-1, min(1, cosC*p.sin+north*sinC*p.cos)))
	lon := p.centre.Lon*degree + math.Atan2(east*sinC, p.cos*cosC-north*p.sin*sinC)
	return locator.Position{Lat: lat / degree, Lon: math.Remainder(lon/degree, 360)}
}

// Circle is the great circle from a to b as positions at most step km apart, but
// no more than 400 pieces. Between opposite places it is some way.
func Circle(a, b locator.Position, step float64) []locator.Position {
	u, v := unit(a), unit(b)
	angle := locator.Distance(a, b) / locator.EarthRadius
	n := max(1, min(400, int(math.Ceil(angle*locator.EarthRadius/step))))
	out := make([]locator.Position, 0, n+1)
	out = append(out, a)
	sin := math.Sin(angle)
	for i := 1; i < n && sin > 1e-9; i++ {
		t := float64(i) / float64(n)
		f, g := math.Sin((1-t)*angle)/sin, math.Sin(t*angle)/sin
		out = append(out, position([3]float64{f*u[0] + g*v[0], f*u[1] + g*v[1], f*u[2] + g*v[2]}))
	}
	return append(out, b)
}

// Arc is Circle in the plane.
func (p *Projection) Arc(a, b locator.Position, step float64) []Place {
	circle := Circle(a, b, step)
	out := make([]Place, len(circle))
	for i, q := range circle {
		out[i] = p.Project(q)
	}
	return out
}

func unit(a locator.Position) [3]float64 {
	sin, cos := math.Sincos(a.Lat * degree)
	sinL, cosL := math.Sincos(a.Lon * degree)
	return [3]float64{cos * cosL, cos * sinL, sin}
}

func position(u [3]float64) locator.Position {
	return locator.Position{Lat: math.Atan2(u[2], math.Hypot(u[0], u[1])) / degree, Lon: math.Atan2(u[1], u[0]) / degree}
}

// Middle is about the centre of the smallest circle around all positions: it moves
// ever shorter steps towards the farthest (M. Bădoiu, K. L. Clarkson, Smaller
// core-sets for balls, SODA 2003, 801–802, on the sphere). The zero position for
// none.
func Middle(all []locator.Position) locator.Position {
	if len(all) == 0 {
		return locator.Position{}
	}
	c := unit(all[0])
	for i := 1; i <= 200; i++ {
		far, least := 0, math.Inf(1)
		for j, a := range all {
			u := unit(a)
			if dot := u[0]*c[0] + u[1]*c[1] + u[2]*c[2]; dot < least {
				far, least = j, dot
			}
		}
		u, step := unit(all[far]), 1/float64(i+1)
		var n [3]float64
		length := 0.0
		for k := range n {
			n[k] = c[k] + step*(u[k]-c[k])
			length += n[k] * n[k]
		}
		if length < 1e-12 {
			break
		}
		for k := range n {
			c[k] = n[k] / math.Sqrt(length)
		}
	}
	return position(c)
}

package globe

import (
	"bytes"
	"compress/flate"
	_ "embed"
	"encoding/binary"
	"io"
	"math"
	"sync"

	"farhop/observations/locator"
)

//go:embed land.bin
var packed []byte

// corner is a corner of a coast line in hundredths of a degree.
type corner struct{ lon, lat int32 }

// rings are the coast lines; none if the packed file were damaged, which a test
// excludes.
var rings = sync.OnceValue(func() [][]corner {
	raw, err := io.ReadAll(flate.NewReader(bytes.NewReader(packed)))
	if err != nil {
		return nil
	}
	return unpack(raw)
})

// unpack reads the format that generate describes, nil when it is damaged.
func unpack(raw []byte) [][]corner {
	r := bytes.NewReader(raw)
	n, err := binary.ReadUvarint(r)
	if err != nil || n > uint64(len(raw)) {
		return nil
	}
	out := make([][]corner, n)
	for i := range out {
		size, err := binary.ReadUvarint(r)
		if err != nil || size > uint64(len(raw)) {
			return nil
		}
		out[i] = make([]corner, size)
	}
	for _, ring := range out {
		lon, lat := int64(0), int64(0)
		for i := range ring {
			dx, errX := binary.ReadVarint(r)
			dy, errY := binary.ReadVarint(r)
			if errX != nil || errY != nil {
				return nil
			}
			lon, lat = lon+dx, lat+dy
			ring[i] = corner{int32(lon), int32(lat)}
		}
	}
	return out
}

// east is how far it is from a to b along the shorter way, in hundredths of a
// degree of longitude.
func east(a, b corner) int32 {
	d := b.lon - a.lon
	if d > 18000 {
		d -= 36000
	}
	if d < -18000 {
		d += 36000
	}
	return d
}

// Land is the land within the frame: areas to fill by the non-zero rule, and the
// coasts as lines. Corners nearer to one another than detail km are left out.
// It goes through the whole world once, in about 10 ms.
func (p *Projection) Land(f Frame, detail float64) (areas, coasts [][]Place) {
	for _, ring := range rings() {
		places := make([]Place, len(ring))
		box := Frame{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
		for i, c := range ring {
			q := p.Project(locator.Position{Lat: float64(c.lat) / 100, Lon: float64(c.lon) / 100})
			places[i] = q
			box = Frame{min(box.X0, q.X), min(box.Y0, q.Y), max(box.X1, q.X), max(box.Y1, q.Y)}
		}
		if box.X0 > f.X1 || box.X1 < f.X0 || box.Y0 > f.Y1 || box.Y1 < f.Y0 {
			continue
		}
		full := p.densify(ring, places)
		outer := outer(ring)
		around := turn(full) > 0 != outer
		for _, a := range [][]Place{full, disc(around, outer)} {
			if a = thin(f.Area(a), detail); len(a) > 2 {
				areas = append(areas, a)
			}
		}
		for _, line := range runs(full) {
			for _, part := range f.Line(line) {
				if part = thin(part, detail); len(part) > 1 {
					coasts = append(coasts, part)
				}
			}
		}
	}
	return areas, coasts
}

// turn is positive when an area turns clockwise as the picture shows it.
func turn(ring []Place) float64 {
	sum := 0.0
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		sum += a.X*b.Y - b.X*a.Y
	}
	return sum
}

// outer reports whether a ring encloses land and not a lake: land lies to the right
// of its outer coast. A ring around a pole is the coast of Antarctica.
func outer(ring []corner) bool {
	sum, lon := 0.0, 0.0
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		next := lon + float64(east(a, b))
		sum += lon*float64(b.lat) - next*float64(a.lat)
		lon = next
	}
	return sum < 0 || math.Abs(lon) > 18000
}

// disc is the whole earth, to be added to an area that holds the point opposite
// the centre: its outline then encloses what does not belong to it, turns the
// other way and, by the non-zero rule, is a hole in the disc.
func disc(around, outer bool) []Place {
	if !around {
		return nil
	}
	const n = 180
	const radius = 1.001 * math.Pi * locator.EarthRadius // the polygon holds the circle
	out := make([]Place, n)
	for i := range out {
		angle := 2 * math.Pi * float64(i) / n
		if !outer {
			angle = -angle
		}
		sin, cos := math.Sincos(angle)
		out[i] = Place{radius * cos, radius * sin}
	}
	return out
}

// farApart is how many km of a straight edge are drawn straight.
const farApart = 250

// densify adds corners along long edges, which are straight in longitude and
// latitude, not in the plane.
func (p *Projection) densify(ring []corner, places []Place) []Place {
	out := make([]Place, 0, len(places)+8)
	for i, q := range places {
		out = append(out, q)
		j := (i + 1) % len(places)
		n := int(math.Hypot(places[j].X-q.X, places[j].Y-q.Y) / farApart)
		for k := 1; k < min(n, 400); k++ {
			t := float64(k) / float64(n)
			out = append(out, p.Project(locator.Position{
				Lat: (float64(ring[i].lat) + t*float64(ring[j].lat-ring[i].lat)) / 100,
				Lon: (float64(ring[i].lon) + t*float64(east(ring[i], ring[j]))) / 100,
			}))
		}
	}
	return out
}

// runs are a closed coast as lines, cut where it jumps from one side of the plane to
// the other, which it does around the point opposite the centre.
func runs(ring []Place) (out [][]Place) {
	line := []Place{ring[0]}
	for i := range ring {
		p, q := ring[i], ring[(i+1)%len(ring)]
		if math.Hypot(q.X-p.X, q.Y-p.Y) > 8*farApart {
			out = append(out, line)
			line = nil
		}
		line = append(line, q)
	}
	return append(out, line)
}

// thin leaves out corners nearer than d to the last one kept; the ends stay.
func thin(line []Place, d float64) []Place {
	if len(line) < 3 {
		return line
	}
	out := []Place{line[0]}
	for i, q := range line[1:] {
		last := out[len(out)-1]
		if i == len(line)-2 || math.Hypot(q.X-last.X, q.Y-last.Y) >= d {
			out = append(out, q)
		}
	}
	return out
}

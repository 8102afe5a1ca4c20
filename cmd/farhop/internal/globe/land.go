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

// seam reports whether the piece from a to b is no coast but the cut the source
// makes at 180° or at the south pole.
func seam(a, b corner) bool {
	edge := func(c corner) bool { return c.lon <= -17998 || c.lon >= 17998 }
	pole := func(c corner) bool { return c.lat <= -8998 }
	return edge(a) && edge(b) || pole(a) && pole(b)
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
		around := turn(full)*turnOf(ring) > 0
		for _, a := range [][]Place{full, disc(around, turnOf(ring))} {
			if a = thin(f.Area(a), detail); len(a) > 2 {
				areas = append(areas, a)
			}
		}
		for _, line := range runs(ring, places) {
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

// turnOf is turn in longitude and latitude, which grows upwards: an area drawn
// the right way round has the other sign there.
func turnOf(ring []corner) float64 {
	sum := 0.0
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		sum += float64(a.lon)*float64(b.lat) - float64(b.lon)*float64(a.lat)
	}
	return sum
}

// disc is the whole earth, to be added to an area that holds the point opposite
// the centre: its outline then encloses what does not belong to it, turns the
// other way and, by the non-zero rule, is a hole in the disc.
func disc(around bool, turn float64) []Place {
	if !around {
		return nil
	}
	const n = 180
	out := make([]Place, n)
	for i := range out {
		angle := 2 * math.Pi * float64(i) / n
		if turn > 0 {
			angle = -angle
		}
		sin, cos := math.Sincos(angle)
		out[i] = Place{math.Pi * locator.EarthRadius * cos, math.Pi * locator.EarthRadius * sin}
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
				Lon: (float64(ring[i].lon) + t*float64(ring[j].lon-ring[i].lon)) / 100,
			}))
		}
	}
	return out
}

// runs are the stretches of a ring between seams, as open lines.
func runs(ring []corner, places []Place) (out [][]Place) {
	n := len(ring)
	start := 0
	for i := range n {
		if seam(ring[i], ring[(i+1)%n]) {
			start = i + 1
			break
		}
	}
	line := []Place{places[start%n]}
	for k := range n {
		i, j := (start+k)%n, (start+k+1)%n
		far := math.Hypot(places[j].X-places[i].X, places[j].Y-places[i].Y) > 8*farApart
		if seam(ring[i], ring[j]) || far {
			if len(line) > 1 {
				out = append(out, line)
			}
			line = []Place{places[j]}
			continue
		}
		line = append(line, places[j])
	}
	if len(line) > 1 {
		out = append(out, line)
	}
	return out
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

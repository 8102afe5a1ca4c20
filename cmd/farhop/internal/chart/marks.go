package chart

import (
	"math"
	"strconv"

	"farhop/cmd/farhop/internal/scene"
	"farhop/cmd/farhop/internal/view"
)

// kind is what a station's mark tells by its shape.
type kind uint8

const (
	member  kind = iota // of a group, or joined one way
	single              // its loss cuts others off
	cutOff              // isolated
	unknown             // nothing known
	asleep              // off the air
	oneWay              // deaf or unheard
)

func kindOf(n *view.Node) kind {
	switch {
	case n.Single:
		return single
	case n.Note == "isolated":
		return cutOff
	case n.Note == "unknown":
		return unknown
	case n.Note == "off the air":
		return asleep
	case n.Note != "":
		return oneWay
	}
	return member
}

// mark draws a station: a disc with the number of its group, a larger diamond when
// its loss cuts others off, an open ring with a sign when nobody reaches it.
func mark(s *scene.Scene, at scene.Point, k kind, group int, r float64) {
	colour := groupColour(group)
	seam := scene.Style{Fill: colour, Stroke: paper, Width: 1.6}
	open := scene.Style{Fill: paper, Stroke: ink, Width: 1.6}
	switch {
	case k == single:
		d := 1.62 * r
		s.Add(&scene.Path{
			Lines:  [][]scene.Point{{{X: at.X, Y: at.Y - d}, {X: at.X + d, Y: at.Y}, {X: at.X, Y: at.Y + d}, {X: at.X - d, Y: at.Y}}},
			Closed: true, Style: scene.Style{Fill: colour, Stroke: ink, Width: 1.6},
		})
	case k == member && group > 0:
		s.Add(&scene.Circle{Centre: at, Radius: r, Style: seam})
	default:
		if k == unknown {
			open.Dash = []float64{2.5, 2}
		}
		s.Add(&scene.Circle{Centre: at, Radius: r * 0.94, Style: open})
	}
	sign(s, at, k, group, r)
}

// sign is what stands in a mark.
func sign(s *scene.Scene, at scene.Point, k kind, group int, r float64) {
	digit := func(text string, colour scene.Colour) {
		size := 1.32 * r
		if len(text) > 1 {
			size = 1.05 * r
		}
		s.Add(&scene.Text{At: scene.Point{X: at.X, Y: at.Y + 0.36*size}, Anchor: scene.Middle, Size: size, Bold: true, Fill: colour, Halo: scene.None, String: text})
	}
	c := r * 0.46
	switch {
	case k == unknown:
		digit("?", ink)
	case k == cutOff:
		s.Add(scene.Line(ink, 1.6, scene.Point{X: at.X - c, Y: at.Y - c}, scene.Point{X: at.X + c, Y: at.Y + c}),
			scene.Line(ink, 1.6, scene.Point{X: at.X - c, Y: at.Y + c}, scene.Point{X: at.X + c, Y: at.Y - c}))
	case k == asleep:
		s.Add(scene.Line(ink, 1.6, scene.Point{X: at.X - c, Y: at.Y}, scene.Point{X: at.X + c, Y: at.Y}))
	case group > 0:
		digit(strconv.Itoa(group), on(groupColour(group)))
	default:
		s.Add(&scene.Circle{Centre: at, Radius: r * 0.3, Style: scene.Style{Fill: ink, Stroke: scene.None}})
	}
}

// markRadius is how far a mark reaches.
func markRadius(k kind, r float64) float64 {
	if k == single {
		return 1.62*r + 1
	}
	return r + 1
}

// along returns the place and the direction at a share of the length of a line.
func along(line []scene.Point, share float64) (at, dir scene.Point) {
	total := 0.0
	for i := 1; i < len(line); i++ {
		total += math.Hypot(line[i].X-line[i-1].X, line[i].Y-line[i-1].Y)
	}
	left := total * share
	for i := 1; i < len(line); i++ {
		d := math.Hypot(line[i].X-line[i-1].X, line[i].Y-line[i-1].Y)
		if d > 0 && (left <= d || i == len(line)-1) {
			t := left / d
			dir = scene.Point{X: (line[i].X - line[i-1].X) / d, Y: (line[i].Y - line[i-1].Y) / d}
			return scene.Point{X: line[i-1].X + t*(line[i].X-line[i-1].X), Y: line[i-1].Y + t*(line[i].Y-line[i-1].Y)}, dir
		}
		left -= d
	}
	return line[0], scene.Point{X: 1}
}

// arrow is a head that points along dir.
func arrow(at, dir scene.Point, size float64, colour scene.Colour) *scene.Path {
	p := func(a, b float64) scene.Point {
		return scene.Point{X: at.X + a*dir.X - b*dir.Y, Y: at.Y + a*dir.Y + b*dir.X}
	}
	return &scene.Path{
		Lines: [][]scene.Point{{p(size, 0), p(-size, 0.72*size), p(-0.55*size, 0), p(-size, -0.72*size)}}, Closed: true,
		Style: scene.Style{Fill: colour, Stroke: paper, Width: 0.9},
	}
}

// drawLink draws a link along a line from sender to receiver.
func drawLink(s *scene.Scene, style linkStyle, e *view.DrawnLink, line []scene.Point) {
	width, colour := style.width(e.Decode), style.colour(e.Decode)
	p := &scene.Path{Lines: [][]scene.Point{line}, Style: scene.Style{Fill: scene.None, Stroke: colour, Width: width}}
	switch {
	case e.Inferred || e.Guessed:
		p.Dash = dotDash
	case e.Stale:
		p.Dash = staleDash
	}
	s.Add(p)
	if !e.Both {
		at, dir := along(line, 0.6)
		s.Add(arrow(at, dir, 3.4+1.1*width, colour))
	}
}

// drawHop draws a hop of the chosen chain over everything else.
func drawHop(s *scene.Scene, line []scene.Point) {
	for _, layer := range []struct {
		colour scene.Colour
		width  float64
	}{{paper, 10}, {ink, 7}, {chosen, 4.4}} { // dark edges, to stand out without colour
		s.Add(&scene.Path{Lines: [][]scene.Point{line}, Style: scene.Style{Fill: scene.None, Stroke: layer.colour, Width: layer.width}})
	}
	at, dir := along(line, 0.5)
	head := arrow(at, dir, 9.5, chosen)
	head.Stroke, head.Width = ink, 1.4
	s.Add(head)
}

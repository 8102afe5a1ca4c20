package chart

import (
	"math"

	"farhop/cmd/farhop/internal/scene"
)

// placer finds room for labels: none may touch another label or a mark, or leave
// the frame; of the places left the nearest with the fewest links below is taken, from
// which no other mark is nearer and no line to a label runs across a label.
type placer struct {
	frame   scene.Box
	taken   map[[2]int][]scene.Box // by cells of bucket units
	ink     map[[2]int]float64     // links, by cells of inkCell units
	labels  []scene.Box
	leaders [][2]scene.Point
}

const (
	bucket  = 40.0
	inkCell = 4.0
	air     = 1.5 // between labels
)

func newPlacer(frame scene.Box) *placer {
	return &placer{frame: frame, taken: map[[2]int][]scene.Box{}, ink: map[[2]int]float64{}}
}

func cells(b scene.Box, size float64, visit func([2]int) bool) {
	for x := int(math.Floor(b.X0 / size)); x <= int(math.Floor(b.X1/size)); x++ {
		for y := int(math.Floor(b.Y0 / size)); y <= int(math.Floor(b.Y1/size)); y++ {
			if !visit([2]int{x, y}) {
				return
			}
		}
	}
}

// block keeps a box free of labels.
func (p *placer) block(b scene.Box) {
	cells(b, bucket, func(c [2]int) bool {
		p.taken[c] = append(p.taken[c], b)
		return true
	})
}

// shadow tells of a line that labels had better not cover.
func (p *placer) shadow(line []scene.Point, weight float64) {
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		n := int(math.Hypot(b.X-a.X, b.Y-a.Y)/inkCell) + 1
		for k := range n {
			t := float64(k) / float64(n)
			p.ink[[2]int{int(math.Floor((a.X + t*(b.X-a.X)) / inkCell)), int(math.Floor((a.Y + t*(b.Y-a.Y)) / inkCell))}] += weight
		}
	}
}

// free reports whether a label may stand in the box.
func (p *placer) free(b scene.Box) bool {
	if !b.Within(p.frame) {
		return false
	}
	b = b.Grow(air)
	ok := true
	cells(b, bucket, func(c [2]int) bool {
		for _, t := range p.taken[c] {
			if t.Overlaps(b) {
				ok = false
			}
		}
		return ok
	})
	return ok
}

func (p *placer) covered(b scene.Box) float64 {
	sum := 0.0
	cells(b, inkCell, func(c [2]int) bool {
		sum += math.Min(p.ink[c], 3)
		return true
	})
	return sum / math.Max(1, b.Width()*b.Height()/(inkCell*inkCell))
}

// place finds a box of the given size for a mark of a radius, and takes it. far is
// true when it stands so far away that a line should lead to it.
func (p *placer) place(at scene.Point, radius, w, h float64) (box scene.Box, far, ok bool) {
	best := math.Inf(1)
	for ring, gap := range []float64{3, 6, 12, 20, 30, 42, 57, 75, 97} {
		turns := 16
		if ring > 2 {
			turns = 24
		}
		for k := range turns {
			b := beside(at, radius+gap, w, h, 2*math.Pi*float64(k)/float64(turns))
			// Right before left before above and below, near before far.
			cost := 0.035*gap + 0.25*preference(k, turns)
			if cost >= best || !p.free(b) {
				continue
			}
			if cost += 1.1 * p.covered(b); cost < best {
				cost += p.confusing(at, radius, b, gap > leaderFrom)
			}
			if cost < best {
				best, box, far, ok = cost, b, gap > leaderFrom, true
			}
		}
		if ok && best < 0.035*gap {
			break
		}
	}
	if !ok {
		return box, far, ok
	}
	p.block(box)
	p.labels = append(p.labels, box)
	if far {
		p.leaders = append(p.leaders, [2]scene.Point{at, nearest(at, box)})
	}
	return box, far, ok
}

// crossing is what it costs when a line runs across a label: more than any way there is.
const crossing = 5.0

// leaderFrom is the distance from which on a line leads to a label.
const leaderFrom = 10.0

// confusing is what a place costs for what it may be mistaken for: a mark that is
// nearer than its own, or lines that cross labels.
func (p *placer) confusing(at scene.Point, radius float64, b scene.Box, far bool) (cost float64) {
	to := nearest(at, b)
	own := math.Hypot(to.X-at.X, to.Y-at.Y) - radius
	cells(b.Grow(own), bucket, func(c [2]int) bool {
		for _, t := range p.taken[c] {
			if t.Grow(1).Overlaps(b.Grow(own)) && !t.Overlaps(scene.Box{X0: at.X - 1, Y0: at.Y - 1, X1: at.X + 1, Y1: at.Y + 1}) {
				cost = 0.25
				return false
			}
		}
		return true
	})
	for _, l := range p.leaders {
		if crosses(l[0], l[1], b.Grow(1)) {
			cost += crossing
		}
	}
	if far {
		for _, l := range p.labels {
			if crosses(at, to, l) {
				cost += crossing
			}
		}
	}
	return cost
}

// nearest is the point of a box nearest to a place.
func nearest(at scene.Point, b scene.Box) scene.Point {
	return scene.Point{X: clamp(at.X, b.X0, b.X1), Y: clamp(at.Y, b.Y0, b.Y1)}
}

// crosses reports whether the line from a to b has a part in the box.
func crosses(a, b scene.Point, box scene.Box) bool {
	from, to := 0.0, 1.0
	for _, side := range [2][4]float64{{a.X, b.X - a.X, box.X0, box.X1}, {a.Y, b.Y - a.Y, box.Y0, box.Y1}} {
		start, step, low, high := side[0], side[1], side[2], side[3]
		if step == 0 {
			if start < low || start > high {
				return false
			}
			continue
		}
		t, u := (low-start)/step, (high-start)/step
		from, to = max(from, min(t, u)), min(to, max(t, u))
	}
	return from <= to
}

// preference is 0 to the right, 1 at the top.
func preference(k, turns int) float64 {
	angle := 2 * math.Pi * float64(k) / float64(turns)
	return 0.6*math.Abs(math.Sin(angle)) + 0.4*(1-math.Cos(angle))/2
}

// beside is a box in a direction from a point, its nearest part at the distance.
func beside(at scene.Point, distance, w, h, angle float64) scene.Box {
	sin, cos := math.Sincos(angle)
	x, y := at.X+distance*cos, at.Y+distance*sin
	// The box hangs on the point of its outline that faces the mark.
	x += w / 2 * clamp(1.6*cos, -1, 1)
	y += h / 2 * clamp(1.6*sin, -1, 1)
	return scene.Box{X0: x - w/2, Y0: y - h/2, X1: x + w/2, Y1: y + h/2}
}

// label writes a text into a box made for it, with a line to it when it is far.
func label(s *scene.Scene, box scene.Box, text string, size float64, bold bool) {
	s.Add(&scene.Text{At: scene.Point{X: box.X0, Y: box.Y0 + scene.Ascent*size}, Size: size, Bold: bold, Fill: ink, Halo: paper, String: text})
}

// leader leads from a mark to a box.
func leader(s *scene.Scene, at scene.Point, radius float64, box scene.Box) {
	to := nearest(at, box)
	d := math.Hypot(to.X-at.X, to.Y-at.Y)
	if d <= radius {
		return
	}
	from := scene.Point{X: at.X + (to.X-at.X)*radius/d, Y: at.Y + (to.Y-at.Y)*radius/d}
	s.Add(scene.Line(paper, 3.6, from, to), scene.Line(ink, 1, from, to))
}

// apart moves marks that stand on one another until they are least apart, keeping
// them in the frame; it is the same every time.
func apart(at []scene.Point, radius []float64, gap float64, frame scene.Box) {
	for range 120 {
		moved := false
		for i := range at {
			for j := range i {
				least := radius[i] + radius[j] + gap
				dx, dy := at[i].X-at[j].X, at[i].Y-at[j].Y
				d := math.Hypot(dx, dy)
				if d >= least {
					continue
				}
				if d < 1e-6 {
					sin, cos := math.Sincos(2.399963 * float64(i)) // the golden angle
					dx, dy, d = cos*1e-3, sin*1e-3, 1e-3
				}
				push := (least - d) / 2 * 1.02 / d
				at[i].X, at[i].Y = at[i].X+dx*push, at[i].Y+dy*push
				at[j].X, at[j].Y = at[j].X-dx*push, at[j].Y-dy*push
				moved = true
			}
		}
		for i := range at {
			at[i].X = clamp(at[i].X, frame.X0+radius[i], frame.X1-radius[i])
			at[i].Y = clamp(at[i].Y, frame.Y0+radius[i], frame.Y1-radius[i])
		}
		if !moved {
			return
		}
	}
}

package chart

import (
	"math"

	"farhop/cmd/farhop/internal/scene"
	"farhop/cmd/farhop/internal/view"
)

// distances are the lengths of the shortest ways between n nodes over edges taken
// both ways, edge e of length long(e); far where there is none.
func distances(n int, edges [][2]int, long func(int) float64, far float64) [][]float64 {
	next := make([][]int, n)
	for e, ends := range edges {
		next[ends[0]] = append(next[ends[0]], e)
		next[ends[1]] = append(next[ends[1]], e)
	}
	out := make([][]float64, n)
	for from := range n {
		d := make([]float64, n)
		for i := range d {
			d[i] = math.Inf(1)
		}
		d[from] = 0
		// Bellman and Ford with a queue: few rounds on nets as small as these.
		queue, queued := []int{from}, make([]bool, n)
		for len(queue) > 0 {
			i := queue[0]
			queue, queued[i] = queue[1:], false
			for _, e := range next[i] {
				j := edges[e][0] + edges[e][1] - i
				if t := d[i] + long(e); t < d[j]-1e-12 {
					d[j] = t
					if !queued[j] {
						queue, queued[j] = append(queue, j), true
					}
				}
			}
		}
		for i := range d {
			d[i] = math.Min(d[i], far)
		}
		out[from] = d
	}
	return out
}

// relax moves nodes until their distances in the plane come as near as may be to
// the wanted ones, near pairs counting most: stress majorization (E. R. Gansner,
// Y. Koren, S. North, Graph Drawing 2004, LNCS 3383, 239–250), a node at a time.
// It returns the stress left.
func relax(at []scene.Point, want [][]float64, rounds int) float64 {
	n := len(at)
	stress := math.Inf(1)
	for range rounds {
		sum := 0.0
		for i := range n {
			var x, y, weight float64
			for j := range n {
				if i == j || want[i][j] <= 0 {
					continue
				}
				w := 1 / (want[i][j] * want[i][j])
				dx, dy := at[i].X-at[j].X, at[i].Y-at[j].Y
				d := math.Sqrt(dx*dx + dy*dy)
				sum += w * (d - want[i][j]) * (d - want[i][j])
				f := 0.0
				if d > 1e-9 {
					f = want[i][j] / d
				}
				x += w * (at[j].X + f*dx)
				y += w * (at[j].Y + f*dy)
				weight += w
			}
			if weight > 0 {
				at[i] = scene.Point{X: x / weight, Y: y / weight}
			}
		}
		if stress-sum < 1e-4*sum {
			return sum
		}
		stress = sum
	}
	return stress
}

// spiral places n nodes evenly around a middle, the same every time; turn varies it.
func spiral(n, turn int) []scene.Point {
	at := make([]scene.Point, n)
	for i := range at {
		k := (i*(2*turn+1) + turn) % max(n, 1)
		sin, cos := math.Sincos(2.399963*float64(k) + float64(turn))
		r := math.Sqrt(float64(k) + 0.5)
		// A trace of the index keeps any two from standing on one another.
		at[i] = scene.Point{X: r*cos + 1e-4*float64(i), Y: r * sin}
	}
	return at
}

// arrange is the best of a few layouts of n nodes.
func arrange(n int, want [][]float64) []scene.Point {
	tries, rounds := 4, 200
	switch {
	case n > 150:
		tries, rounds = 1, 60
	case n > 60:
		tries, rounds = 2, 100
	}
	var best []scene.Point
	least := math.Inf(1)
	for t := range tries {
		at := spiral(n, t)
		if s := relax(at, want, rounds); s < least || best == nil {
			least, best = s, at
		}
	}
	return best
}

// separate pushes boxes of the given sizes apart until none is nearer than gap to
// another, each pair along the axis on which it takes less.
func separate(at []scene.Point, size []scene.Point, gap float64) {
	for range 400 {
		moved := false
		for i := range at {
			for j := range i {
				dx, dy := at[i].X-at[j].X, at[i].Y-at[j].Y
				px := (size[i].X+size[j].X)/2 + gap - math.Abs(dx)
				py := (size[i].Y+size[j].Y)/2 + gap - math.Abs(dy)
				if px <= 1e-6 || py <= 1e-6 {
					continue
				}
				moved = true
				if px < py {
					push := math.Copysign(px/2+0.01, dx)
					at[i].X += push
					at[j].X -= push
				} else {
					push := math.Copysign(py/2+0.01, dy)
					at[i].Y += push
					at[j].Y -= push
				}
			}
		}
		if !moved {
			return
		}
	}
}

// level turns a layout so that it is widest from left to right.
func level(at []scene.Point) {
	var x, y, xx, xy, yy float64
	n := float64(len(at))
	for _, p := range at {
		x, y = x+p.X/n, y+p.Y/n
	}
	for _, p := range at {
		xx, xy, yy = xx+(p.X-x)*(p.X-x), xy+(p.X-x)*(p.Y-y), yy+(p.Y-y)*(p.Y-y)
	}
	sin, cos := math.Sincos(-math.Atan2(2*xy, xx-yy) / 2)
	for i, p := range at {
		at[i] = scene.Point{X: cos*(p.X-x) - sin*(p.Y-y), Y: sin*(p.X-x) + cos*(p.Y-y)}
	}
}

// fit turns a layout level and scales it so that boxes of the given sizes have about
// the room they need: wider than high as the boxes are, and more where too many
// would stand on one another.
func fit(at []scene.Point, size []scene.Point, air scene.Point) {
	if len(at) < 2 {
		return
	}
	level(at)
	b := bounds(at, make([]scene.Point, len(at)))
	need := 0.0
	for _, s := range size {
		need += (s.X + air.X) * (s.Y + air.Y)
	}
	w, h := math.Max(b.Width(), 1e-6), math.Max(b.Height(), 1e-6)
	shape := clamp(1.5*w/h, 1.1, 2.6) // width to height wanted
	sx, sy := math.Sqrt(need*shape)/w, math.Sqrt(need/shape)/h
	if b.Height() < 1e-6 {
		sy = 0
	}
	for i := range at {
		at[i] = scene.Point{X: (at[i].X - b.X0) * sx, Y: (at[i].Y - b.Y0) * sy}
	}
	for k := 0; k < 6 && crowded(at, size) > len(at)/4; k++ {
		for i := range at {
			at[i] = scene.Point{X: at[i].X * 1.12, Y: at[i].Y * 1.12}
		}
	}
}

// crowded counts pairs of boxes that stand on one another.
func crowded(at []scene.Point, size []scene.Point) (pairs int) {
	for i := range at {
		for j := range i {
			if math.Abs(at[i].X-at[j].X) < (size[i].X+size[j].X)/2 && math.Abs(at[i].Y-at[j].Y) < (size[i].Y+size[j].Y)/2 {
				pairs++
			}
		}
	}
	return pairs
}

// bounds is the box around boxes of the given sizes.
func bounds(at []scene.Point, size []scene.Point) scene.Box {
	b := scene.Box{X0: math.Inf(1), Y0: math.Inf(1), X1: math.Inf(-1), Y1: math.Inf(-1)}
	for i, p := range at {
		b.X0, b.X1 = math.Min(b.X0, p.X-size[i].X/2), math.Max(b.X1, p.X+size[i].X/2)
		b.Y0, b.Y1 = math.Min(b.Y0, p.Y-size[i].Y/2), math.Max(b.Y1, p.Y+size[i].Y/2)
	}
	return b
}

// linkLength is how long a link is wanted, in hops: the surer the shorter.
func linkLength(e *view.DrawnLink) float64 { return 1.5 - 0.5*e.Decode }

package globe

// Frame is a rectangle in the plane.
type Frame struct{ X0, Y0, X1, Y1 float64 }

// Holds reports whether a place lies in the frame.
func (f Frame) Holds(p Place) bool { return p.X >= f.X0 && p.X <= f.X1 && p.Y >= f.Y0 && p.Y <= f.Y1 }

// Line cuts an open line to the frame: the parts of it inside, in order.
func (f Frame) Line(line []Place) (parts [][]Place) {
	var part []Place
	flush := func() {
		if len(part) > 1 {
			parts = append(parts, part)
		}
		part = nil
	}
	for i := 1; i < len(line); i++ {
		a, b, ok := f.segment(line[i-1], line[i])
		if !ok {
			flush()
			continue
		}
		if len(part) == 0 || part[len(part)-1] != a {
			flush()
			part = []Place{a}
		}
		part = append(part, b)
		if b != line[i] {
			flush()
		}
	}
	flush()
	return parts
}

// segment cuts one straight piece (Y.-D. Liang, B. A. Barsky, ACM Transactions on
// Graphics 3 (1984) 1–22).
func (f Frame) segment(a, b Place) (from, to Place, ok bool) {
	dx, dy := b.X-a.X, b.Y-a.Y
	t0, t1 := 0.0, 1.0
	for _, side := range [4][2]float64{{-dx, a.X - f.X0}, {dx, f.X1 - a.X}, {-dy, a.Y - f.Y0}, {dy, f.Y1 - a.Y}} {
		p, q := side[0], side[1]
		switch {
		case p == 0:
			if q < 0 {
				return a, b, false
			}
		case p < 0:
			t0 = max(t0, q/p)
		default:
			t1 = min(t1, q/p)
		}
	}
	if t0 > t1 {
		return a, b, false
	}
	from, to = a, b
	if t0 > 0 {
		from = Place{a.X + t0*dx, a.Y + t0*dy}
	}
	if t1 < 1 {
		to = Place{a.X + t1*dx, a.Y + t1*dy}
	}
	return from, to, true
}

// Area cuts a closed area to the frame, keeping the direction it turns in
// (I. E. Sutherland, G. W. Hodgman, Communications of the ACM 17 (1974) 32–42).
// Where the area leaves and comes back, it runs along the frame.
func (f Frame) Area(ring []Place) []Place {
	for _, side := range []struct {
		in  func(Place) bool
		cut func(a, b Place) Place
	}{
		{func(p Place) bool { return p.X >= f.X0 }, func(a, b Place) Place { return atX(a, b, f.X0) }},
		{func(p Place) bool { return p.X <= f.X1 }, func(a, b Place) Place { return atX(a, b, f.X1) }},
		{func(p Place) bool { return p.Y >= f.Y0 }, func(a, b Place) Place { return atY(a, b, f.Y0) }},
		{func(p Place) bool { return p.Y <= f.Y1 }, func(a, b Place) Place { return atY(a, b, f.Y1) }},
	} {
		if len(ring) == 0 {
			return nil
		}
		var out []Place
		last := ring[len(ring)-1]
		for _, p := range ring {
			if side.in(p) != side.in(last) {
				out = append(out, side.cut(last, p))
			}
			if side.in(p) {
				out = append(out, p)
			}
			last = p
		}
		ring = out
	}
	return ring
}

func atX(a, b Place, x float64) Place {
	return Place{x, a.Y + (b.Y-a.Y)*(x-a.X)/(b.X-a.X)}
}

func atY(a, b Place, y float64) Place {
	return Place{a.X + (b.X-a.X)*(y-a.Y)/(b.Y-a.Y), y}
}

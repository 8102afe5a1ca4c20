package scene

import (
	"image"
	"math"
)

// raster fills areas with smooth edges. It adds up, for each pixel, the signed
// area to the right of every edge; the running sum along a row is then how much
// of each pixel lies inside. Only the touched part of a row is gone through, so a
// long thin line costs its length, not the area around it.
type raster struct {
	img      *image.RGBA // a band of the picture
	top      float64     // first row of the band in the picture
	w, h     int
	sum      []float32 // w+2 a row
	from, to []int     // touched columns of a row, from > to = none
	y0, y1   int       // touched rows
}

// newRaster makes a raster for bands of up to h rows.
func newRaster(w, h int) *raster {
	r := &raster{w: w, h: h, sum: make([]float32, (w+2)*h), from: make([]int, h), to: make([]int, h)}
	for y := range h {
		r.from[y], r.to[y] = w+2, -1
	}
	r.y0, r.y1 = h, -1
	return r
}

// begin goes on to a band that starts with a row of the picture.
func (r *raster) begin(band *image.RGBA, top int) {
	r.img, r.top, r.h = band, float64(top), band.Rect.Dy()
	r.y0, r.y1 = r.h, -1
}

// misses reports whether nothing between two heights of the picture, in pixels, lies
// in the band.
func (r *raster) misses(y0, y1 float64) bool { return y1 < r.top || y0 > r.top+float64(r.h) }

// edge adds a line from p to q in pixels.
func (r *raster) edge(p, q Point) {
	dir := 1.0
	if p.Y > q.Y {
		p, q, dir = q, p, -1
	}
	if p.Y == q.Y || q.Y <= 0 || p.Y >= float64(r.h) {
		return
	}
	slope := (q.X - p.X) / (q.Y - p.Y)
	if p.Y < 0 {
		p = Point{p.X - p.Y*slope, 0}
	}
	last := min(q.Y, float64(r.h))
	x := p.X
	for y := int(p.Y); float64(y) < last; y++ {
		dy := min(last, float64(y+1)) - max(p.Y, float64(y))
		next := x + slope*dy
		r.span(y, min(x, next), max(x, next), dir*dy)
		x = next
	}
}

// span adds an edge that crosses row y from a to b, covering d of its height.
func (r *raster) span(y int, a, b, d float64) {
	limit := float64(r.w)
	a, b = min(max(a, 0), limit), min(max(b, 0), limit)
	i, j := int(a), int(math.Ceil(b))
	row := r.sum[y*(r.w+2) : (y+1)*(r.w+2)]
	r.y0, r.y1 = min(r.y0, y), max(r.y1, y)
	r.from[y], r.to[y] = min(r.from[y], i), max(r.to[y], max(j, i+1))
	if j <= i+1 {
		mid := (a+b)/2 - float64(i)
		row[i] += float32(d * (1 - mid))
		row[i+1] += float32(d * mid)
		return
	}
	// The share of the height gone by when column k is passed, and the area left
	// of the edge within the columns, in differences.
	per := d / (b - a)
	before := 0.0 // area covered right of the edge in the columns so far
	for k := i; k < j; k++ {
		l, u := max(a, float64(k)), min(b, float64(k+1))
		h := (u - l) * per
		mid := (l+u)/2 - float64(k)
		row[k] += float32(h*(1-mid) + before)
		before = h * mid
	}
	row[j] += float32(before)
}

// paint fills what the edges enclose and forgets them.
func (r *raster) paint(c Colour, opacity float64) {
	red, green, blue := c.RGB()
	for y := r.y0; y <= r.y1; y++ {
		if r.from[y] > r.to[y] {
			continue
		}
		row := r.sum[y*(r.w+2) : (y+1)*(r.w+2)]
		pixels := r.img.Pix[y*r.img.Stride : y*r.img.Stride+4*r.w]
		acc := float32(0)
		for x := r.from[y]; x <= r.to[y]; x++ {
			acc += row[x]
			row[x] = 0
			if x >= r.w {
				continue
			}
			cover := acc
			if cover < 0 {
				cover = -cover
			}
			if cover > 1 {
				cover = 1
			}
			if cover > 0.002 {
				blend(pixels[4*x:4*x+4], red, green, blue, int(float64(cover)*opacity*256+0.5))
			}
		}
		r.from[y], r.to[y] = r.w+2, -1
	}
	r.y0, r.y1 = r.h, -1
}

// blend puts a colour over an opaque pixel, a of 256 parts.
func blend(p []uint8, r, g, b uint8, a int) {
	p[0] = uint8((int(p[0])*(256-a) + int(r)*a) >> 8)
	p[1] = uint8((int(p[1])*(256-a) + int(g)*a) >> 8)
	p[2] = uint8((int(p[2])*(256-a) + int(b)*a) >> 8)
	p[3] = 255
}

// area adds a closed line.
func (r *raster) area(line []Point, scale float64) {
	if len(line) < 3 {
		return
	}
	p := line[len(line)-1]
	p = Point{p.X * scale, p.Y*scale - r.top}
	for _, q := range line {
		q = Point{q.X * scale, q.Y*scale - r.top}
		r.edge(p, q)
		p = q
	}
}

// stroke adds a line of a width as areas that all turn the same way.
func (r *raster) stroke(line []Point, closed bool, width, scale float64) {
	if closed && len(line) > 0 {
		line = append(append(make([]Point, 0, len(line)+1), line...), line[0])
	}
	half := width / 2
	for i := 1; i < len(line); i++ {
		p, q := line[i-1], line[i]
		if r.misses((min(p.Y, q.Y)-half)*scale, (max(p.Y, q.Y)+half)*scale) {
			continue
		}
		length := math.Hypot(q.X-p.X, q.Y-p.Y)
		if length == 0 {
			continue
		}
		nx, ny := -(q.Y-p.Y)/length*half, (q.X-p.X)/length*half
		r.area([]Point{{p.X + nx, p.Y + ny}, {q.X + nx, q.Y + ny}, {q.X - nx, q.Y - ny}, {p.X - nx, p.Y - ny}}, scale)
		if width*scale > 1.2 && (i < len(line)-1 || closed) {
			r.area(round(q, half), scale)
		}
	}
}

// round is a circle as a polygon that turns like the areas of a stroke.
func round(c Point, radius float64) []Point {
	n := max(8, min(48, int(6*math.Sqrt(radius))))
	line := make([]Point, n)
	for i := range line {
		sin, cos := math.Sincos(-2 * math.Pi * float64(i) / float64(n))
		line[i] = Point{c.X + radius*cos, c.Y + radius*sin}
	}
	return line
}

// dashed cuts a line into the drawn parts of a pattern.
func dashed(line []Point, closed bool, pattern []float64) (parts [][]Point) {
	total := 0.0
	for _, d := range pattern {
		total += d
	}
	if !(total > 0.01) || len(line) < 2 {
		return [][]Point{line}
	}
	if closed {
		line = append(append(make([]Point, 0, len(line)+1), line...), line[0])
	}
	k, left := 0, pattern[0]
	part := []Point{line[0]}
	for i := 1; i < len(line); i++ {
		p, q := line[i-1], line[i]
		length := math.Hypot(q.X-p.X, q.Y-p.Y)
		done := 0.0
		for length-done > left {
			done += left
			t := done / length
			cut := Point{p.X + t*(q.X-p.X), p.Y + t*(q.Y-p.Y)}
			if k%2 == 0 {
				parts = append(parts, append(part, cut))
			}
			part = []Point{cut}
			k++
			left = pattern[k%len(pattern)]
		}
		left -= length - done
		part = append(part, q)
	}
	if k%2 == 0 && len(part) > 1 {
		parts = append(parts, part)
	}
	return parts
}

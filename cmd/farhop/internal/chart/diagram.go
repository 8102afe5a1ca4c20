package chart

import (
	"fmt"
	"math"
	"slices"

	"farhop/cmd/farhop/internal/scene"
	"farhop/cmd/farhop/internal/view"
)

// diagram is a diagram being drawn.
type diagram struct {
	v     *view.Drawing
	s     *scene.Scene
	at    []scene.Point // middles of the stations' boxes
	size  []scene.Point
	group []int       // of each station
	frame []scene.Box // of groups of at least two
	shelf bool        // a row of stations without a link at the bottom
	lone  float64     // where that row begins
	lines map[[2]int][]scene.Point
}

// figuresUpTo is how many links may be for their chances to be written beside them.
const figuresUpTo = 90

const frameTitle = 22.0

// Diagram draws stations as boxes, the members of a group in a common frame, placed
// so that what hears each other well stands near.
func Diagram(v *view.Drawing) *scene.Scene {
	d := &diagram{v: v, s: blank(v, "who is joined with whom"), group: make([]int, len(v.Nodes))}
	d.measure()
	d.layout()
	b := bounds(d.at, d.size)
	for _, f := range d.frame {
		b = scene.Box{X0: min(b.X0, f.X0), Y0: min(b.Y0, f.Y0), X1: max(b.X1, f.X1), Y1: max(b.Y1, f.Y1)}
	}
	width := math.Max(924, b.Width()+16)
	top := heading(d.s, v, "who is joined with whom", width)
	d.move(margin+(width-b.Width())/2-b.X0, top+8-b.Y0)
	d.s.Width = width + 2*margin
	d.frames()
	d.draw()
	entries := append(boxEntries(v), linkEntries(v)...)
	more := []string{"Places say nothing of geography: what hears each other well stands near."}
	if len(v.Edges) <= figuresUpTo && len(v.Edges) > 0 {
		more[0] += " Figures: chance in per cent that a frame decodes, where there is room."
	}
	y := top + 8 + b.Height() + 18
	d.s.Height = legend(d.s, y, width, entries, notes(v, more...))
	return d.s
}

func (d *diagram) measure() {
	d.size = make([]scene.Point, len(d.v.Nodes))
	d.at = make([]scene.Point, len(d.v.Nodes))
	for i := range d.v.Nodes {
		n := &d.v.Nodes[i]
		w, h := scene.Measure(n.Call, labelSize, true)+16, 22.0
		if n.Note != "" {
			w, h = math.Max(w, scene.Measure(n.Note, smallSize, false)+16), 34
		}
		if n.Single {
			w, h = w+8, h+4
		}
		d.size[i] = scene.Point{X: w, Y: h}
	}
}

// layout places the members of each group, then the groups and the stations in
// none, and those without any link in rows below.
func (d *diagram) layout() {
	for g, members := range d.v.Groups {
		for _, m := range members {
			d.group[m] = g
		}
	}
	linked := make([]bool, len(d.v.Groups))
	for i := range d.v.Edges {
		linked[d.group[d.v.Edges[i].From]], linked[d.group[d.v.Edges[i].To]] = true, true
	}
	var blocks, lone []int
	sizes := make([]scene.Point, len(d.v.Groups))
	d.frame = make([]scene.Box, 0, len(d.v.Groups))
	for g, members := range d.v.Groups {
		if !linked[g] {
			lone = append(lone, members...)
			continue
		}
		sizes[g] = d.inner(members)
		blocks = append(blocks, g)
	}
	middle := d.outer(blocks, sizes)
	for k, g := range blocks {
		for _, m := range d.v.Groups[g] {
			d.at[m].X += middle[k].X
			d.at[m].Y += middle[k].Y
		}
		if len(d.v.Groups[g]) > 1 {
			c, s := middle[k], sizes[g]
			d.frame = append(d.frame, scene.Box{X0: c.X - s.X/2, Y0: c.Y - s.Y/2, X1: c.X + s.X/2, Y1: c.Y + s.Y/2})
		}
	}
	d.stack(lone)
}

// inner lays out one group around 0, 0 and returns its size with frame.
func (d *diagram) inner(members []int) scene.Point {
	if len(members) == 1 {
		return d.size[members[0]]
	}
	index := map[int]int{}
	size := make([]scene.Point, len(members))
	for k, m := range members {
		index[m] = k
		size[k] = d.size[m]
	}
	var edges [][2]int
	var long []float64
	for i := range d.v.Edges {
		e := &d.v.Edges[i]
		a, okA := index[e.From]
		b, okB := index[e.To]
		if okA && okB {
			edges = append(edges, [2]int{a, b})
			long = append(long, linkLength(e))
		}
	}
	at := arrange(len(members), distances(len(members), edges, func(e int) float64 { return long[e] }, 8))
	fit(at, size, airFor(len(members)))
	separate(at, size, 12)
	b := bounds(at, size)
	for k, m := range members {
		d.at[m] = scene.Point{X: at[k].X - b.Centre().X, Y: at[k].Y - b.Centre().Y + frameTitle/2}
	}
	return scene.Point{X: math.Max(b.Width()+28, 150), Y: b.Height() + 28 + frameTitle}
}

// airFor is the room between boxes: less where there are many.
func airFor(n int) scene.Point {
	f := clamp(math.Sqrt(20/float64(n)), 0.45, 1.1)
	return scene.Point{X: 90 * f, Y: 78 * f}
}

// outer lays out blocks of the given sizes and returns their middles.
func (d *diagram) outer(blocks []int, sizes []scene.Point) []scene.Point {
	index := map[int]int{}
	size := make([]scene.Point, len(blocks))
	for k, g := range blocks {
		index[g] = k
		size[k] = sizes[g]
	}
	joined := map[[2]int]bool{}
	var edges [][2]int
	for i := range d.v.Edges {
		a, b := index[d.group[d.v.Edges[i].From]], index[d.group[d.v.Edges[i].To]]
		if a != b && !joined[[2]int{min(a, b), max(a, b)}] {
			joined[[2]int{min(a, b), max(a, b)}] = true
			edges = append(edges, [2]int{a, b})
		}
	}
	reach := func(k int) float64 { return math.Sqrt(size[k].X*size[k].Y) / 2 }
	want := distances(len(blocks), edges, func(e int) float64 { return reach(edges[e][0]) + reach(edges[e][1]) + 20 }, math.Inf(1))
	far := 0.0
	for i := range want {
		for j := range want[i] {
			if !math.IsInf(want[i][j], 1) {
				far = math.Max(far, want[i][j])
			}
		}
	}
	for i := range want {
		for j := range want[i] {
			if math.IsInf(want[i][j], 1) {
				want[i][j] = far + reach(i) + reach(j) + 60
			}
		}
	}
	at := arrange(len(blocks), want)
	separate(at, size, 34)
	return at
}

// stack puts stations without a link in rows under the rest.
func (d *diagram) stack(lone []int) {
	if len(lone) == 0 {
		return
	}
	var at, size []scene.Point
	alone := map[int]bool{}
	for _, i := range lone {
		alone[i] = true
	}
	for i := range d.at {
		if !alone[i] {
			at, size = append(at, d.at[i]), append(size, d.size[i])
		}
	}
	for _, f := range d.frame {
		at, size = append(at, f.Centre()), append(size, scene.Point{X: f.Width(), Y: f.Height()})
	}
	left, top, width := 0.0, 0.0, 900.0
	if len(at) > 0 {
		b := bounds(at, size)
		width = math.Max(900, b.Width())
		left, top = b.Centre().X-width/2, b.Y1+52
	}
	d.shelf, d.lone = true, top-14
	x, y := left, top
	for _, i := range lone {
		if x > left && x+d.size[i].X > left+width {
			x, y = left, y+52
		}
		d.at[i] = scene.Point{X: x + d.size[i].X/2, Y: y + 20}
		x += d.size[i].X + 16
	}
}

func (d *diagram) move(dx, dy float64) {
	for i := range d.at {
		d.at[i] = scene.Point{X: d.at[i].X + dx, Y: d.at[i].Y + dy}
	}
	for i, f := range d.frame {
		d.frame[i] = scene.Box{X0: f.X0 + dx, Y0: f.Y0 + dy, X1: f.X1 + dx, Y1: f.Y1 + dy}
	}
	d.lone += dy
}

func (d *diagram) box(i int) scene.Box {
	return scene.Box{X0: d.at[i].X - d.size[i].X/2, Y0: d.at[i].Y - d.size[i].Y/2, X1: d.at[i].X + d.size[i].X/2, Y1: d.at[i].Y + d.size[i].Y/2}
}

func (d *diagram) frames() {
	for _, f := range d.frame {
		d.s.Add(scene.Rectangle(f, 10, scene.Style{Fill: 0xf6f6f4, Stroke: faint, Width: 1.2}))
	}
}

// draw draws links, then boxes, then figures.
func (d *diagram) draw() {
	style := newLinkStyle(d.v.Threshold, len(d.v.Edges))
	for _, e := range byChance(d.v.Edges) {
		drawLink(d.s, style, e, d.line(e.From, e.To))
	}
	if c := d.v.Chain; c != nil && c.Known {
		for i := 1; i < len(c.Stations); i++ {
			drawHop(d.s, d.line(c.Stations[i-1], c.Stations[i]))
		}
	}
	p := newPlacer(scene.Box{X0: 0, Y0: 0, X1: d.s.Width, Y1: 1e6})
	d.titles(p)
	d.blockHeads(p)
	for i := range d.v.Nodes {
		d.station(i)
		p.block(d.box(i))
	}
	if len(d.v.Edges) <= figuresUpTo {
		d.figures(p)
	}
}

// blockHeads keeps figures off the arrow heads.
func (d *diagram) blockHeads(p *placer) {
	block := func(a, b int, share, r float64) {
		at, _ := along(d.line(a, b), share)
		p.block(scene.Box{X0: at.X - r, Y0: at.Y - r, X1: at.X + r, Y1: at.Y + r})
	}
	for i := range d.v.Edges {
		if e := &d.v.Edges[i]; !e.Both {
			block(e.From, e.To, 0.6, 5)
		}
	}
	if c := d.v.Chain; c != nil {
		for i := 1; i < len(c.Stations); i++ {
			block(c.Stations[i-1], c.Stations[i], 0.5, 9)
		}
	}
}

// titles writes the group's names over the links that cross them.
func (d *diagram) titles(p *placer) {
	k := 0
	for g, members := range d.v.Groups {
		if len(members) < 2 {
			continue
		}
		f := d.frame[k]
		k++
		t := &scene.Text{
			At: scene.Point{X: f.X0 + 12, Y: f.Y0 + 16}, Size: textSize, Bold: true, Fill: quiet, Halo: 0xf6f6f4,
			String: fmt.Sprintf("group %d, %d stations", g+1, len(members)),
		}
		d.s.Add(t)
		p.block(t.Box())
	}
	if d.shelf {
		t := &scene.Text{At: scene.Point{X: d.left(), Y: d.lone + 4}, Size: textSize, Bold: true, Fill: quiet, Halo: scene.None, String: "no open link"}
		d.s.Add(t)
		p.block(t.Box())
	}
}

func (d *diagram) left() float64 {
	x := math.Inf(1)
	for i := range d.at {
		if d.at[i].Y > d.lone {
			x = math.Min(x, d.box(i).X0)
		}
	}
	return x
}

// line joins two stations from box to box, bent around the boxes of others where it
// can be.
func (d *diagram) line(a, b int) []scene.Point {
	if a > b {
		line := slices.Clone(d.line(b, a))
		slices.Reverse(line)
		return line
	}
	key := [2]int{a, b}
	if line, ok := d.lines[key]; ok {
		return line
	}
	best, fewest := d.bent(a, b, 0), 0
	if len(d.v.Edges) <= bentUpTo {
		fewest = d.hidden(best, a, b)
	}
	for _, bend := range []float64{0.06, -0.06, 0.12, -0.12, 0.2, -0.2} {
		if fewest == 0 {
			break
		}
		line := d.bent(a, b, bend)
		if n := d.hidden(line, a, b); n < fewest {
			best, fewest = line, n
		}
	}
	if d.lines == nil {
		d.lines = map[[2]int][]scene.Point{}
	}
	d.lines[key] = best
	return best
}

// bentUpTo is up to how many links they are bent: with more there is no way around.
const bentUpTo = 150

// bent is a line from box to box that leaves the straight one by a share of its
// length.
func (d *diagram) bent(a, b int, bend float64) []scene.Point {
	p, q := d.at[a], d.at[b]
	length := math.Hypot(q.X-p.X, q.Y-p.Y)
	if length < 1e-6 {
		return []scene.Point{p, q}
	}
	mid := scene.Point{X: (p.X+q.X)/2 - 2*bend*(q.Y-p.Y), Y: (p.Y+q.Y)/2 + 2*bend*(q.X-p.X)}
	towards := func(at scene.Point) scene.Point {
		r := math.Hypot(mid.X-at.X, mid.Y-at.Y)
		return scene.Point{X: (mid.X - at.X) / r, Y: (mid.Y - at.Y) / r}
	}
	from, _ := leave(d.box(a), p, towards(p))
	to, _ := leave(d.box(b), q, towards(q))
	if bend == 0 {
		return []scene.Point{from, to}
	}
	line := make([]scene.Point, 9+int(length/22))
	for i := range line {
		t := float64(i) / float64(len(line)-1)
		u := 1 - t
		line[i] = scene.Point{X: u*u*from.X + 2*u*t*mid.X + t*t*to.X, Y: u*u*from.Y + 2*u*t*mid.Y + t*t*to.Y}
	}
	return line
}

// hidden counts the boxes of other stations that hide a part of a line, and its
// leaving the room of all boxes.
func (d *diagram) hidden(line []scene.Point, a, b int) (n int) {
	room := bounds(d.at, d.size).Grow(6)
	for _, p := range line {
		if !(scene.Box{X0: p.X, Y0: p.Y, X1: p.X, Y1: p.Y}).Within(room) {
			n++
			break
		}
	}
	for i := range d.at {
		if i == a || i == b {
			continue
		}
		box := d.box(i).Grow(2)
		for k := 1; k < len(line); k++ {
			if crosses(line[k-1], line[k], box) {
				n++
				break
			}
		}
	}
	return n
}

func (d *diagram) station(i int) {
	n := &d.v.Nodes[i]
	box := d.box(i)
	style := scene.Style{Fill: paper, Stroke: ink, Width: 1.3}
	fill, cut := ink, 3.0
	switch {
	case n.Single:
		style.Fill, fill, cut = ink, paper, 9
	case n.Note != "":
		style.Dash = []float64{3, 2.5}
	}
	if c := d.v.Chain; c != nil && (c.Stations[0] == i || c.Stations[len(c.Stations)-1] == i) {
		d.s.Add(scene.Rectangle(box.Grow(4), cut+2, scene.Style{Fill: chosen, Stroke: scene.None}))
	}
	d.s.Add(scene.Rectangle(box, cut, style))
	y := d.at[i].Y + 0.36*labelSize
	if n.Note != "" {
		y -= 6
		d.s.Add(&scene.Text{At: scene.Point{X: d.at[i].X, Y: y + 12.5}, Anchor: scene.Middle, Size: smallSize, Fill: fill, Halo: scene.None, String: n.Note})
	}
	d.s.Add(&scene.Text{At: scene.Point{X: d.at[i].X, Y: y}, Anchor: scene.Middle, Size: labelSize, Bold: n.Single, Fill: fill, Halo: scene.None, String: n.Call})
}

// figures writes the chances beside the links, the best first, where there is room.
func (d *diagram) figures(p *placer) {
	links := byChance(d.v.Edges)
	for k := len(links) - 1; k >= 0; k-- {
		e := links[k]
		line := d.line(e.From, e.To)
		text := view.Percents(e.Decode)
		w, h := scene.Measure(text, smallSize, false), (scene.Ascent+scene.Descent)*smallSize
		for _, share := range []float64{0.45, 0.38, 0.52, 0.3, 0.68, 0.24, 0.76} {
			at, _ := along(line, share)
			b := scene.Box{X0: at.X - w/2, Y0: at.Y - h/2, X1: at.X + w/2, Y1: at.Y + h/2}
			if p.free(b) {
				p.block(b)
				label(d.s, b, text, smallSize, false)
				break
			}
		}
	}
}

// boxEntries explain the boxes that occur.
func boxEntries(v *view.Drawing) []entry {
	var plain, single, note bool
	for i := range v.Nodes {
		n := &v.Nodes[i]
		plain = plain || !n.Single && n.Note == ""
		single = single || n.Single
		note = note || n.Note != "" && !n.Single
	}
	draw := func(style scene.Style, cut float64) func(*scene.Scene, scene.Point) {
		return func(s *scene.Scene, at scene.Point) {
			s.Add(scene.Rectangle(scene.Box{X0: at.X - 16, Y0: at.Y - 7, X1: at.X + 16, Y1: at.Y + 7}, cut, style))
		}
	}
	var out []entry
	if plain {
		out = append(out, entry{draw(scene.Style{Fill: paper, Stroke: ink, Width: 1.3}, 3), "station"})
	}
	if single {
		out = append(out, entry{draw(scene.Style{Fill: ink, Stroke: ink, Width: 1.3}, 6), "its loss cuts others off"})
	}
	if note {
		out = append(out, entry{draw(scene.Style{Fill: paper, Stroke: ink, Width: 1.3, Dash: []float64{3, 2.5}}, 3), "isolated, deaf, unheard, unknown or off the air, as it says"})
	}
	if len(v.Groups) > 0 && len(v.Groups[0]) > 1 {
		out = append(out, entry{draw(scene.Style{Fill: 0xf6f6f4, Stroke: faint, Width: 1.2}, 5), "a frame holds stations that reach each other both ways"})
	}
	return out
}

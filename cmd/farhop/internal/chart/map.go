package chart

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"

	"farhop/cmd/farhop/internal/globe"
	"farhop/cmd/farhop/internal/scene"
	"farhop/cmd/farhop/internal/view"
	"farhop/observations/locator"
)

// chartMap is a map being drawn.
type chartMap struct {
	v          *view.Drawing
	s          *scene.Scene
	projection *globe.Projection
	frame      scene.Box   // in the picture
	extent     globe.Frame // the same in km
	scale      float64     // units a km
	radius     float64     // of a mark
	placed     []int       // nodes that have a place
	at         map[int]scene.Point
	shift      map[int]scene.Point // how far marks were moved apart
	placer     *placer
	moved      bool
	light      bool // little ink and few bytes: coast lines alone, and in less detail
}

// Map draws the stations where they stand, in an azimuthal equidistant projection
// about v.Centre or the middle of the net.
func Map(v *view.Drawing) *scene.Scene {
	m := &chartMap{v: v, s: blank(v, "who hears whom"), at: map[int]scene.Point{}, shift: map[int]scene.Point{}}
	for i := range v.Nodes {
		if v.Nodes[i].Placed() {
			m.placed = append(m.placed, i)
		}
	}
	width := 924 * clamp(math.Sqrt(float64(len(m.placed))/70), 1, 2.2)
	m.s.Width = width + 2*margin
	top := heading(m.s, v, "who hears whom", width)
	m.aim(width, top+band)
	m.ground()
	m.rings()
	m.stand()
	m.links()
	m.middle()
	missing := m.labels()
	m.ringLabels()
	y := m.border()
	var more []string
	if m.moved {
		more = append(more, "Stations nearer to one another than their marks are drawn apart.")
	}
	if len(missing) > 0 {
		more = append(more, "No room for the names of "+view.Names(missing)+".")
	}
	more = append(more, "Coast lines: Natural Earth, public domain; for orientation only.")
	m.s.Height = legend(m.s, y, width, append(stationEntries(v), linkEntries(v)...), notes(v, more...))
	return m.s
}

// band is the strip around the map that holds the bearings.
const band = 16.0

// aim chooses the projection, what it shows and how large.
func (m *chartMap) aim(width, top float64) {
	positions := make([]locator.Position, len(m.placed))
	for i, n := range m.placed {
		positions[i] = m.position(n)
	}
	centre := globe.Middle(positions)
	if m.v.Centre >= 0 {
		centre = m.position(m.v.Centre)
	}
	m.projection = globe.NewProjection(centre)
	e := globe.Frame{}
	for _, p := range positions {
		q := m.projection.Project(p)
		e = globe.Frame{X0: min(e.X0, q.X), Y0: min(e.Y0, q.Y), X1: max(e.X1, q.X), Y1: max(e.Y1, q.Y)}
	}
	w, h := math.Max(e.X1-e.X0, 8), math.Max(e.Y1-e.Y0, 8)
	mid := globe.Place{X: (e.X0 + e.X1) / 2, Y: (e.Y0 + e.Y1) / 2}
	inner := width - 2*band
	height := inner * clamp(h/w, 0.55, 0.92)
	// Labels need room at the sides whatever the scale.
	m.scale = math.Min((inner-170)/w, (height-90)/h)
	m.frame = scene.Box{X0: margin + band, Y0: top, X1: margin + band + inner, Y1: top + height}
	m.extent = globe.Frame{
		X0: mid.X - inner/2/m.scale, X1: mid.X + inner/2/m.scale, Y0: mid.Y - height/2/m.scale, Y1: mid.Y + height/2/m.scale,
	}
	m.radius = 7
	if len(m.placed) > 90 {
		m.radius = 6
	}
	m.placer = newPlacer(m.frame.Grow(-3))
}

func (m *chartMap) position(node int) locator.Position {
	return locator.Position{Lat: m.v.Nodes[node].Lat, Lon: m.v.Nodes[node].Lon}
}

// point is a place in the picture.
func (m *chartMap) point(p globe.Place) scene.Point {
	return scene.Point{X: m.frame.X0 + (p.X-m.extent.X0)*m.scale, Y: m.frame.Y0 + (p.Y-m.extent.Y0)*m.scale}
}

func (m *chartMap) line(places []globe.Place) []scene.Point {
	out := make([]scene.Point, len(places))
	for i, p := range places {
		out[i] = m.point(p)
	}
	return out
}

// ground draws land and coasts.
func (m *chartMap) ground() {
	detail := 0.6
	if m.light {
		detail = 3
	}
	areas, coasts := m.projection.Land(m.extent, detail/m.scale)
	if m.light {
		areas = nil
	}
	fill := &scene.Path{Closed: true, Style: scene.Style{Fill: land, Stroke: scene.None}}
	for _, a := range areas {
		fill.Lines = append(fill.Lines, m.line(a))
	}
	shore := &scene.Path{Style: scene.Style{Fill: scene.None, Stroke: coast, Width: 0.7}}
	for _, c := range coasts {
		shore.Lines = append(shore.Lines, m.line(c))
	}
	if len(fill.Lines) > 0 {
		m.s.Add(fill)
	}
	if len(shore.Lines) > 0 {
		m.s.Add(shore)
	}
}

// step is a round length of which about four make the given one.
func step(length float64) float64 {
	raw := length / 4
	unit := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, f := range []float64{1, 2, 5} {
		if f*unit >= raw {
			return f * unit
		}
	}
	return 10 * unit
}

// ringStep is the distance between range rings in km.
func (m *chartMap) ringStep() float64 {
	far := 4.0
	for _, n := range m.placed {
		far = max(far, locator.Distance(m.projection.Centre(), m.position(n)))
	}
	return step(far)
}

// ringsDrawn are the radii of the rings in km that cross the map.
func (m *chartMap) ringsDrawn() (out []float64) {
	far := 0.0
	for _, x := range []float64{m.extent.X0, m.extent.X1} {
		for _, y := range []float64{m.extent.Y0, m.extent.Y1} {
			far = max(far, math.Hypot(x, y))
		}
	}
	d := m.ringStep()
	for r := d; r < min(far, math.Pi*locator.EarthRadius); r += d {
		out = append(out, r)
	}
	return out
}

// rings draws what is equally far from the centre.
func (m *chartMap) rings() {
	p := &scene.Path{Style: scene.Style{Fill: scene.None, Stroke: faint, Width: 0.8, Dash: []float64{1, 3}}}
	for _, r := range m.ringsDrawn() {
		var circle []globe.Place
		steps := 180
		if m.light {
			steps = 36
		}
		for k := range steps + 1 {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / float64(steps))
			circle = append(circle, globe.Place{X: r * cos, Y: r * sin})
		}
		for _, part := range m.extent.Line(circle) {
			p.Lines = append(p.Lines, m.line(part))
		}
	}
	m.s.Add(p)
}

// middle marks the centre where no station does, over the links, so that it is found.
func (m *chartMap) middle() {
	if m.v.Centre >= 0 {
		return
	}
	const arm = 5.0
	c := m.point(globe.Place{})
	plus := [][]scene.Point{{{X: c.X - arm, Y: c.Y}, {X: c.X + arm, Y: c.Y}}, {{X: c.X, Y: c.Y - arm}, {X: c.X, Y: c.Y + arm}}}
	m.s.Add(&scene.Path{Lines: plus, Style: scene.Style{Fill: scene.None, Stroke: paper, Width: 4}},
		&scene.Path{Lines: plus, Style: scene.Style{Fill: scene.None, Stroke: quiet, Width: 1.4}})
}

// stand settles where the marks are.
func (m *chartMap) stand() {
	at := make([]scene.Point, len(m.placed))
	radius := make([]float64, len(m.placed))
	for i, n := range m.placed {
		at[i] = m.point(m.projection.Project(m.position(n)))
		radius[i] = m.reach(n)
	}
	apart(at, radius, 1, m.frame)
	for i, n := range m.placed {
		real := m.point(m.projection.Project(m.position(n)))
		m.at[n] = at[i]
		m.shift[n] = scene.Point{X: at[i].X - real.X, Y: at[i].Y - real.Y}
		m.moved = m.moved || math.Hypot(m.shift[n].X, m.shift[n].Y) > 2
		m.placer.block(scene.Box{X0: at[i].X - radius[i], Y0: at[i].Y - radius[i], X1: at[i].X + radius[i], Y1: at[i].Y + radius[i]})
	}
}

// arc is the great circle between two stations, its ends on their marks.
func (m *chartMap) arc(a, b int) [][]scene.Point {
	every := 20.0
	if m.light {
		every = 90
	}
	places := m.projection.Arc(m.position(a), m.position(b), max(every/m.scale, 1))
	n := float64(len(places) - 1)
	for i := range places {
		t := float64(i) / n
		places[i].X += ((1-t)*m.shift[a].X + t*m.shift[b].X) / m.scale
		places[i].Y += ((1-t)*m.shift[a].Y + t*m.shift[b].Y) / m.scale
	}
	var out [][]scene.Point
	for _, part := range m.extent.Line(places) {
		out = append(out, m.line(part))
	}
	return out
}

// links draws the links, the best on top, and the chosen chain over them.
func (m *chartMap) links() {
	style := newLinkStyle(m.v.Threshold, len(m.v.Edges))
	for _, e := range byChance(m.v.Edges) {
		if !m.v.Nodes[e.From].Placed() || !m.v.Nodes[e.To].Placed() {
			continue
		}
		for _, line := range m.arc(e.From, e.To) {
			drawLink(m.s, style, e, line)
			m.placer.shadow(line, style.rank(e.Decode)+0.3)
		}
	}
	c := m.v.Chain
	if c == nil || !c.Known {
		return
	}
	for i := 1; i < len(c.Stations); i++ {
		a, b := c.Stations[i-1], c.Stations[i]
		if !m.v.Nodes[a].Placed() || !m.v.Nodes[b].Placed() {
			continue
		}
		for _, line := range m.arc(a, b) {
			drawHop(m.s, line)
			m.placer.shadow(line, 3)
			mid, _ := along(line, 0.5)
			m.placer.block(scene.Box{X0: mid.X - 8, Y0: mid.Y - 8, X1: mid.X + 8, Y1: mid.Y + 8})
		}
	}
}

// byChance orders links from worst to best, those of equal chance as they are.
func byChance(edges []view.DrawnLink) []*view.DrawnLink {
	out := make([]*view.DrawnLink, len(edges))
	for i := range edges {
		out[i] = &edges[i]
	}
	slices.SortStableFunc(out, func(a, b *view.DrawnLink) int { return cmp.Compare(a.Decode, b.Decode) })
	return out
}

func (m *chartMap) marks() {
	group := m.v.GroupOf()
	for _, n := range m.placed {
		mark(m.s, m.at[n], kindOf(&m.v.Nodes[n]), group[n], m.radius)
	}
	if c := m.v.Chain; c != nil {
		for _, n := range []int{c.Stations[0], c.Stations[len(c.Stations)-1]} {
			if at, ok := m.at[n]; ok {
				m.s.Add(&scene.Circle{Centre: at, Radius: markRadius(kindOf(&m.v.Nodes[n]), m.radius) + 2.5, Style: scene.Style{Fill: scene.None, Stroke: chosen, Width: 2.5}})
			}
		}
	}
}

// labels draws marks and names, the crowded stations' first, and returns those for
// whose names there is no room.
func (m *chartMap) labels() (missing []string) {
	size := labelSize
	if len(m.placed) > 120 {
		size = 11
	}
	crowd := map[int]float64{}
	for _, a := range m.placed {
		for _, b := range m.placed {
			d := math.Hypot(m.at[a].X-m.at[b].X, m.at[a].Y-m.at[b].Y)
			crowd[a] += math.Exp(-d / 40)
		}
		if m.onChain(a) || m.v.Nodes[a].Single {
			crowd[a] += 100
		}
	}
	order := slices.Clone(m.placed)
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(crowd[b], crowd[a]) })
	type placed struct {
		node int
		box  scene.Box
		size float64
	}
	var all []placed
	for _, n := range order {
		node := &m.v.Nodes[n]
		bold := node.Single || m.onChain(n)
		r := m.reach(n)
		for _, f := range []float64{1, 0.85, 0.7} {
			w := scene.Measure(node.Call, f*size, bold)
			box, far, ok := m.placer.place(m.at[n], r, w, (scene.Ascent+scene.Descent)*f*size)
			if !ok {
				if f == 0.7 {
					missing = append(missing, node.Call)
				}
				continue
			}
			if far {
				leader(m.s, m.at[n], r, box)
			}
			all = append(all, placed{n, box, f * size})
			break
		}
	}
	m.marks()
	for _, p := range all {
		label(m.s, p.box, m.v.Nodes[p.node].Call, p.size, m.v.Nodes[p.node].Single || m.onChain(p.node))
	}
	slices.Sort(missing)
	return missing
}

// reach is how far a station's mark reaches, with the ring around an end of the chain.
func (m *chartMap) reach(node int) float64 {
	r := markRadius(kindOf(&m.v.Nodes[node]), m.radius)
	if c := m.v.Chain; c != nil && (node == c.Stations[0] || node == c.Stations[len(c.Stations)-1]) {
		r += 4
	}
	return r
}

func (m *chartMap) onChain(node int) bool {
	return m.v.Chain != nil && slices.Contains(m.v.Chain.Stations, node)
}

// ringLabels writes the distances where there is room.
func (m *chartMap) ringLabels() {
	for _, r := range m.ringsDrawn() {
		text := kilometres(r)
		w, h := scene.Measure(text, smallSize, false), (scene.Ascent+scene.Descent)*smallSize
		best, at := math.Inf(1), scene.Box{}
		for k := range 72 {
			sin, cos := math.Sincos(2*math.Pi*float64(k)/72 - 0.3)
			c := m.point(globe.Place{X: r * cos, Y: r * sin})
			b := scene.Box{X0: c.X - w/2, Y0: c.Y - h/2, X1: c.X + w/2, Y1: c.Y + h/2}
			if !m.placer.free(b) {
				continue
			}
			if cost := m.placer.covered(b) + 0.004*float64(k); cost < best {
				best, at = cost, b
			}
		}
		if math.IsInf(best, 1) {
			continue
		}
		m.placer.block(at)
		m.s.Add(&scene.Text{At: scene.Point{X: at.X0, Y: at.Y0 + scene.Ascent*smallSize}, Size: smallSize, Fill: quiet, Halo: paper, String: text})
	}
}

// border draws the frame, the bearings around it, and the strip with scale and
// north below, and returns where the legend may begin.
func (m *chartMap) border() float64 {
	m.s.Add(scene.Rectangle(m.frame, 0, scene.Style{Fill: scene.None, Stroke: ink, Width: 1.2}))
	var boxes []scene.Box
	ticks := &scene.Path{Style: scene.Style{Fill: scene.None, Stroke: ink, Width: 1}}
	c := m.point(globe.Place{})
	if c.X > m.frame.X0 && c.X < m.frame.X1 && c.Y > m.frame.Y0 && c.Y < m.frame.Y1 {
		for bearing := 0; bearing < 360; bearing += 10 {
			sin, cos := math.Sincos(float64(bearing) * math.Pi / 180)
			at, out := leave(m.frame, c, scene.Point{X: sin, Y: -cos})
			length := 3.0
			if bearing%30 == 0 {
				length = 5
				text := fmt.Sprintf("%03d°", bearing)
				t := &scene.Text{Size: smallSize, Fill: quiet, Halo: scene.None, String: text, Anchor: scene.Middle, At: scene.Point{X: at.X + out.X*8, Y: at.Y + out.Y*8}}
				switch {
				case out.Y < 0:
					t.At.Y = at.Y - 6
				case out.Y > 0:
					t.At.Y = at.Y + 14
				default:
					t.Up = true
					t.At.X = at.X - 6
					if out.X > 0 {
						t.At.X = at.X + 14
					}
				}
				if box := t.Box(); box.Within(m.frame.Grow(band+2)) && !slices.ContainsFunc(boxes, box.Grow(2).Overlaps) {
					boxes = append(boxes, box)
					m.s.Add(t)
				}
			}
			ticks.Lines = append(ticks.Lines, []scene.Point{at, {X: at.X + out.X*length, Y: at.Y + out.Y*length}})
		}
	}
	m.s.Add(ticks)
	return m.strip(m.frame.Y1 + band + 8)
}

// leave is where a ray from a point in the box meets its side, and which way is
// out there.
func leave(b scene.Box, from, dir scene.Point) (at, out scene.Point) {
	best := math.Inf(1)
	try := func(t float64, o scene.Point) {
		if t > 0 && t < best {
			best, out = t, o
		}
	}
	if math.Abs(dir.X) > 1e-9 {
		try((b.X1-from.X)/dir.X, scene.Point{X: 1})
		try((b.X0-from.X)/dir.X, scene.Point{X: -1})
	}
	if math.Abs(dir.Y) > 1e-9 {
		try((b.Y1-from.Y)/dir.Y, scene.Point{Y: 1})
		try((b.Y0-from.Y)/dir.Y, scene.Point{Y: -1})
	}
	return scene.Point{X: from.X + best*dir.X, Y: from.Y + best*dir.Y}, out
}

// strip draws scale, centre and north.
func (m *chartMap) strip(y float64) float64 {
	km := step(4 * 190 / m.scale)
	for km*m.scale > 230 {
		km /= 2
	}
	x, w := m.frame.X0, km*m.scale
	mid := y + 7
	s := m.s
	for i := range 4 {
		style := scene.Style{Fill: ink, Stroke: ink, Width: 0.8}
		if i%2 == 1 {
			style.Fill = paper
		}
		s.Add(scene.Rectangle(scene.Box{X0: x + w*float64(i)/4, Y0: mid - 3, X1: x + w*float64(i+1)/4, Y1: mid + 3}, 0, style))
	}
	text := func(x float64, anchor scene.Anchor, str string) {
		s.Add(&scene.Text{At: scene.Point{X: x, Y: mid + 0.36*textSize}, Anchor: anchor, Size: textSize, Fill: ink, Halo: scene.None, String: str})
	}
	scaleText := kilometres(km)
	text(x+w+8, scene.Start, scaleText)
	north := scene.Point{X: m.frame.X1 - 8, Y: mid}
	s.Add(&scene.Path{
		Lines:  [][]scene.Point{{{X: north.X, Y: north.Y - 9}, {X: north.X + 5, Y: north.Y + 8}, {X: north.X, Y: north.Y + 4}, {X: north.X - 5, Y: north.Y + 8}}},
		Closed: true, Style: scene.Style{Fill: ink, Stroke: scene.None},
	})
	text(north.X-12, scene.End, "N")
	room := north.X - 12 - scene.Measure("N", textSize, false) - 24 - (x + w + 8 + scene.Measure(scaleText, textSize, false) + 24)
	text(north.X-12-scene.Measure("N", textSize, false)-20, scene.End, scene.Cut(m.centreText(), textSize, false, room))
	return y + 30
}

func (m *chartMap) centreText() string {
	name := "the middle of the net"
	if m.v.Centre >= 0 {
		name = m.v.Nodes[m.v.Centre].Call
	}
	return fmt.Sprintf("distances and bearings are true from %s (+), rings every %s", name, kilometres(m.ringStep()))
}

// kilometres writes a round distance.
func kilometres(km float64) string {
	if km >= 1000 {
		return view.Grouped(int(km)) + " km"
	}
	return strconv.FormatFloat(km, 'g', 4, 64) + " km"
}

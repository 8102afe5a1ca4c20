package chart

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"farhop/cmd/farhop/internal/scene"
	"farhop/cmd/farhop/internal/view"
)

// printedUpTo is how many stations there may be for chances to be printed.
const printedUpTo = 40

// matrix is a matrix being drawn.
type matrix struct {
	v     *view.Drawing
	s     *scene.Scene
	order []int
	group []int
	cell  float64
	label float64 // size of names
	x, y  float64 // corner of the first cell
	print bool
}

// Matrix draws a cell for every direction: rows receive, columns send. Groups stand
// together, so that they show as blocks on the diagonal.
func Matrix(v *view.Drawing) *scene.Scene {
	n := len(v.Nodes)
	m := &matrix{v: v, s: blank(v, "who hears whom, direction by direction"), group: v.GroupOf(), order: matrixOrder(v), print: n <= printedUpTo}
	m.cell = clamp(1500/float64(max(n, 1)), 8, 18)
	if m.print {
		m.cell = clamp(820/float64(max(n, 1)), 24, 40)
	}
	m.label = math.Min(labelSize, m.cell*0.92)
	longest := 0.0
	for i := range v.Nodes {
		longest = math.Max(longest, scene.Measure(v.Nodes[i].Call, m.label, true))
	}
	side := m.cell * float64(n)
	marks := m.label + 10
	width := math.Max(924, longest+marks+26+side)
	m.s.Width = width + 2*margin
	top := heading(m.s, v, "who hears whom", width)
	m.x = margin + (width-longest-marks-26-side)/2 + longest + marks + 26
	m.y = top + longest + marks + 34
	m.names(top)
	m.cells()
	m.blocks()
	m.chain()
	m.s.Height = legend(m.s, m.y+side+20, width, append(m.entries(), stationEntries(v)...), notes(v, "Rows receive, columns send; each direction over its best channel."))
	return m.s
}

// matrixOrder keeps groups together, the largest first, and within a group what
// decodes well near the diagonal; stations in no group follow, those alike together.
func matrixOrder(v *view.Drawing) []int {
	var out, rest []int
	for _, g := range v.Groups {
		if len(g) == 1 {
			rest = append(rest, g...)
			continue
		}
		out = append(out, nearDiagonal(v, g)...)
	}
	slices.SortStableFunc(rest, func(a, b int) int {
		return cmp.Or(cmp.Compare(kindOf(&v.Nodes[a]), kindOf(&v.Nodes[b])), cmp.Compare(v.Nodes[a].Note, v.Nodes[b].Note))
	})
	return append(out, rest...)
}

// nearDiagonal orders the members of a group: each next is the one that decodes best
// with the last, then neighbours change places as long as that brings strong links
// nearer to the diagonal.
func nearDiagonal(v *view.Drawing, members []int) []int {
	n := len(members)
	tie := make([][]float64, n)
	sum := make([]float64, n)
	for a := range tie {
		tie[a] = make([]float64, n)
		for b := range tie[a] {
			tie[a][b] = v.Cells[members[a]][members[b]].Tie() + v.Cells[members[b]][members[a]].Tie()
			sum[a] += tie[a][b]
		}
	}
	order, used := make([]int, 0, n), make([]bool, n)
	for len(order) < n {
		best := -1
		score := func(i int) float64 {
			if len(order) == 0 {
				return -sum[i] // begin at an end
			}
			return tie[i][order[len(order)-1]]
		}
		for i := range n {
			if !used[i] && (best < 0 || score(i) > score(best)+1e-12) {
				best = i
			}
		}
		used[best] = true
		order = append(order, best)
	}
	improve(order, tie)
	out := make([]int, n)
	for k, i := range order {
		out[k] = members[i]
	}
	return out
}

// improve lowers the sum of tie × distance in the order by moving one member at a
// time past its neighbours, as far as it pays, until nothing helps or after a fixed
// number of rounds.
func improve(order []int, tie [][]float64) {
	n := len(order)
	// gain of exchanging the neighbours at k and k+1
	gain := func(k int) float64 {
		a, b := order[k], order[k+1]
		g := 0.0
		for j, o := range order {
			switch {
			case j < k:
				g += tie[b][o] - tie[a][o]
			case j > k+1:
				g += tie[a][o] - tie[b][o]
			}
		}
		return g
	}
	// carry takes the member at k in steps as long as in sum it may pay, and leaves
	// it where it paid most.
	carry := func(k, dir int) bool {
		best, bestAt, total, at := 1e-9, k, 0.0, k
		for at+dir >= 0 && at+dir < n {
			total += gain(min(at, at+dir))
			order[at], order[at+dir] = order[at+dir], order[at]
			at += dir
			if total > best {
				best, bestAt = total, at
			}
		}
		moved := order[at]
		for ; at != bestAt; at -= dir {
			order[at] = order[at-dir]
		}
		order[bestAt] = moved
		return bestAt != k
	}
	rounds := max(1, 40_000_000/(n*n*n+1))
	for range min(rounds, 30) {
		better := false
		for k := range n {
			if carry(k, 1) || carry(k, -1) {
				better = true
			}
		}
		if !better {
			return
		}
	}
}

func (m *matrix) names(top float64) {
	r := clamp(m.cell*0.36, 2.5, 7)
	for k, i := range m.order {
		n := &m.v.Nodes[i]
		mid := (float64(k) + 0.5) * m.cell
		bold := n.Single
		base := 0.36 * m.label
		mark(m.s, scene.Point{X: m.x - 6 - r*1.6, Y: m.y + mid}, kindOf(n), m.group[i], r)
		mark(m.s, scene.Point{X: m.x + mid, Y: m.y - 6 - r*1.6}, kindOf(n), m.group[i], r)
		m.s.Add(&scene.Text{At: scene.Point{X: m.x - 12 - r*3.2, Y: m.y + mid + base}, Anchor: scene.End, Size: m.label, Bold: bold, Fill: ink, Halo: scene.None, String: n.Call},
			&scene.Text{At: scene.Point{X: m.x + mid + base, Y: m.y - 12 - r*3.2}, Up: true, Size: m.label, Bold: bold, Fill: ink, Halo: scene.None, String: n.Call})
	}
	m.s.Add(&scene.Text{At: scene.Point{X: m.x, Y: top + textSize}, Size: textSize, Bold: true, Fill: quiet, Halo: scene.None, String: "these send ↓"},
		&scene.Text{At: scene.Point{X: margin, Y: m.y - 8}, Size: textSize, Bold: true, Fill: quiet, Halo: scene.None, String: "these hear →"})
}

func (m *matrix) box(row, column int) scene.Box {
	x, y := m.x+float64(column)*m.cell, m.y+float64(row)*m.cell
	return scene.Box{X0: x, Y0: y, X1: x + m.cell, Y1: y + m.cell}
}

// closedBand is the colour of the bands through closed cells.
const closedBand scene.Colour = 0xc2c2c2

// staleCorner marks cells with old evidence, on dark and on light ones.
var staleCorner = scene.Style{Fill: paper, Stroke: ink, Width: 0.8}

// levels is how many shades are told apart.
const levels = 20

// cells draws all cells, those alike as one shape.
func (m *matrix) cells() {
	n := len(m.order)
	hatch := &scene.Path{Style: scene.Style{Fill: scene.None, Stroke: faint, Width: 0.8}}
	self := &scene.Path{Closed: true, Style: scene.Style{Fill: hair, Stroke: scene.None}}
	closed := &scene.Path{Closed: true, Style: scene.Style{Fill: closedBand, Stroke: scene.None}}
	stale := &scene.Path{Closed: true, Style: staleCorner}
	open := make([]*scene.Path, levels+1)
	var texts []scene.Item
	for r, i := range m.order {
		for c, j := range m.order {
			b := m.box(r, c)
			cell := &m.v.Cells[i][j]
			switch {
			case i == j:
				self.Lines = append(self.Lines, square(b, 0))
			case cell.State == view.CellUnknown:
				if m.print {
					hatch.Lines = append(hatch.Lines, hatching(b, true)...)
				}
			case cell.State == view.CellClosed:
				if m.print {
					texts = append(texts, m.figure(b, cell.Decode, quiet))
				}
			case cell.State == view.CellOpen:
				k := int(math.Round(clamp(cell.Decode, 0, 1) * levels))
				if open[k] == nil {
					open[k] = &scene.Path{Closed: true, Style: scene.Style{Fill: shade(float64(k) / levels), Stroke: scene.None}}
				}
				open[k].Lines = append(open[k].Lines, square(b, 0.4))
				if m.print {
					texts = append(texts, m.figure(b, cell.Decode, on(open[k].Fill)))
				}
				if cell.Stale {
					d := m.cell * 0.27
					stale.Lines = append(stale.Lines, []scene.Point{{X: b.X1 - d, Y: b.Y0}, {X: b.X1, Y: b.Y0}, {X: b.X1, Y: b.Y0 + d}})
				}
			}
		}
	}
	if !m.print {
		closed.Lines, hatch.Lines = m.closedRuns(), m.unknownRuns()
	}
	grid := &scene.Path{Style: scene.Style{Fill: scene.None, Stroke: hair, Width: 0.6}}
	side := m.cell * float64(n)
	for k := range n + 1 {
		d := float64(k) * m.cell
		grid.Lines = append(grid.Lines, []scene.Point{{X: m.x + d, Y: m.y}, {X: m.x + d, Y: m.y + side}}, []scene.Point{{X: m.x, Y: m.y + d}, {X: m.x + side, Y: m.y + d}})
	}
	for _, p := range append([]*scene.Path{grid, self, closed, hatch}, append(open, stale)...) {
		if p != nil && len(p.Lines) > 0 {
			m.s.Add(p)
		}
	}
	m.s.Add(texts...)
}

// closedRuns are bands through neighbouring closed cells of a row.
func (m *matrix) closedRuns() (out [][]scene.Point) {
	n := len(m.order)
	for r, i := range m.order {
		for c := 0; c < n; {
			from := c
			for c < n && m.v.Cells[i][m.order[c]].State == view.CellClosed {
				c++
			}
			if c > from {
				a, b := m.box(r, from), m.box(r, c-1)
				out = append(out, square(scene.Box{X0: a.X0, Y0: a.Y0 + 0.36*m.cell, X1: b.X1, Y1: b.Y1 - 0.36*m.cell}, 0))
			} else {
				c++
			}
		}
	}
	return out
}

// unknownRuns are slanting lines through unknown cells that touch at their corners.
func (m *matrix) unknownRuns() (out [][]scene.Point) {
	n := len(m.order)
	for d := range 2*n - 1 {
		r := min(d, n-1)
		for r >= 0 && d-r < n {
			from := r
			for r >= 0 && d-r < n && m.v.Cells[m.order[r]][m.order[d-r]].State == view.CellUnknown {
				r--
			}
			if r == from {
				r--
				continue
			}
			a, b := m.box(from, d-from), m.box(r+1, d-r-1)
			out = append(out, []scene.Point{{X: a.X0, Y: a.Y1}, {X: b.X1, Y: b.Y0}})
		}
	}
	return out
}

func (m *matrix) figure(b scene.Box, decode float64, colour scene.Colour) *scene.Text {
	size := math.Min(11, m.cell*0.4)
	return &scene.Text{At: scene.Point{X: b.Centre().X, Y: b.Centre().Y + 0.36*size}, Anchor: scene.Middle, Size: size, Fill: colour, Halo: scene.None, String: view.Percents(decode)}
}

func square(b scene.Box, inset float64) []scene.Point {
	b = b.Grow(-inset)
	return []scene.Point{{X: b.X0, Y: b.Y0}, {X: b.X1, Y: b.Y0}, {X: b.X1, Y: b.Y1}, {X: b.X0, Y: b.Y1}}
}

// hatching is slanting lines across a box: three of them, or one where it is small.
func hatching(b scene.Box, many bool) [][]scene.Point {
	w := b.Width()
	out := [][]scene.Point{{{X: b.X0, Y: b.Y1}, {X: b.X1, Y: b.Y0}}}
	if many {
		out = append(out, []scene.Point{{X: b.X0, Y: b.Y0 + w/2}, {X: b.X0 + w/2, Y: b.Y0}}, []scene.Point{{X: b.X0 + w/2, Y: b.Y1}, {X: b.X1, Y: b.Y0 + w/2}})
	}
	return out
}

// blocks frames each group.
func (m *matrix) blocks() {
	for from := 0; from < len(m.order); {
		to := from + 1
		for to < len(m.order) && m.group[m.order[to]] == m.group[m.order[from]] {
			to++
		}
		if m.group[m.order[from]] > 0 {
			a, b := m.box(from, from), m.box(to-1, to-1)
			m.s.Add(scene.Rectangle(scene.Box{X0: a.X0, Y0: a.Y0, X1: b.X1, Y1: b.Y1}, 0, scene.Style{Fill: scene.None, Stroke: ink, Width: 2}))
		}
		from = to
	}
}

// chain frames the cells of the chosen chain.
func (m *matrix) chain() {
	c := m.v.Chain
	if c == nil || !c.Known {
		return
	}
	for k := 1; k < len(c.Stations); k++ {
		b := m.box(slices.Index(m.order, c.Stations[k]), slices.Index(m.order, c.Stations[k-1]))
		m.s.Add(scene.Rectangle(b.Grow(1.5), 0, scene.Style{Fill: scene.None, Stroke: paper, Width: 5}),
			scene.Rectangle(b.Grow(1.5), 0, scene.Style{Fill: scene.None, Stroke: chosen, Width: 3}))
	}
}

// entries explain the cells.
func (m *matrix) entries() []entry {
	box := func(at scene.Point) scene.Box {
		return scene.Box{X0: at.X - 15, Y0: at.Y - 7.5, X1: at.X + 15, Y1: at.Y + 7.5}
	}
	open := func(decode float64, stale bool) func(*scene.Scene, scene.Point) {
		return func(s *scene.Scene, at scene.Point) {
			b := box(at)
			s.Add(scene.Rectangle(b, 0, scene.Style{Fill: shade(decode), Stroke: scene.None}))
			s.Add(&scene.Text{At: scene.Point{X: at.X, Y: at.Y + 4}, Anchor: scene.Middle, Size: 10.5, Fill: on(shade(decode)), Halo: scene.None, String: view.Percents(decode)})
			if stale {
				s.Add(&scene.Path{Lines: [][]scene.Point{{{X: b.X1 - 7, Y: b.Y0}, {X: b.X1, Y: b.Y0}, {X: b.X1, Y: b.Y0 + 7}}}, Closed: true, Style: staleCorner})
			}
		}
	}
	var seen [4]bool
	var old bool
	for i := range m.v.Cells {
		for j := range m.v.Cells[i] {
			seen[m.v.Cells[i][j].State] = seen[m.v.Cells[i][j].State] || i != j
			old = old || m.v.Cells[i][j].State == view.CellOpen && m.v.Cells[i][j].Stale
		}
	}
	t := m.v.Threshold
	out := []entry{
		{open(1, false), "open: chance in per cent that a frame decodes"},
		{open(t, false), "open from " + view.Percent(t)},
	}
	if old {
		out = append(out, entry{open((1+t)/2, true), "open, newest evidence over " + view.Age(view.StaleAfter) + " old"})
	}
	if seen[view.CellClosed] {
		out = append(out, entry{func(s *scene.Scene, at scene.Point) {
			b := box(at)
			s.Add(scene.Rectangle(b, 0, scene.Style{Fill: paper, Stroke: hair, Width: 0.8}))
			if m.print {
				s.Add(&scene.Text{At: scene.Point{X: at.X, Y: at.Y + 4}, Anchor: scene.Middle, Size: 10.5, Fill: quiet, Halo: scene.None, String: strconv.Itoa(int(20 * t))})
			} else {
				s.Add(scene.Rectangle(scene.Box{X0: b.X0, Y0: at.Y - 2.5, X1: b.X1, Y1: at.Y + 2.5}, 0, scene.Style{Fill: closedBand, Stroke: scene.None}))
			}
		}, "closed: known, but below that"})
	}
	if seen[view.CellUnknown] {
		out = append(out, entry{func(s *scene.Scene, at scene.Point) {
			b := box(at)
			s.Add(scene.Rectangle(b, 0, scene.Style{Fill: paper, Stroke: hair, Width: 0.8}))
			p := &scene.Path{Style: scene.Style{Fill: scene.None, Stroke: faint, Width: 0.8}}
			for k := range 2 {
				x := b.X0 + 15*float64(k)
				p.Lines = append(p.Lines, hatching(scene.Box{X0: x, Y0: b.Y0, X1: x + 15, Y1: b.Y1}, false)...)
			}
			s.Add(p)
		}, "unknown: too little evidence"})
	}
	if seen[view.CellNone] {
		out = append(out, entry{func(s *scene.Scene, at scene.Point) {
			s.Add(scene.Rectangle(box(at), 0, scene.Style{Fill: paper, Stroke: hair, Width: 0.8}))
		}, "empty: one end is off the air, or they watch no common channel"})
	}
	return out
}

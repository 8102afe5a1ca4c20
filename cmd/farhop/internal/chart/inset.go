package chart

import (
	"slices"

	"farhop/cmd/farhop/internal/scene"
	"farhop/cmd/farhop/internal/view"
)

// Inset draws a map to stand in a text: no heading, legend or bearings, the hops given
// on top of the links. With hops it is a light one: coast lines coarse, and among many
// stations only those at the ends of hops and links have names. It is nil when no
// station has a place.
func Inset(v *view.Drawing, title string, hops [][2]int, width float64) *scene.Scene {
	m := &chartMap{v: v, s: &scene.Scene{Title: title, Background: paper, Description: insetText(v, hops)}, at: map[int]scene.Point{}, shift: map[int]scene.Point{}}
	for i := range v.Nodes {
		if v.Nodes[i].Placed() {
			m.placed = append(m.placed, i)
		}
	}
	if len(m.placed) == 0 {
		return nil
	}
	m.s.Width = width
	m.light = len(hops) > 0
	m.aim(width-2*margin, 4)
	m.frame = scene.Box{X0: 4, X1: width - 4, Y0: 4, Y1: m.frame.Y1}
	half := m.frame.Width() / 2 / m.scale
	mid := (m.extent.X0 + m.extent.X1) / 2
	m.extent.X0, m.extent.X1 = mid-half, mid+half
	m.placer = newPlacer(m.frame.Grow(-3))
	m.ground()
	m.rings()
	m.stand()
	m.links()
	m.hops(hops)
	if len(hops) > 0 && len(m.placed) > namesAll {
		m.fade(hops)
	}
	m.labels()
	m.ringLabels()
	m.s.Add(scene.Rectangle(m.frame, 0, scene.Style{Fill: scene.None, Stroke: ink, Width: 1}))
	m.s.Height = m.frame.Y1 + 4
	return m.s
}

// namesAll is up to how many stations all have names on one station's map.
const namesAll = 24

// hops draws next hops.
func (m *chartMap) hops(hops [][2]int) {
	for _, h := range hops {
		if !m.v.Nodes[h[0]].Placed() || !m.v.Nodes[h[1]].Placed() {
			continue
		}
		for _, line := range m.arc(h[0], h[1]) {
			at, dir := along(line, 0.5)
			m.s.Add(scene.Line(chosen, 4, line...), arrow(at, dir, 8, chosen))
			m.placer.shadow(line, 3)
		}
	}
}

// fade turns stations that no hop or link touches into plain dots.
func (m *chartMap) fade(hops [][2]int) {
	touched := map[int]bool{}
	for _, h := range hops {
		touched[h[0]], touched[h[1]] = true, true
	}
	dots := &scene.Path{Closed: true, Style: scene.Style{Fill: quiet, Stroke: scene.None}}
	m.placed = slices.DeleteFunc(m.placed, func(n int) bool {
		if at := m.at[n]; !touched[n] {
			dots.Lines = append(dots.Lines, []scene.Point{{X: at.X - 3, Y: at.Y}, {X: at.X, Y: at.Y - 3}, {X: at.X + 3, Y: at.Y}, {X: at.X, Y: at.Y + 3}})
		}
		return !touched[n]
	})
	m.s.Add(dots)
}

// insetText says the gist of a map.
func insetText(v *view.Drawing, hops [][2]int) string {
	if len(hops) == 0 {
		return "Stations where they stand, open links between them. The tables beside it say the same in words."
	}
	var to []string
	for _, h := range hops {
		to = append(to, v.Nodes[h[1]].Call)
	}
	return v.Nodes[hops[0][0]].Call + " sends first to " + view.Names(to) + "."
}

package chart

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"farhop/cmd/farhop/internal/scene"
	"farhop/cmd/farhop/internal/view"
)

// sortedIndex is the order of the values, equal ones as they are.
func sortedIndex(values []float64) []int {
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(values[a], values[b]) })
	return order
}

// curve is one chain's chance of being there, by the minute.
type curve struct {
	name, via string
	chain     *view.Chain
	route     *view.Route
}

// mostCurves is how many chains are drawn.
const mostCurves = 6

// curveStyles tell curves apart by colour and by dashes.
var curveStyles = [mostCurves]scene.Style{
	{Fill: scene.None, Stroke: 0x0072b2, Width: 3.2},
	{Fill: scene.None, Stroke: 0xd55e00, Width: 2.4, Dash: []float64{9, 4}},
	{Fill: scene.None, Stroke: 0x1a1a1a, Width: 2, Dash: []float64{2.5, 3}},
	{Fill: scene.None, Stroke: 0x009e73, Width: 2.2, Dash: []float64{12, 3, 2.5, 3}},
	{Fill: scene.None, Stroke: 0x7a4a6a, Width: 2.2, Dash: []float64{5, 2.5}},
	{Fill: scene.None, Stroke: plainer, Width: 1.6},
}

// levels are the shares marked on an arrival curve.
var arrivalLevels = []float64{0.5, 0.8, 0.9}

const (
	arrivalHeight = 330.0
	labelRoom     = 248.0
	labelHeight   = 44.0
	breakWidth    = 44.0 // of the part of the axis that is left out
)

// Arrival draws the chance that the message is there against time, a curve for each
// chain, or with several destinations for the best chain to each. The curves are the
// exact distribution, slot by slot; what isn't there by the deadline is hatched.
func Arrival(routes view.Routes) *scene.Scene {
	curves, left := curvesOf(routes)
	r := routes[0]
	s, y := sheet(&r.Head, "when the message arrives", routes.Told(), sheetWidth)
	s.Add(write(margin, y+8, labelSize, ink, scene.Cut(asked(routes), labelSize, true, sheetWidth), strong))
	p := &plot{
		s: s, x1: horizon(curves, r.Deadline.Sub(r.Start).Minutes()), y1: 1,
		box: scene.Box{X0: margin + 38, Y0: y + 34, X1: margin + sheetWidth - labelRoom, Y1: y + 34 + arrivalHeight},
	}
	end := p.box.X1
	cut := p.x1 < r.Deadline.Sub(r.Start).Minutes()
	p.across(scene.Style{Fill: scene.None, Stroke: hair, Width: 0.8}, false, 0, 0.25, 1)
	p.across(scene.Style{Fill: scene.None, Stroke: coast, Width: 0.9, Dash: []float64{5, 4}}, true, arrivalLevels...)
	if cut {
		p.box.X1 -= breakWidth
	}
	p.clock(r.Start, p.x1, 9)
	p.frame()
	if cut {
		p.broken(end)
	}
	p.deadline(r, end)
	for i := len(curves) - 1; i >= 0; i-- {
		s.Add(&scene.Path{Lines: [][]scene.Point{p.steps(&curves[i], end)}, Style: curveStyles[i]})
	}
	p.marks(curves)
	p.box.X1 = end
	if len(routes) == 1 {
		p.pairMark(r)
		p.missed(curves)
	}
	p.ends(curves)
	if len(curves) == 0 {
		at := p.box.Centre()
		s.Add(write(at.X, at.Y, 15, ink, "No chain found by "+r.Clock.Short(r.Deadline), centred, strong, withHalo))
	}
	footing(s, &r.Head, p.box.Y1+34, sheetWidth, arrivalEntries(routes, curves), arrivalNotes(r, left)...)
	return s
}

// horizon is how far the time axis goes, in minutes: to the deadline, or not as far
// where long before it nothing happens any more.
func horizon(curves []curve, deadline float64) float64 {
	last := 0.0
	for i := range curves {
		c := &curves[i]
		for s, chance := range c.chain.Arrival {
			if chance < c.chain.DeliveredByDeadline-0.002 {
				last = math.Max(last, c.route.SlotEnd(s+1))
			}
		}
	}
	if last == 0 || last > 0.55*deadline {
		return deadline
	}
	step := 5.0
	for _, step = range tickSteps[2:] {
		if 1.1*last/step <= 9 {
			break
		}
	}
	return math.Min(deadline, math.Ceil(1.1*last/step)*step)
}

// broken draws the axis up to the deadline where a part of it is left out.
func (p *plot) broken(end float64) {
	mid, y := (p.box.X1+end)/2, p.box.Y1
	p.s.Add(scene.Line(ink, 1.2, scene.Point{X: p.box.X1, Y: y}, scene.Point{X: mid - 4, Y: y}),
		scene.Line(ink, 1.2, scene.Point{X: mid + 4, Y: y}, scene.Point{X: end, Y: y}),
		scene.Line(ink, 1.2, scene.Point{X: mid - 8, Y: y + 7}, scene.Point{X: mid, Y: y - 7}),
		scene.Line(ink, 1.2, scene.Point{X: mid, Y: y + 7}, scene.Point{X: mid + 8, Y: y - 7}))
}

// asked says what is to be sent.
func asked(routes view.Routes) string {
	r := routes[0]
	to := make([]string, len(routes))
	for i := range routes {
		to[i] = routes[i].To
	}
	return fmt.Sprintf("%s%s%s: %s, %s, by %s", r.From, view.Arrow, strings.Join(to, ", "),
		view.Count(r.Characters, "character", "characters"), view.Count(r.Frames, "frame", "frames"), r.Clock.At(r.Deadline))
}

// curvesOf are the chains to be drawn, and how many are left out.
func curvesOf(routes view.Routes) (out []curve, left int) {
	for _, r := range routes {
		for i := range r.Chains {
			c := curve{name: fmt.Sprint(i + 1), via: via(&r.Chains[i]), chain: &r.Chains[i], route: r}
			if len(routes) > 1 {
				c.name = r.To
			}
			if len(out) == mostCurves {
				left++
				continue
			}
			out = append(out, c)
			if len(routes) > 1 {
				break
			}
		}
	}
	return out, left
}

// via names the relays of a chain.
func via(c *view.Chain) string {
	if len(c.Stations) == 2 {
		return "direct"
	}
	return "via " + strings.Join(c.Stations[1:len(c.Stations)-1], ", ")
}

// deadline draws the line past which nothing counts.
func (p *plot) deadline(r *view.Route, x float64) {
	p.s.Add(scene.Line(ink, 1.6, scene.Point{X: x, Y: p.box.Y0 - 4}, scene.Point{X: x, Y: p.box.Y1 + 4}),
		write(x, p.box.Y0-8, smallSize, ink, "deadline "+r.Clock.Short(r.Deadline), toRight, strong))
}

// steps is a curve as steps: level until a slot ends, then up; level from the end of
// the axis on to the deadline.
func (p *plot) steps(c *curve, end float64) []scene.Point {
	last := p.at(p.x0, 0)
	line := []scene.Point{last}
	for s, chance := range c.chain.Arrival {
		q := p.at(c.route.SlotEnd(s), chance)
		if q.X > p.box.X1+1e-6 {
			break
		}
		if last.Y-q.Y < 0.05 {
			continue
		}
		line = append(line, scene.Point{X: q.X, Y: last.Y}, q)
		last = q
	}
	return append(line, scene.Point{X: end, Y: last.Y})
}

// marks dots the curves where 50, 80 and 90 % are through.
func (p *plot) marks(curves []curve) {
	for i := len(curves) - 1; i >= 0; i-- {
		c := curves[i].chain
		for k, m := range []*float64{c.P50Minutes, c.P80Minutes, c.P90Minutes} {
			if m != nil && *m <= p.x1 {
				p.s.Add(&scene.Circle{Centre: p.at(*m, arrivalLevels[k]), Radius: 4, Style: scene.Style{Fill: paper, Stroke: curveStyles[i].Stroke, Width: 2}})
			}
		}
	}
}

// missed hatches what isn't there in time over the first chain.
func (p *plot) missed(curves []curve) {
	if len(curves) == 0 {
		return
	}
	gap := scene.Box{X0: p.box.X1 + 8, Y0: p.box.Y0, X1: p.box.X1 + 17, Y1: p.y(curves[0].chain.DeliveredByDeadline)}
	if gap.Height() > 0.4 {
		p.s.Add(scene.Rectangle(gap, 0, scene.Style{Fill: paper, Stroke: ink, Width: 0.7}), hatch(gap, 5, ink))
	}
}

// ends writes at the end of each curve which it is, its chance, when its shares are
// through, and its relays.
func (p *plot) ends(curves []curve) {
	mid := make([]float64, len(curves))
	for i := range curves {
		mid[i] = p.y(curves[i].chain.DeliveredByDeadline)
	}
	at := spread(mid, labelHeight, p.box.Y0-10, p.box.Y1+20)
	x := p.box.X1 + 38
	room := margin + sheetWidth - x
	for i := range curves {
		c := &curves[i]
		s := curveStyles[i]
		s.Width, s.Dash = 1, nil
		y := at[i] - labelHeight/2 + 14
		p.s.Add(&scene.Path{Lines: [][]scene.Point{{{X: p.box.X1 + 19, Y: mid[i]}, {X: x - 6, Y: y - 4}}}, Style: s})
		head := c.name + ": " + view.Percent(c.chain.DeliveredByDeadline) + " in time"
		if missed := 1 - c.chain.DeliveredByDeadline; missed >= 0.005 {
			head += ", " + view.Percent(missed) + " not"
		}
		p.s.Add(write(x, y, labelSize, ink, scene.Cut(head, labelSize, true, room), strong),
			write(x, y+13, smallSize+0.5, ink, scene.Cut(c.shares(), smallSize+0.5, false, room)),
			write(x, y+25, smallSize, quiet, scene.Cut(c.via, smallSize, false, room)))
	}
}

// shares tells when 50, 80 and 90 % are through.
func (c *curve) shares() string {
	var parts []string
	for k, m := range []*float64{c.chain.P50Minutes, c.chain.P80Minutes, c.chain.P90Minutes} {
		if m != nil {
			parts = append(parts, fmt.Sprintf("%.0f %% %s", 100*arrivalLevels[k], c.route.Short(m)))
		}
	}
	if parts == nil {
		return "less than half arrive by then"
	}
	return strings.Join(parts, ", ")
}

// pairMark marks at the deadline what the backup pair comes to.
func (p *plot) pairMark(r *view.Route) {
	chance := math.NaN()
	switch {
	case r.Backup != nil:
		chance = r.Backup.DeliveredByDeadline
	case r.RoleBackup != nil:
		chance = r.RoleBackup.DeliveredByDeadline
	}
	if math.IsNaN(chance) {
		return
	}
	p.s.Add(diamond(p.at(p.x1, chance), 6))
}

func diamond(at scene.Point, d float64) *scene.Path {
	return &scene.Path{
		Lines:  [][]scene.Point{{{X: at.X, Y: at.Y - d}, {X: at.X + d, Y: at.Y}, {X: at.X, Y: at.Y + d}, {X: at.X - d, Y: at.Y}}},
		Closed: true, Style: scene.Style{Fill: ink, Stroke: paper, Width: 1.2},
	}
}

// arrivalEntries explain curves and signs.
func arrivalEntries(routes view.Routes, curves []curve) []entry {
	var out []entry
	for i := range curves {
		style := curveStyles[i]
		out = append(out, entry{func(s *scene.Scene, at scene.Point) {
			s.Add(&scene.Path{Lines: [][]scene.Point{{{X: at.X - 19, Y: at.Y}, {X: at.X + 19, Y: at.Y}}}, Style: style})
		}, curves[i].name + ": " + view.ChainWithChannels(curves[i].chain)})
	}
	if len(curves) > 0 {
		out = append(out, entry{func(s *scene.Scene, at scene.Point) {
			s.Add(&scene.Circle{Centre: at, Radius: 4, Style: scene.Style{Fill: paper, Stroke: ink, Width: 2}})
		}, "50, 80 and 90 of 100 tries are through"})
	}
	if len(routes) > 1 {
		return out
	}
	if len(curves) > 0 {
		out = append(out, entry{func(s *scene.Scene, at scene.Point) {
			b := scene.Box{X0: at.X - 4, Y0: at.Y - 7, X1: at.X + 4, Y1: at.Y + 7}
			s.Add(scene.Rectangle(b, 0, scene.Style{Fill: paper, Stroke: ink, Width: 0.7}), hatch(b, 5, ink))
		}, "tries over the first that are not there by the deadline"})
	}
	if text := pairText(routes[0]); text != "" {
		out = append(out, entry{func(s *scene.Scene, at scene.Point) { s.Add(diamond(at, 6)) }, text})
	}
	return out
}

// pairText says what the backup pair comes to, "" without one.
func pairText(r *view.Route) string {
	switch {
	case r.Backup != nil:
		return fmt.Sprintf("chains %d and %d, the backup pair: at least one in time %s", r.Backup.Chains[0]+1, r.Backup.Chains[1]+1, view.Percent(r.Backup.DeliveredByDeadline))
	case r.RoleBackup != nil:
		return fmt.Sprintf("with the backup to another %s: at least one in time %s", r.Role, view.Percent(r.RoleBackup.DeliveredByDeadline))
	}
	return ""
}

func arrivalNotes(r *view.Route, left int) []string {
	notes := []string{"Steps: the slots at whose end the message may be there, worked out exactly. Fading, busy slots, lost acknowledgments and what isn't known of the links are counted; a station that breaks or sleeps is not."}
	if len(r.Chains) == 0 {
		notes[0] = r.Missing
	}
	if left > 0 {
		notes = append(notes, view.Count(left, "chain more is", "chains more are")+" not drawn.")
	}
	return notes
}

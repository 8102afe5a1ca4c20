package chart

import (
	"fmt"
	"math"
	"strings"
	"time"

	"farhop/cmd/farhop/internal/scene"
	"farhop/cmd/farhop/internal/view"
)

// sheetWidth is the width between the margins of a picture of curves.
const sheetWidth = 924.0

// sheet is an empty picture of an answer other than a drawing of the net: title and
// description, heading and moment. It returns where the picture may begin.
func sheet(h *view.Head, what string, words []string, width float64) (*scene.Scene, float64) {
	s := &scene.Scene{
		Title: h.Net + ": " + what + ", " + h.Clock.Date(h.At), Background: paper,
		Description: strings.Join(strings.Fields(strings.Join(append(words, h.Caution), " ")), " "), Width: width + 2*margin,
	}
	return s, header(s, h.Net+": "+what, when(h)+".", width)
}

// header writes a title and a line below it.
func header(s *scene.Scene, title, line string, width float64) float64 {
	y := margin + 18.0
	s.Add(write(margin, y, 18, ink, scene.Cut(title, 18, true, width), strong))
	y += 6
	for _, line := range scene.Wrap(line, textSize, false, width) {
		y += textSize * 1.35
		s.Add(write(margin, y, textSize, ink, line))
	}
	return y + 10
}

// when says when an answer holds, how old its evidence is and what was assumed.
func when(h *view.Head) string {
	text := "For " + h.Clock.Date(h.At)
	switch {
	case h.Evidence == nil:
		text += ", from the plan alone"
	case h.Evidence.Newest == nil:
		text += ", no evidence yet"
	default:
		text += ", newest evidence " + view.Age(h.At.Sub(*h.Evidence.Newest)) + " old"
	}
	if len(h.Assumed) > 0 {
		text += ". Assumed, against the plan: " + strings.Join(h.Assumed, "; ")
	}
	if c := h.Compared; c != nil {
		text += ". Without the assumptions: " + c.Without + " With them: " + strings.TrimSuffix(c.With, ".")
	}
	return text
}

// footing writes what is to be said under a picture of curves, and sets its height.
func footing(s *scene.Scene, h *view.Head, y, width float64, entries []entry, paragraphs ...string) {
	for _, w := range h.Warnings {
		paragraphs = append(paragraphs, w.Message)
	}
	s.Height = math.Ceil(legend(s, y, width, entries, append(paragraphs, h.Caution)))
	s.Width = math.Ceil(s.Width)
}

// Ways of writing.
func strong(t *scene.Text)   { t.Bold = true }
func toRight(t *scene.Text)  { t.Anchor = scene.End }
func centred(t *scene.Text)  { t.Anchor = scene.Middle }
func withHalo(t *scene.Text) { t.Halo = paper }

// write is a line of text on a base line.
func write(x, y, size float64, fill scene.Colour, text string, ways ...func(*scene.Text)) *scene.Text {
	t := &scene.Text{At: scene.Point{X: x, Y: y}, Size: size, Fill: fill, Halo: scene.None, String: text}
	for _, way := range ways {
		way(t)
	}
	return t
}

// plot is a pair of axes: box is where they are, x0…x1 and y0…y1 what they show.
type plot struct {
	s              *scene.Scene
	box            scene.Box
	x0, x1, y0, y1 float64
}

func (p *plot) x(v float64) float64 { return p.box.X0 + (v-p.x0)/(p.x1-p.x0)*p.box.Width() }
func (p *plot) y(v float64) float64 { return p.box.Y1 - (v-p.y0)/(p.y1-p.y0)*p.box.Height() }

func (p *plot) at(x, y float64) scene.Point { return scene.Point{X: p.x(x), Y: p.y(y)} }

// across draws level lines, each with its text before the axis.
func (p *plot) across(style scene.Style, bold bool, levels ...float64) {
	path := &scene.Path{Style: style}
	for _, v := range levels {
		path.Lines = append(path.Lines, []scene.Point{{X: p.box.X0, Y: p.y(v)}, {X: p.box.X1, Y: p.y(v)}})
	}
	p.s.Add(path)
	for _, v := range levels {
		t := write(p.box.X0-6, p.y(v)+0.36*smallSize, smallSize, quiet, fmt.Sprintf("%.0f %%", 100*v), toRight)
		if bold {
			t.Bold, t.Fill = true, ink
		}
		p.s.Add(t)
	}
}

// frame draws the axes.
func (p *plot) frame() {
	p.s.Add(&scene.Path{
		Lines: [][]scene.Point{{{X: p.box.X0, Y: p.box.Y0}, {X: p.box.X0, Y: p.box.Y1}, {X: p.box.X1, Y: p.box.Y1}}},
		Style: scene.Style{Fill: scene.None, Stroke: ink, Width: 1.2},
	})
}

// tickSteps are the spaces that may lie between marks of a time axis, in minutes.
var tickSteps = []float64{1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 720, 1440, 2880, 7200, 14400}

// clockTicks are round UTC times between start and start + minutes, no more than
// most of them, as minutes after the start.
func clockTicks(start time.Time, minutes float64, most int) (at []float64, step float64) {
	for _, step = range tickSteps {
		if minutes/step <= float64(most) {
			break
		}
	}
	day := start.UTC().Truncate(24 * time.Hour)
	since := start.Sub(day).Minutes()
	for t := math.Ceil(since/step) * step; t-since <= minutes+1e-9; t += step {
		at = append(at, t-since)
	}
	return at, step
}

// clock writes round times below the axis, midnights and steps of days with the
// date, and draws a fine line up at each.
func (p *plot) clock(start time.Time, minutes float64, most int) {
	ticks, step := clockTicks(start, minutes, most)
	lines := &scene.Path{Style: scene.Style{Fill: scene.None, Stroke: hair, Width: 0.8}}
	last := math.Inf(-1)
	for _, m := range ticks {
		x := p.x(m)
		lines.Lines = append(lines.Lines, []scene.Point{{X: x, Y: p.box.Y0}, {X: x, Y: p.box.Y1 + 4}})
		t := start.Add(time.Duration(m * float64(time.Minute))).UTC()
		text := t.Format("15:04Z")
		if step >= 180 {
			text = t.Format("15Z")
		}
		if t.Hour() == 0 && t.Minute() == 0 && minutes > step {
			text = t.Format("2 Jan")
		}
		w := scene.Measure(text, smallSize, false)
		if x-w/2 < last+4 || x+w/2 > p.s.Width {
			continue
		}
		last = x + w/2
		p.s.Add(write(x, p.box.Y1+smallSize+6, smallSize, quiet, text, centred))
	}
	p.s.Add(lines)
}

// hatch fills a box with slanting lines a distance apart: what isn't known, or isn't
// there.
func hatch(b scene.Box, apart float64, colour scene.Colour) *scene.Path {
	p := &scene.Path{Style: scene.Style{Fill: scene.None, Stroke: colour, Width: 0.9}}
	w, h := b.Width(), b.Height()
	for d := apart / 2; d < w+h; d += apart {
		// from the left or bottom side up to the top or right one
		from, to := scene.Point{X: b.X0, Y: b.Y0 + d}, scene.Point{X: b.X0 + d, Y: b.Y0}
		if d > h {
			from = scene.Point{X: b.X0 + d - h, Y: b.Y1}
		}
		if d > w {
			to = scene.Point{X: b.X1, Y: b.Y0 + d - w}
		}
		p.Lines = append(p.Lines, []scene.Point{from, to})
	}
	return p
}

// spread moves labels of one height, given by their middles in any order, apart
// from one another within low…high, as little as it can in their order.
func spread(mid []float64, height, low, high float64) []float64 {
	order := sortedIndex(mid)
	out := make([]float64, len(mid))
	edge := low
	for _, i := range order {
		out[i] = math.Max(mid[i], edge+height/2)
		edge = out[i] + height/2
	}
	edge = high
	for k := len(order) - 1; k >= 0; k-- {
		i := order[k]
		out[i] = math.Min(out[i], edge-height/2)
		edge = out[i] - height/2
	}
	return out
}

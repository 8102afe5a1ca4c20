package chart

import (
	"fmt"
	"math"

	"farhop/cmd/farhop/internal/scene"
	"farhop/cmd/farhop/internal/view"
)

// panel is one reliability diagram.
type panel struct {
	title, below string
	bins         []view.BacktestBin
}

// Reliability draws what came of forecasts against what was said, a diagram for each
// horizon, and for replayed messages: on the diagonal they are right. Each point has
// the interval its number of forecasts allows; the bars below are how often that
// much was said.
func Reliability(v *view.Backtest) *scene.Scene {
	panels := panelsOf(v)
	s, y := sheet(&v.Head, "what was said and what was seen", reliabilityWords(v, panels), sheetWidth)
	columns := min(3, max(1, len(panels)))
	if len(panels) == 4 {
		columns = 2
	}
	width := sheetWidth / float64(max(2, columns))
	side := math.Min(width-66, 340)
	for i := range panels {
		x, top := margin+float64(i%columns)*width, y+8+float64(i/columns)*(side+138)
		panels[i].draw(s, scene.Box{X0: x + 38, Y0: top + 34, X1: x + 38 + side, Y1: top + 34 + side})
	}
	rows := (len(panels) + columns - 1) / columns
	y += 14 + float64(rows)*(side+138)
	var paragraphs []string
	if len(panels) == 0 {
		paragraphs = append(paragraphs, "There is nothing to score.")
	}
	paragraphs = append(paragraphs,
		"Upright bars: where the share seen may lie (95 %, E. B. Wilson's interval) if the forecasts were independent. They aren't: a fade lasts for many slots, so take the bars as the least.")
	footing(s, &v.Head, y, sheetWidth, reliabilityEntries(), paragraphs...)
	return s
}

// panelsOf are the diagrams of the forecasts, then of the deliveries.
func panelsOf(v *view.Backtest) (out []panel) {
	add := func(title string, n int, models []view.BacktestModel) {
		if n == 0 || len(models) == 0 {
			return
		}
		m := &models[0]
		out = append(out, panel{
			title, fmt.Sprintf("Brier score %.4f, off by %.1f points", m.Brier, 100*m.CalibrationError), m.Bins,
		})
	}
	for i := range v.Horizons {
		h := &v.Horizons[i]
		add(fmt.Sprintf("%s: %s", view.Ahead(h.HorizonMinutes), view.Count(h.Forecasts, "forecast", "forecasts")), h.Forecasts, h.Models)
	}
	if v.Delivery != nil {
		for i := range v.Delivery.Horizons {
			h := &v.Delivery.Horizons[i]
			add(fmt.Sprintf("messages, %s: %s", view.Ahead(h.HorizonMinutes), view.Count(h.Tries, "try", "tries")), h.Tries, h.Models)
		}
	}
	return out
}

// Colours of a reliability diagram.
const (
	seenColour scene.Colour = 0x0072b2
	barColour  scene.Colour = 0xb9c4d0
)

func (d *panel) draw(s *scene.Scene, box scene.Box) {
	p := &plot{s: s, box: box, x1: 1, y1: 1}
	width := box.Width() + 38
	s.Add(write(box.X0-38, box.Y0-24, labelSize, ink, scene.Cut(d.title, labelSize, true, width), strong),
		write(box.X0-38, box.Y0-10, smallSize, quiet, scene.Cut(d.below, smallSize, false, width)))
	levels := []float64{0, 0.25, 0.5, 0.75, 1}
	p.across(scene.Style{Fill: scene.None, Stroke: hair, Width: 0.8}, false, levels...)
	lines := &scene.Path{Style: scene.Style{Fill: scene.None, Stroke: hair, Width: 0.8}}
	for _, x := range levels {
		lines.Lines = append(lines.Lines, []scene.Point{p.at(x, 1), p.at(x, 0)})
		s.Add(write(p.x(x), box.Y1+smallSize+4, smallSize, quiet, fmt.Sprintf("%.0f", 100*x), centred))
	}
	s.Add(lines, &scene.Path{
		Lines: [][]scene.Point{{p.at(0, 0), p.at(1, 1)}},
		Style: scene.Style{Fill: scene.None, Stroke: ink, Width: 1.2, Dash: []float64{6, 4}},
	})
	p.frame()
	s.Add(write(box.X0+7, box.Y0+15, smallSize, quiet, "↑ seen", withHalo), write(box.X1-7, box.Y1-8, smallSize, quiet, "said →", toRight, withHalo))
	d.points(p)
	d.counts(p)
}

// points draws intervals, and points joined by a line.
func (d *panel) points(p *plot) {
	var line []scene.Point
	bars := &scene.Path{Style: scene.Style{Fill: scene.None, Stroke: seenColour, Width: 1.6}}
	for _, b := range d.bins {
		if b.N == 0 {
			continue
		}
		low, high := wilson(b.Seen, b.N)
		x := p.x(b.Forecast)
		bars.Lines = append(bars.Lines, []scene.Point{{X: x, Y: p.y(low)}, {X: x, Y: p.y(high)}},
			[]scene.Point{{X: x - 3, Y: p.y(low)}, {X: x + 3, Y: p.y(low)}}, []scene.Point{{X: x - 3, Y: p.y(high)}, {X: x + 3, Y: p.y(high)}})
		line = append(line, p.at(b.Forecast, b.Seen))
	}
	p.s.Add(&scene.Path{Lines: [][]scene.Point{line}, Style: scene.Style{Fill: scene.None, Stroke: seenColour, Width: 1}}, bars)
	for _, at := range line {
		p.s.Add(&scene.Circle{Centre: at, Radius: 4, Style: scene.Style{Fill: seenColour, Stroke: paper, Width: 1}})
	}
}

// countHeight is the height of the bars of numbers.
const countHeight = 34.0

// counts draws how often each chance was said: with the numbers where there is room
// for them, else with shares of all.
func (d *panel) counts(p *plot) {
	most, all := 0, 0
	for _, b := range d.bins {
		most, all = max(most, b.N), all+b.N
	}
	if most == 0 {
		return
	}
	room := p.x(0.1) - p.x(0) - 3
	unit, figure := "times", view.Grouped
	if scene.Measure(view.Grouped(most), smallSize-1, false) > room {
		unit, figure = "in %", func(n int) string { return view.Percents(float64(n) / float64(all)) }
	}
	base := p.box.Y1 + 68
	bars := &scene.Path{Closed: true, Style: scene.Style{Fill: barColour, Stroke: quiet, Width: 0.6}}
	for _, b := range d.bins {
		if b.N == 0 {
			continue
		}
		h := math.Max(0.6, countHeight*float64(b.N)/float64(most))
		bars.Lines = append(bars.Lines, square(scene.Box{X0: p.x(b.Low) + 1, Y0: base - h, X1: p.x(b.High) - 1, Y1: base}, 0))
		if text := figure(b.N); scene.Measure(text, smallSize-1, false) <= p.x(b.High)-p.x(b.Low)-3 {
			p.s.Add(write(p.x((b.Low+b.High)/2), base+smallSize+1, smallSize-1, ink, text, centred))
		}
	}
	p.s.Add(bars, scene.Line(ink, 1, scene.Point{X: p.box.X0, Y: base}, scene.Point{X: p.box.X1, Y: base}),
		write(p.box.X0-6, base-2, smallSize-1, quiet, "said", toRight), write(p.box.X0-6, base+smallSize+1, smallSize-1, quiet, unit, toRight))
}

// wilson is the 95 % interval of a share seen in n independent tries (E. B. Wilson,
// J. Amer. Statist. Assoc. 22 (1927) 209–212).
func wilson(share float64, n int) (low, high float64) {
	const z = 1.959964
	m := float64(n)
	mid := (share + z*z/(2*m)) / (1 + z*z/m)
	half := z / (1 + z*z/m) * math.Sqrt(share*(1-share)/m+z*z/(4*m*m))
	return math.Max(0, mid-half), math.Min(1, mid+half)
}

func reliabilityWords(v *view.Backtest, panels []panel) []string {
	words := []string{v.Verdict()}
	for i := range panels {
		text := panels[i].title + ". Said and seen in per cent (times):"
		for _, b := range panels[i].bins {
			if b.N > 0 {
				text += fmt.Sprintf(" %.1f and %.1f (%s);", 100*b.Forecast, 100*b.Seen, view.Grouped(b.N))
			}
		}
		words = append(words, text[:len(text)-1]+".")
	}
	return append(words, "The same in figures: farhop backtest --format text.")
}

func reliabilityEntries() []entry {
	return []entry{
		{func(s *scene.Scene, at scene.Point) {
			p := &plot{s: s, box: scene.Box{X0: at.X - 10, Y0: at.Y - 14, X1: at.X + 10, Y1: at.Y + 14}, x1: 1, y1: 1}
			(&panel{bins: []view.BacktestBin{{N: 10, Forecast: 0.5, Seen: 0.5}}}).points(p)
		}, "seen, of the slots for which about that much was said"},
		{func(s *scene.Scene, at scene.Point) {
			s.Add(&scene.Path{Lines: [][]scene.Point{{{X: at.X - 19, Y: at.Y}, {X: at.X + 19, Y: at.Y}}}, Style: scene.Style{Fill: scene.None, Stroke: ink, Width: 1.2, Dash: []float64{6, 4}}})
		}, "said and seen agree; below it too much was promised, above it too little"},
		{func(s *scene.Scene, at scene.Point) {
			s.Add(scene.Rectangle(scene.Box{X0: at.X - 11, Y0: at.Y - 6, X1: at.X + 11, Y1: at.Y + 6}, 0, scene.Style{Fill: barColour, Stroke: quiet, Width: 0.6}))
		}, "how often about that much was said"},
	}
}

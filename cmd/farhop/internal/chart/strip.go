package chart

import (
	"fmt"
	"time"

	"farhop/cmd/farhop/internal/scene"
	"farhop/cmd/farhop/internal/view"
)

const (
	stripLabel = 168.0
	stripThere = 24.0
	stripBack  = 18.0
	stripBand  = 13.0 // of the channels' names
)

// Strip draws how the hops of a chain decode by the hour: for each a row there and a
// lower one back, under the channel, darker and with a higher figure the better;
// unknown hours are hatched, those in which there is no channel or no station have
// a sign.
func Strip(v *view.Strip) *scene.Scene {
	s, y := sheet(&v.Head, v.From+view.Arrow+v.To+" by the hour", stripWords(v), sheetWidth)
	for _, line := range scene.Wrap(v.Summary(), labelSize, true, sheetWidth) {
		s.Add(write(margin, y+6, labelSize, ink, line, strong))
		y += lineHeight
	}
	cell := (sheetWidth - stripLabel) / float64(max(1, len(v.Hours)))
	x := margin + stripLabel
	y += 20
	hourHeads(s, v.Hours, x, y, cell)
	y += 10
	y = stripRows(s, v, x, y, cell)
	footing(s, &v.Head, y+14, sheetWidth, stripEntries(v),
		"Forecasts from what is known now: they fade towards the usual for the hour. Hours further ahead are less sure than the figures may look.")
	return s
}

// hourHeads names the hours above columns of a strip, the first one bold, with the
// date at midnight.
func hourHeads(s *scene.Scene, hours []time.Time, x, y, cell float64) {
	for k, at := range hours {
		at = at.UTC()
		text := at.Format("15")
		if at.Minute() != 0 {
			text = at.Format("15:04")
		}
		t := write(x+(float64(k)+0.5)*cell, y+4, smallSize, ink, text, centred)
		t.Bold = k == 0
		s.Add(t)
		if k > 0 && at.Hour() == 0 {
			s.Add(write(x+(float64(k)+0.5)*cell, y-9, smallSize, ink, at.Format("2 Jan"), centred, strong))
		}
	}
	s.Add(write(x-8, y+4, smallSize, quiet, "UTC, the first now", toRight))
}

// stripRows draws the rows, and returns where they end.
func stripRows(s *scene.Scene, v *view.Strip, x, y, cell float64) float64 {
	for i := range v.Hops {
		h := &v.Hops[i]
		if i > 0 {
			y += 10
			if v.Hops[i-1].OnChain && !h.OnChain {
				s.Add(scene.Line(faint, 1, scene.Point{X: margin, Y: y}, scene.Point{X: margin + sheetWidth, Y: y}))
				y += 8
			}
		}
		stripChannels(s, h, x, y, cell)
		y += stripBand
		stripName(s, h, x-8, y)
		for k := range h.Hours {
			b := scene.Box{X0: x + float64(k)*cell, Y0: y, X1: x + float64(k+1)*cell, Y1: y + stripThere}
			stripCell(s, b, &h.Hours[k].There)
			stripCell(s, scene.Box{X0: b.X0, Y0: b.Y1, X1: b.X1, Y1: b.Y1 + stripBack}, &h.Hours[k].Back)
		}
		y += stripThere + stripBack
	}
	return y
}

// stripName writes the ends before a row that begins at y, in two lines where one is
// too short.
func stripName(s *scene.Scene, h *view.StripHop, x, y float64) {
	const room = stripLabel - 10
	name, back := h.From+view.Arrow+h.To, "back"
	if scene.Measure(name, labelSize, true) > room {
		s.Add(write(x, y-2, labelSize, ink, scene.Cut(h.From, labelSize, true, room), toRight, strong))
		name = "→ " + h.To
	}
	if !h.OnChain {
		back = "the direct link, back"
	}
	s.Add(write(x, y+stripThere/2+0.36*labelSize, labelSize, ink, scene.Cut(name, labelSize, true, room), toRight, strong),
		write(x, y+stripThere+stripBack/2+0.36*smallSize, smallSize, quiet, back, toRight))
}

// stripChannels names above a row the channel of each run of hours.
func stripChannels(s *scene.Scene, h *view.StripHop, x, y, cell float64) {
	for from := 0; from < len(h.Hours); {
		to := from + 1
		for to < len(h.Hours) && h.Hours[to].Channel == h.Hours[from].Channel {
			to++
		}
		if name := h.Hours[from].Channel; name != "" {
			x0, x1 := x+float64(from)*cell+1.5, x+float64(to)*cell-1.5
			text := scene.Cut(name, smallSize, false, x1-x0-2)
			w := scene.Measure(text, smallSize, false)
			s.Add(write(x0+1, y+9, smallSize, ink, text))
			if x0+w+6 < x1 {
				s.Add(scene.Line(faint, 1, scene.Point{X: x0 + w + 5, Y: y + 6}, scene.Point{X: x1, Y: y + 6}, scene.Point{X: x1, Y: y + 11}))
			}
		}
		from = to
	}
}

// stripCell draws one direction at one hour.
func stripCell(s *scene.Scene, b scene.Box, w *view.StripWay) {
	edge := scene.Rectangle(b, 0, scene.Style{Fill: paper, Stroke: hair, Width: 0.7})
	c := b.Centre()
	switch w.State {
	case view.StripOpen:
		edge.Fill = shade(*w.Decode)
		s.Add(edge, figureIn(b, view.Percents(*w.Decode), on(edge.Fill)))
	case view.StripClosed:
		s.Add(edge, figureIn(b, view.Percents(*w.Decode), quiet))
	case view.StripUnknown:
		s.Add(edge, hatch(b, 7, 0x8a8a8a))
	case view.StripAbsent:
		s.Add(edge, cross(c, 3, quiet, 1.2))
	case view.StripOffAir:
		edge.Fill = hair
		s.Add(edge, scene.Line(ink, 1.6, scene.Point{X: c.X - 5, Y: c.Y}, scene.Point{X: c.X + 5, Y: c.Y}))
	case view.StripWindow:
		s.Add(edge, &scene.Circle{Centre: c, Radius: 1.6, Style: scene.Style{Fill: quiet, Stroke: scene.None}})
	default:
		s.Add(edge, scene.Line(ink, 1.3, scene.Point{X: c.X - 5, Y: c.Y - 3}, scene.Point{X: c.X - 1, Y: c.Y - 3}),
			scene.Line(ink, 1.3, scene.Point{X: c.X + 1, Y: c.Y + 3}, scene.Point{X: c.X + 5, Y: c.Y + 3}))
	}
}

func figureIn(b scene.Box, text string, fill scene.Colour) *scene.Text {
	const size = 10.5
	return write(b.Centre().X, b.Centre().Y+0.36*size, size, fill, text, centred)
}

// stripStates in the order in which they are told, each with its sign.
var stripStates = []struct {
	state view.StripState
	text  string
}{
	{view.StripOpen, "open: chance in per cent that a frame decodes"},
	{view.StripClosed, "closed: known, but below that"},
	{view.StripUnknown, "unknown: too little evidence for that hour"},
	{view.StripWindow, "no channel of theirs is in its window"},
	{view.StripOffAir, "one end is off the air by the plan"},
	{view.StripWatch, "they watch different channels"},
	{view.StripAbsent, "the plan states no such link"},
}

// stripWords tell each row in a sentence.
func stripWords(v *view.Strip) []string {
	words := []string{v.Summary()}
	for i := range v.Hops {
		h := &v.Hops[i]
		count := map[view.StripState]int{}
		for k := range h.Hours {
			count[h.Hours[k].There.State]++
		}
		text := h.From + view.Arrow + h.To + ":"
		for _, x := range stripStates {
			if count[x.state] > 0 {
				text += fmt.Sprintf(" %s %d h,", x.state, count[x.state])
			}
		}
		words = append(words, text[:len(text)-1]+".")
	}
	return append(words, "The same in figures: farhop draw --view strip --format text.")
}

// stripEntries explain the signs that occur.
func stripEntries(v *view.Strip) []entry {
	has := map[view.StripState]bool{}
	for i := range v.Hops {
		for k := range v.Hops[i].Hours {
			has[v.Hops[i].Hours[k].There.State] = true
			has[v.Hops[i].Hours[k].Back.State] = true
		}
	}
	sample := func(state view.StripState, decode float64) func(*scene.Scene, scene.Point) {
		return func(s *scene.Scene, at scene.Point) {
			stripCell(s, scene.Box{X0: at.X - 15, Y0: at.Y - 8, X1: at.X + 15, Y1: at.Y + 8}, &view.StripWay{State: state, Decode: &decode})
		}
	}
	var out []entry
	for _, x := range stripStates {
		switch {
		case !has[x.state]:
		case x.state == view.StripOpen:
			out = append(out, entry{sample(x.state, 1), x.text}, entry{sample(x.state, v.Threshold), "open from " + view.Percent(v.Threshold)})
		default:
			out = append(out, entry{sample(x.state, v.Threshold/5), x.text})
		}
	}
	return out
}

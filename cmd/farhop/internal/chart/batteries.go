package chart

import (
	"fmt"
	"math"
	"time"

	"farhop/cmd/farhop/internal/scene"
	"farhop/cmd/farhop/internal/view"
)

// mostBatteries is how many batteries are drawn: those that fall lowest.
const mostBatteries = 72

// Colours of a battery's curve.
const (
	night   scene.Colour = 0xe2e4ea
	charge  scene.Colour = 0x0072b2
	reserve scene.Colour = 0xb34700
)

// Batteries draws the state of charge over the horizon, a small picture for each
// station, that which falls lowest first; with v.Only that station alone, larger.
// The reserve is a dashed line, night is shaded, and the lowest charge is marked.
func Batteries(v *view.Endurance) *scene.Scene {
	list := v.Sorted()
	what := "batteries, " + v.Clock.At(v.Start) + " to " + v.Clock.Date(v.End)
	if v.Exercise {
		what = "EXERCISE - " + what
	}
	columns, height := 4, 96.0
	if v.Only != "" {
		columns, height = 1, 300
		list = only(list, v.Only)
	} else if len(list) <= 6 {
		columns, height = 3, 130
	}
	s, y := sheet(&v.Head, what, batteryWords(v), sheetWidth)
	for _, line := range scene.Wrap(v.Summary(), labelSize, true, sheetWidth) {
		s.Add(write(margin, y+6, labelSize, ink, line, strong))
		y += lineHeight
	}
	left := max(0, len(list)-mostBatteries)
	list = list[:len(list)-left]
	width := sheetWidth / float64(columns)
	for i := range list {
		row, column := i/columns, i%columns
		at := scene.Point{X: margin + float64(column)*width, Y: y + 8 + float64(row)*(height+48)}
		Battery(s, v, &list[i], scene.Box{X0: at.X, Y0: at.Y, X1: at.X + width - 14, Y1: at.Y + height + 36})
	}
	rows := (len(list) + columns - 1) / columns
	y += 14 + float64(rows)*(height+48)
	footing(s, &v.Head, y, sheetWidth, batteryEntries(list), batteryNotes(v, list, left)...)
	return s
}

// StationCharge is the curve of one station's battery by itself, without title and
// legend, to stand on a page that has them; nil when it states none.
func StationCharge(v *view.Endurance, call string, width, height float64) *scene.Scene {
	list := only(v.Sorted(), call)
	if list == nil {
		return nil
	}
	s := &scene.Scene{
		Title: call + ": charge of the battery, " + v.Clock.At(v.Start) + " to " + v.Clock.Date(v.End), Background: paper, Width: width, Height: height,
		Description: fmt.Sprintf("Lowest %s at %s.", view.Percent(list[0].LowestCharge), v.Clock.Short(list[0].LowestAt)),
	}
	Battery(s, v, &list[0], scene.Box{X0: 4, Y0: 2, X1: width - 16, Y1: height - 4})
	return s
}

func only(list []view.StationBattery, call string) []view.StationBattery {
	for i := range list {
		if list[i].Call == call {
			return list[i : i+1]
		}
	}
	return nil
}

// Battery draws one battery into a box: name and lowest charge on top, hours below.
func Battery(s *scene.Scene, v *view.Endurance, b *view.StationBattery, box scene.Box) {
	minutes := v.End.Sub(v.Start).Minutes()
	p := &plot{s: s, x1: minutes, y1: 1, box: scene.Box{X0: box.X0 + 34, Y0: box.Y0 + 20, X1: box.X1, Y1: box.Y1 - 16}}
	since := func(t time.Time) float64 { return clamp(t.Sub(v.Start).Minutes(), 0, minutes) }
	for _, n := range b.Nights {
		s.Add(scene.Rectangle(scene.Box{X0: p.x(since(n.From)), Y0: p.box.Y0, X1: p.x(since(n.To)), Y1: p.box.Y1}, 0, scene.Style{Fill: night, Stroke: scene.None}))
	}
	p.clock(v.Start, minutes, max(2, int(p.box.Width()/44)))
	p.across(scene.Style{Fill: scene.None, Stroke: hair, Width: 0.8}, false, levelsBut(b.Reserve, p)...)
	p.across(scene.Style{Fill: scene.None, Stroke: reserve, Width: 1.6, Dash: []float64{5, 3}}, true, b.Reserve)
	p.frame()
	line, lowest := p.charge(v, b)
	s.Add(&scene.Path{Lines: [][]scene.Point{line}, Style: scene.Style{Fill: scene.None, Stroke: charge, Width: 2}})
	s.Add(&scene.Circle{Centre: lowest, Radius: 3.4, Style: scene.Style{Fill: ink, Stroke: paper, Width: 1}})
	heads := []string{fmt.Sprintf("lowest %s at %s", view.Percent(b.LowestCharge), v.Clock.Short(b.LowestAt)), "lowest " + view.Percent(b.LowestCharge)}
	if b.ReserveAt != nil {
		at := p.at(since(*b.ReserveAt), b.Reserve)
		c := 4.5
		s.Add(cross(at, c, paper, 5), cross(at, c, reserve, 2.6))
		short := "reserve at " + v.Clock.Short(*b.ReserveAt)
		heads = []string{short + ", lowest " + view.Percent(b.LowestCharge), short}
	}
	// The name first, then the longest of the rest for which there is room.
	name := scene.Cut(b.Call, labelSize, true, box.Width())
	s.Add(write(box.X0, box.Y0+10, labelSize, ink, name, strong))
	x := box.X0 + scene.Measure(name, labelSize, true) + 8
	for _, head := range heads {
		if x+scene.Measure(head, smallSize, b.ReserveAt != nil) <= box.X1 {
			t := write(x, box.Y0+10, smallSize, ink, head)
			t.Bold = b.ReserveAt != nil
			s.Add(t)
			break
		}
	}
}

// levelsBut are the levels with a line of their own, without one too near to the
// reserve for its figure.
func levelsBut(reserve float64, p *plot) (out []float64) {
	for _, v := range []float64{0, 0.5, 1} {
		if math.Abs(v-reserve)*p.box.Height() > smallSize+1 {
			out = append(out, v)
		}
	}
	return out
}

func cross(at scene.Point, c float64, colour scene.Colour, width float64) *scene.Path {
	return &scene.Path{Lines: [][]scene.Point{
		{{X: at.X - c, Y: at.Y - c}, {X: at.X + c, Y: at.Y + c}},
		{{X: at.X - c, Y: at.Y + c}, {X: at.X + c, Y: at.Y - c}},
	}, Style: scene.Style{Fill: scene.None, Stroke: colour, Width: width}}
}

// charge is the curve: the start, the end of each hour, the lowest point in between.
func (p *plot) charge(v *view.Endurance, b *view.StationBattery) (line []scene.Point, lowest scene.Point) {
	low := b.LowestAt.Sub(v.Start).Minutes()
	lowest = p.at(clamp(low, 0, p.x1), clamp(b.LowestCharge, 0, 1))
	line = append(line, p.at(0, v.Charge))
	placed := low <= 0
	for h, share := range b.HourlyCharge {
		at := math.Min(float64(h+1)*60, p.x1)
		if !placed && low <= at {
			line, placed = append(line, lowest), true
		}
		line = append(line, p.at(at, clamp(share, 0, 1)))
	}
	return line, lowest
}

func batteryWords(v *view.Endurance) []string {
	words := []string{v.Summary()}
	for _, b := range v.Sorted() {
		if v.Only == "" || v.Only == b.Call {
			words = append(words, fmt.Sprintf("%s: lowest %s at %s.", b.Call, view.Percent(b.LowestCharge), v.Clock.Short(b.LowestAt)))
		}
	}
	return append(words, "The same in figures: farhop endurance --format text.")
}

func batteryEntries(list []view.StationBattery) []entry {
	line := func(style scene.Style) func(*scene.Scene, scene.Point) {
		return func(s *scene.Scene, at scene.Point) {
			s.Add(&scene.Path{Lines: [][]scene.Point{{{X: at.X - 19, Y: at.Y}, {X: at.X + 19, Y: at.Y}}}, Style: style})
		}
	}
	out := []entry{
		{line(scene.Style{Fill: scene.None, Stroke: charge, Width: 2}), "charge, as a share of the usable capacity"},
		{line(scene.Style{Fill: scene.None, Stroke: reserve, Width: 1.6, Dash: []float64{5, 3}}), "reserve the plan sets"},
		{func(s *scene.Scene, at scene.Point) {
			s.Add(&scene.Circle{Centre: at, Radius: 3.4, Style: scene.Style{Fill: ink, Stroke: paper, Width: 1}})
		}, "lowest charge"},
	}
	var reached, dark bool
	for i := range list {
		reached = reached || list[i].ReserveAt != nil
		dark = dark || len(list[i].Nights) > 0
	}
	if reached {
		out = append(out, entry{func(s *scene.Scene, at scene.Point) { s.Add(cross(at, 4.5, reserve, 2.6)) }, "the reserve is reached"})
	}
	if dark {
		out = append(out, entry{func(s *scene.Scene, at scene.Point) {
			s.Add(scene.Rectangle(scene.Box{X0: at.X - 15, Y0: at.Y - 7, X1: at.X + 15, Y1: at.Y + 7}, 0, scene.Style{Fill: night, Stroke: hair, Width: 0.8}))
		}, "the sun is down there"})
	}
	return out
}

func batteryNotes(v *view.Endurance, list []view.StationBattery, left int) []string {
	notes := v.Notes()
	if len(list) == 0 {
		notes = append([]string{"No station states a battery: give it a supply in the plan."}, notes...)
	}
	if left > 0 {
		notes = append(notes, fmt.Sprintf("%s not drawn: none falls below %s.", view.Count(left, "battery more is", "batteries more are"),
			view.Percent(list[len(list)-1].LowestCharge)))
	}
	if len(v.Without) > 0 {
		notes = append(notes, "No battery is stated for "+view.Names(v.Without)+".")
	}
	return notes
}

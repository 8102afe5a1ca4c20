// Package scene holds a picture as a list of shapes and texts, and writes it as
// SVG and as PNG. Both are made from the same list, so they show the same.
//
// Units are those of an SVG user space: x to the right, y down, a text size of
// 13 for reading. Texts are measured with the Go fonts (Bigelow & Holmes, 2016,
// BSD-style licence), which PNG is drawn with; an SVG viewer without them is
// told the measured length, so boxes hold there as well.
package scene

import "math"

// Colour is red, green and blue, as 0xRRGGBB.
type Colour uint32

// None is no colour: nothing is filled or stroked.
const None Colour = 1 << 31

// RGB returns the three parts, 0…255.
func (c Colour) RGB() (r, g, b uint8) { return uint8(c >> 16), uint8(c >> 8), uint8(c) }

// Grey is the colour's relative luminance, 0 black … 1 white, as WCAG 2.2
// defines it from sRGB.
func (c Colour) Grey() float64 {
	r, g, b := c.RGB()
	return 0.2126*linear(r) + 0.7152*linear(g) + 0.0722*linear(b)
}

func linear(v uint8) float64 {
	x := float64(v) / 255
	if x <= 0.04045 {
		return x / 12.92
	}
	return math.Pow((x+0.055)/1.055, 2.4)
}

// Contrast is the contrast ratio of two colours, 1…21 (WCAG 2.2).
func Contrast(a, b Colour) float64 {
	x, y := a.Grey(), b.Grey()
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// Point is a place in the picture.
type Point struct{ X, Y float64 }

// Box is a rectangle with sides along the axes.
type Box struct{ X0, Y0, X1, Y1 float64 }

// Overlaps reports whether the boxes share an area.
func (b Box) Overlaps(o Box) bool {
	return b.X0 < o.X1 && o.X0 < b.X1 && b.Y0 < o.Y1 && o.Y0 < b.Y1
}

// Within reports whether b lies in o altogether.
func (b Box) Within(o Box) bool {
	return b.X0 >= o.X0 && b.Y0 >= o.Y0 && b.X1 <= o.X1 && b.Y1 <= o.Y1
}

// Grow moves every side outwards by d.
func (b Box) Grow(d float64) Box { return Box{b.X0 - d, b.Y0 - d, b.X1 + d, b.Y1 + d} }

// Width and Height of the box.
func (b Box) Width() float64 { return b.X1 - b.X0 }

// Height is the extent in y.
func (b Box) Height() float64 { return b.Y1 - b.Y0 }

// Centre is the middle of the box.
func (b Box) Centre() Point { return Point{(b.X0 + b.X1) / 2, (b.Y0 + b.Y1) / 2} }

// Style says how a shape is filled and outlined.
type Style struct {
	Fill    Colour
	Stroke  Colour
	Width   float64   // of the outline
	Dash    []float64 // lengths of line and gap in turn, nil = solid
	Opacity float64   // of the whole, 0 counts as 1
}

// Path is one or more lines; with a fill each is an area. The areas of one path
// overlap by the non-zero rule.
type Path struct {
	Lines  [][]Point
	Closed bool
	Style
}

// Circle is a circle.
type Circle struct {
	Centre Point
	Radius float64
	Style
}

// Anchor says which point of a text stands at its place.
type Anchor uint8

// Anchors.
const (
	Start Anchor = iota
	Middle
	End
)

// Text is one line of text.
type Text struct {
	At     Point // on the base line
	Anchor Anchor
	Size   float64
	Bold   bool
	Up     bool // reads upwards, turned by 90° to the left
	Fill   Colour
	Halo   Colour // a seam around the letters, None = no seam
	String string
}

// Item is a *Path, *Circle or *Text.
type Item interface{ item() }

func (*Path) item()   {}
func (*Circle) item() {}
func (*Text) item()   {}

// Scene is a picture: items later in the list cover those before.
type Scene struct {
	Width, Height      float64
	Title, Description string
	Background         Colour
	Items              []Item
}

// Add puts items on top.
func (s *Scene) Add(items ...Item) { s.Items = append(s.Items, items...) }

// Bounds is the whole picture.
func (s *Scene) Bounds() Box { return Box{0, 0, s.Width, s.Height} }

// Texts are the texts of the scene in their order.
func (s *Scene) Texts() []*Text {
	var texts []*Text
	for _, i := range s.Items {
		if t, ok := i.(*Text); ok {
			texts = append(texts, t)
		}
	}
	return texts
}

// Heights of a line of text above and below its base line, in sizes.
const (
	Ascent  = 0.75
	Descent = 0.21
)

// Box is the area the text covers.
func (t *Text) Box() Box {
	w := Measure(t.String, t.Size, t.Bold)
	from := 0.0
	switch t.Anchor {
	case Middle:
		from = -w / 2
	case End:
		from = -w
	}
	if t.Up {
		return Box{t.At.X - Ascent*t.Size, t.At.Y - from - w, t.At.X + Descent*t.Size, t.At.Y - from}
	}
	return Box{t.At.X + from, t.At.Y - Ascent*t.Size, t.At.X + from + w, t.At.Y + Descent*t.Size}
}

// Line is an open path without fill.
func Line(colour Colour, width float64, points ...Point) *Path {
	return &Path{Lines: [][]Point{points}, Style: Style{Fill: None, Stroke: colour, Width: width}}
}

// Rectangle is a box as a path, its corners cut off by the given length.
func Rectangle(b Box, cut float64, style Style) *Path {
	if cut <= 0 {
		return &Path{Lines: [][]Point{{{b.X0, b.Y0}, {b.X1, b.Y0}, {b.X1, b.Y1}, {b.X0, b.Y1}}}, Closed: true, Style: style}
	}
	return &Path{Lines: [][]Point{{
		{b.X0 + cut, b.Y0},
		{b.X1 - cut, b.Y0},
		{b.X1, b.Y0 + cut},
		{b.X1, b.Y1 - cut},
		{b.X1 - cut, b.Y1},
		{b.X0 + cut, b.Y1},
		{b.X0, b.Y1 - cut},
		{b.X0, b.Y0 + cut},
	}}, Closed: true, Style: style}
}

package scene

import (
	"strings"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// face is a font with what was read of it so far. It may be used by any number
// of goroutines.
type face struct {
	mu     sync.Mutex
	font   *sfnt.Font
	buffer sfnt.Buffer
	glyphs map[rune]*glyph
}

// glyph is a letter in ems, y down, the base line at 0.
type glyph struct {
	advance  float64
	contours [][]Point
}

// load reads a font that comes with the program; nil, which measures every
// letter as an em, is what a damaged one would give.
func load(data []byte) *face {
	f, err := sfnt.Parse(data)
	if err != nil {
		f = nil
	}
	return &face{font: f, glyphs: map[rune]*glyph{}}
}

var (
	regular = sync.OnceValue(func() *face { return load(goregular.TTF) })
	bold    = sync.OnceValue(func() *face { return load(gobold.TTF) })
)

func faceOf(isBold bool) *face {
	if isBold {
		return bold()
	}
	return regular()
}

// Measure is the length of a text. A letter the fonts lack counts as one em.
func Measure(s string, size float64, isBold bool) float64 {
	f := faceOf(isBold)
	f.mu.Lock()
	defer f.mu.Unlock()
	w := 0.0
	for _, r := range s {
		w += f.glyph(r).advance
	}
	return w * size
}

// Wrap breaks a text at spaces into lines no longer than width; a single word
// that is longer is cut.
func Wrap(s string, size float64, isBold bool, width float64) []string {
	var lines []string
	line := ""
	for word := range strings.FieldsSeq(s) {
		try := word
		if line != "" {
			try = line + " " + word
		}
		if Measure(try, size, isBold) <= width {
			line = try
			continue
		}
		if line != "" {
			lines = append(lines, line)
		}
		line = Cut(word, size, isBold, width)
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// Cut shortens a text to a width, marking the loss with an ellipsis.
func Cut(s string, size float64, isBold bool, width float64) string {
	if Measure(s, size, isBold) <= width {
		return s
	}
	runes := []rune(s)
	for n := len(runes) - 1; n > 0; n-- {
		if short := string(runes[:n]) + "…"; Measure(short, size, isBold) <= width {
			return short
		}
	}
	return "…"
}

// ppem is the size at which outlines are read before they are scaled.
const ppem = 2048

// glyph reads a letter. f.mu is held.
func (f *face) glyph(r rune) *glyph {
	if g, ok := f.glyphs[r]; ok {
		return g
	}
	g := &glyph{advance: 1}
	f.glyphs[r] = g
	if f.font == nil {
		return g
	}
	i, err := f.font.GlyphIndex(&f.buffer, r)
	if err != nil {
		return g
	}
	if a, err := f.font.GlyphAdvance(&f.buffer, i, fixed.I(ppem), font.HintingNone); err == nil && i != 0 {
		g.advance = float64(a) / 64 / ppem
	}
	if segments, err := f.font.LoadGlyph(&f.buffer, i, fixed.I(ppem), nil); err == nil {
		g.contours = flatten(segments)
	}
	return g
}

// flatten turns curves into short straight lines.
func flatten(segments sfnt.Segments) (contours [][]Point) {
	at := func(p fixed.Point26_6) Point { return Point{float64(p.X) / 64 / ppem, float64(p.Y) / 64 / ppem} }
	var c []Point
	for _, s := range segments {
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			if len(c) > 2 {
				contours = append(contours, c)
			}
			c = []Point{at(s.Args[0])}
		case sfnt.SegmentOpLineTo:
			c = append(c, at(s.Args[0]))
		case sfnt.SegmentOpQuadTo:
			p, q, r := c[len(c)-1], at(s.Args[0]), at(s.Args[1])
			for k := 1; k <= 4; k++ {
				t := float64(k) / 4
				u := 1 - t
				c = append(c, Point{u*u*p.X + 2*u*t*q.X + t*t*r.X, u*u*p.Y + 2*u*t*q.Y + t*t*r.Y})
			}
		case sfnt.SegmentOpCubeTo: // TrueType outlines have none
			c = append(c, at(s.Args[2]))
		}
	}
	if len(c) > 2 {
		contours = append(contours, c)
	}
	return contours
}

// outline is a text as areas in the picture.
func (t *Text) outline() [][]Point {
	f := faceOf(t.Bold)
	f.mu.Lock()
	defer f.mu.Unlock()
	x := 0.0
	var glyphs []*glyph
	for _, r := range t.String {
		g := f.glyph(r)
		glyphs = append(glyphs, g)
		x += g.advance
	}
	switch t.Anchor {
	case Start:
		x = 0
	case Middle:
		x = -x / 2
	case End:
		x = -x
	}
	var out [][]Point
	for _, g := range glyphs {
		for _, c := range g.contours {
			line := make([]Point, len(c))
			for i, p := range c {
				dx, dy := (p.X+x)*t.Size, p.Y*t.Size
				if t.Up {
					dx, dy = dy, -dx
				}
				line[i] = Point{t.At.X + dx, t.At.Y + dy}
			}
			out = append(out, line)
		}
		x += g.advance
	}
	return out
}

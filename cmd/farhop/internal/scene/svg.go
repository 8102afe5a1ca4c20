package scene

import (
	"bufio"
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// SVG writes the picture as SVG 1.1 with paint-order of SVG 2, without scripts,
// outside addresses, or names that could clash when it is put into a page.
func (s *Scene) SVG(w io.Writer) error {
	b := bufio.NewWriter(w)
	fmt.Fprintf(b, `<svg xmlns="http://www.w3.org/2000/svg" role="img" width="%s" height="%s" viewBox="0 0 %s %s" `+
		`font-family="Go, Arial, Helvetica, sans-serif" stroke-linejoin="round">`+"\n",
		number(s.Width), number(s.Height), number(s.Width), number(s.Height))
	fmt.Fprintf(b, "<title>%s</title>\n", escape(s.Title))
	if s.Description != "" {
		fmt.Fprintf(b, "<desc>%s</desc>\n", escape(s.Description))
	}
	if s.Background != None {
		fmt.Fprintf(b, `<rect width="%s" height="%s" fill="%s"/>`+"\n", number(s.Width), number(s.Height), s.Background.hex())
	}
	for _, item := range s.Items {
		switch i := item.(type) {
		case *Path:
			if d := i.data(); d != "" {
				fmt.Fprintf(b, `<path d="%s"%s/>`+"\n", d, i.attributes())
			}
		case *Circle:
			fmt.Fprintf(b, `<circle cx="%s" cy="%s" r="%s"%s/>`+"\n", number(i.Centre.X), number(i.Centre.Y), number(i.Radius), i.attributes())
		case *Text:
			i.svg(b)
		}
	}
	b.WriteString("</svg>\n")
	return b.Flush()
}

func (c Colour) hex() string { return fmt.Sprintf("#%06x", uint32(c)&0xffffff) }

// number writes at most one decimal.
func number(f float64) string {
	f = math.Round(f*10) / 10
	if f == 0 {
		return "0"
	}
	return strconv.FormatFloat(f, 'f', -1, 64)
}

// escape makes text fit for XML; what no XML may hold becomes U+FFFD.
func escape(s string) string {
	var b bytes.Buffer
	if err := xml.EscapeText(&b, []byte(s)); err != nil {
		return ""
	}
	return strings.NewReplacer("&#xA;", "\n", "&#39;", "'", "&#34;", `"`).Replace(b.String())
}

// data writes lines as moves and steps, each rounded against the true place so
// that rounding does not add up.
func (p *Path) data() string {
	var b strings.Builder
	for _, line := range p.Lines {
		if len(line) < 2 {
			continue
		}
		x, y := tenth(line[0].X), tenth(line[0].Y)
		b.WriteString("M" + pair(x, y))
		first := true
		for _, q := range line[1:] {
			dx, dy := tenth(q.X)-x, tenth(q.Y)-y
			if dx == 0 && dy == 0 {
				continue
			}
			step := pair(dx, dy)
			if first {
				step = "l" + step
			} else if dx >= 0 {
				step = " " + step
			}
			b.WriteString(step)
			first = false
			x, y = x+dx, y+dy
		}
		if p.Closed {
			b.WriteByte('Z')
		}
	}
	return b.String()
}

func tenth(f float64) int { return int(math.Round(f * 10)) }

// pair writes two numbers given in tenths, no space before a minus.
func pair(x, y int) string {
	s := tenths(x)
	if y >= 0 {
		s += " "
	}
	return s + tenths(y)
}

func tenths(n int) string { return strconv.FormatFloat(float64(n)/10, 'f', -1, 64) }

// attributes writes a style, leaving out what is the default.
func (s *Style) attributes() string {
	var b strings.Builder
	fill := "none"
	if s.Fill != None {
		fill = s.Fill.hex()
	}
	fmt.Fprintf(&b, ` fill="%s"`, fill)
	if s.Stroke != None && s.Width > 0 {
		fmt.Fprintf(&b, ` stroke="%s" stroke-width="%s"`, s.Stroke.hex(), strconv.FormatFloat(math.Round(s.Width*100)/100, 'f', -1, 64))
		if s.Dash != nil {
			dash := make([]string, len(s.Dash))
			for i, d := range s.Dash {
				dash[i] = number(d)
			}
			fmt.Fprintf(&b, ` stroke-dasharray="%s"`, strings.Join(dash, " "))
		}
	}
	if s.Opacity > 0 && s.Opacity < 1 {
		fmt.Fprintf(&b, ` opacity="%s"`, strconv.FormatFloat(s.Opacity, 'f', -1, 64))
	}
	return b.String()
}

func (t *Text) svg(b *bufio.Writer) {
	fmt.Fprintf(b, `<text x="%s" y="%s" font-size="%s"`, number(t.At.X), number(t.At.Y), number(t.Size))
	if utf8.RuneCountInString(t.String) > shortText {
		fmt.Fprintf(b, ` textLength="%s" lengthAdjust="spacingAndGlyphs"`, number(Measure(t.String, t.Size, t.Bold)))
	}
	switch t.Anchor {
	case Middle:
		b.WriteString(` text-anchor="middle"`)
	case End:
		b.WriteString(` text-anchor="end"`)
	}
	if t.Bold {
		b.WriteString(` font-weight="bold"`)
	}
	if t.Up {
		fmt.Fprintf(b, ` transform="rotate(-90 %s %s)"`, number(t.At.X), number(t.At.Y))
	}
	if t.Halo != None {
		fmt.Fprintf(b, ` stroke="%s" stroke-width="%s" paint-order="stroke"`, t.Halo.hex(), number(haloWidth(t.Size)))
	}
	fmt.Fprintf(b, ` fill="%s">%s</text>`+"\n", t.Fill.hex(), escape(t.String))
}

// shortText is up to how many letters a text may be as long as the viewer's font
// makes it: figures and the like, about equally wide in any.
const shortText = 4

// haloWidth is the width of a stroke that makes a seam around letters.
func haloWidth(size float64) float64 { return size * 0.24 }

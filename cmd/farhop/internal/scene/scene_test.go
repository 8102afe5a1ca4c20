package scene

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image"
	"image/png"
	"io"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func wellFormed(t interface {
	Helper()
	Fatalf(string, ...any)
}, data []byte,
) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(data))
	for {
		_, err := d.Token()
		if errors.Is(err, io.EOF) {
			return
		}
		if err != nil {
			t.Fatalf("not XML: %v in\n%s", err, data)
		}
	}
}

// Whatever a plan is called, the picture stays XML without scripts.
func TestSVGIsWellFormed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := "x" + rapid.String().Draw(t, "name")
		s := &Scene{Width: 100, Height: 50, Title: name, Description: name, Background: 0xffffff}
		s.Add(&Text{At: Point{1, 20}, Size: 12, Fill: 0, Halo: None, String: name}, Line(0x123456, 1, Point{0, 0}, Point{9, 9}))
		var b bytes.Buffer
		if err := s.SVG(&b); err != nil {
			t.Fatalf("%v", err)
		}
		wellFormed(t, b.Bytes())
		if n := strings.Count(b.String(), "<"); n != 10 {
			t.Fatalf("%d tags, want 10: the name broke out\n%s", n, b.String())
		}
	})
}

func TestSVGGolden(t *testing.T) {
	s := &Scene{Width: 40, Height: 30, Title: "A & B", Description: "d", Background: 0xffffff}
	s.Add(
		&Path{Lines: [][]Point{{{1, 2}, {3.04, 2}, {3, -4.26}}}, Closed: true, Style: Style{Fill: 0xff0000, Stroke: None}},
		&Path{Lines: [][]Point{{{0, 0}, {10, 10}}}, Style: Style{Fill: None, Stroke: 0x0000ff, Width: 1.256, Dash: []float64{2, 1.5}, Opacity: 0.5}},
		&Circle{Centre: Point{5, 5}, Radius: 2, Style: Style{Fill: None, Stroke: 0, Width: 1}},
	)
	var b bytes.Buffer
	if err := s.SVG(&b); err != nil {
		t.Fatal(err)
	}
	want := `<svg xmlns="http://www.w3.org/2000/svg" role="img" width="40" height="30" viewBox="0 0 40 30" font-family="Go, Arial, Helvetica, sans-serif" stroke-linejoin="round">
<title>A &amp; B</title>
<desc>d</desc>
<rect width="40" height="30" fill="#ffffff"/>
<path d="M1 2l2 0 0-6.3Z" fill="#ff0000"/>
<path d="M0 0l10 10" fill="none" stroke="#0000ff" stroke-width="1.26" stroke-dasharray="2 1.5" opacity="0.5"/>
<circle cx="5" cy="5" r="2" fill="none" stroke="#000000" stroke-width="1"/>
</svg>
`
	if b.String() != want {
		t.Errorf("got\n%s\nwant\n%s", b.String(), want)
	}
}

// darkness is how many black pixels the painted ones come to.
func darkness(t interface{ Fatalf(string, ...any) }, items ...Item) float64 {
	s := &Scene{Width: 60, Height: 60, Background: 0xffffff, Items: items}
	img, err := s.Raster(2)
	if err != nil {
		t.Fatalf("%v", err)
	}
	sum := 0.0
	for i := 0; i < len(img.Pix); i += 4 {
		sum += 1 - float64(img.Pix[i])/255
	}
	return sum / 4
}

// What is painted has the area that it should have.
func TestRasterArea(t *testing.T) {
	black := Style{Fill: 0, Stroke: None}
	rapid.Check(t, func(t *rapid.T) {
		coordinate := rapid.Float64Range(5, 55)
		a, b, c := Point{coordinate.Draw(t, "ax"), coordinate.Draw(t, "ay")}, Point{coordinate.Draw(t, "bx"), coordinate.Draw(t, "by")}, Point{coordinate.Draw(t, "cx"), coordinate.Draw(t, "cy")}
		want := math.Abs((b.X-a.X)*(c.Y-a.Y)-(c.X-a.X)*(b.Y-a.Y)) / 2
		got := darkness(t, &Path{Lines: [][]Point{{a, b, c}}, Closed: true, Style: black})
		if math.Abs(got-want) > 0.02*want+0.8 {
			t.Fatalf("triangle %v %v %v: area %.2f, want %.2f", a, b, c, got, want)
		}
		length := math.Hypot(b.X-a.X, b.Y-a.Y)
		got = darkness(t, Line(0, 3, a, b))
		if math.Abs(got-3*length) > 0.02*3*length+0.8 {
			t.Fatalf("line %v %v: area %.2f, want %.2f", a, b, got, 3*length)
		}
	})
	for _, c := range []struct {
		name string
		item Item
		want float64
	}{
		{"disc", &Circle{Centre: Point{30, 30}, Radius: 15, Style: black}, math.Pi * 15 * 15},
		{"hole", &Path{Lines: [][]Point{{{10, 10}, {50, 10}, {50, 50}, {10, 50}}, {{20, 20}, {20, 40}, {40, 40}, {40, 20}}}, Closed: true, Style: black}, 1200},
		{"half dashed", &Path{Lines: [][]Point{{{10, 30}, {50, 30}}}, Style: Style{Fill: None, Width: 2, Dash: []float64{5, 5}}}, 40},
		{"half of it outside", &Path{Lines: [][]Point{{{-20, 10}, {20, 10}, {20, 30}, {-20, 30}}}, Closed: true, Style: black}, 400},
		{"half as dark", &Path{Lines: [][]Point{{{10, 10}, {30, 10}, {30, 30}, {10, 30}}}, Closed: true, Style: Style{Fill: 0, Stroke: None, Opacity: 0.5}}, 200},
	} {
		if got := darkness(t, c.item); math.Abs(got-c.want) > 0.02*c.want {
			t.Errorf("%s: area %.1f, want %.1f", c.name, got, c.want)
		}
	}
}

// Painted letters stay in the box that was measured for them.
func TestTextStaysInItsBox(t *testing.T) {
	for _, text := range []*Text{
		{At: Point{30, 30}, Anchor: Middle, Size: 12, String: "HARBOR"},
		{At: Point{5, 30}, Size: 12, String: "äpfel 99+"},
		{At: Point{55, 30}, Anchor: End, Size: 11, Bold: true, String: "MILL 3"},
		{At: Point{30, 50}, Size: 12, Up: true, String: "QUAY"},
		{At: Point{30, 30}, Anchor: Middle, Size: 10, Up: true, String: "330°"},
	} {
		text.Halo = None
		s := &Scene{Width: 60, Height: 60, Background: 0xffffff, Items: []Item{text}}
		img, err := s.Raster(4)
		if err != nil {
			t.Fatal(err)
		}
		box, painted := text.Box(), 0
		for y := range img.Rect.Dy() {
			for x := range img.Rect.Dx() {
				if img.Pix[img.PixOffset(x, y)] > 200 {
					continue
				}
				painted++
				if p := (Box{float64(x) / 4, float64(y) / 4, float64(x+1) / 4, float64(y+1) / 4}); !p.Within(box.Grow(0.8)) {
					t.Fatalf("%q: ink at %v, outside of %v", text.String, p, box)
				}
			}
		}
		if painted < 100 {
			t.Errorf("%q: only %d pixels of ink", text.String, painted)
		}
	}
}

func TestPNG(t *testing.T) {
	s := &Scene{Width: 30, Height: 20, Title: "Net", Description: "What it shows – all", Background: 0xffffff}
	s.Add(&Circle{Centre: Point{15, 10}, Radius: 5, Style: Style{Fill: 0xff0000, Stroke: None}})
	var b bytes.Buffer
	if err := s.PNG(&b, 2); err != nil {
		t.Fatal(err)
	}
	if !bytes.Contains(b.Bytes(), []byte("iTXtDescription\x00\x00\x00\x00\x00What it shows – all")) {
		t.Error("the description is missing")
	}
	img, err := png.Decode(&b) // checks the sums of all chunks
	if err != nil {
		t.Fatal(err)
	}
	if r, g, _, _ := img.At(30, 20).RGBA(); img.Bounds().Dx() != 60 || img.Bounds().Dy() != 40 || r != 0xffff || g != 0 {
		t.Errorf("size %v, middle %v", img.Bounds(), img.At(30, 20))
	}
	want, err := s.Raster(2)
	if err != nil {
		t.Fatal(err)
	}
	for y := range 40 {
		for x := range 60 {
			a, b, c, _ := img.At(x, y).RGBA()
			if r, g, bl, _ := want.At(x, y).RGBA(); a != r || b != g || c != bl {
				t.Fatalf("pixel %d, %d is %v, painted was %v", x, y, img.At(x, y), want.At(x, y))
			}
		}
	}
	for _, scale := range []float64{0, -1, math.NaN(), math.Inf(1), 1000} {
		if err := s.PNG(io.Discard, scale); err == nil {
			t.Errorf("scale %v was taken", scale)
		}
	}
}

// Painted in bands, a picture is what it is in one piece, whatever lies across the
// seams, and the file holds every row.
func TestBands(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := &Scene{Width: 70, Height: rapid.Float64Range(20, 260).Draw(t, "height"), Background: 0xfafafa}
		at := func() Point {
			return Point{rapid.Float64Range(-5, 75).Draw(t, "x"), rapid.Float64Range(-5, s.Height+5).Draw(t, "y")}
		}
		for range rapid.IntRange(1, 6).Draw(t, "items") {
			style := Style{Fill: None, Stroke: 0x204080, Width: rapid.Float64Range(0.3, 6).Draw(t, "width")}
			switch rapid.IntRange(0, 4).Draw(t, "kind") {
			case 0:
				s.Add(&Path{Lines: [][]Point{{at(), at(), at()}}, Style: style})
			case 1:
				style.Dash = []float64{4, 3}
				s.Add(&Path{Lines: [][]Point{{at(), at(), at()}}, Closed: true, Style: style})
			case 2:
				style.Fill = 0xc04020
				s.Add(&Path{Lines: [][]Point{{at(), at(), at()}}, Closed: true, Style: style})
			case 3:
				s.Add(&Circle{Centre: at(), Radius: rapid.Float64Range(1, 40).Draw(t, "r"), Style: style})
			case 4:
				s.Add(&Text{At: at(), Size: rapid.Float64Range(6, 30).Draw(t, "size"), Up: rapid.Bool().Draw(t, "up"), Halo: 0xffffff, Fill: 0, String: "QUARRY 7"})
			}
		}
		got, err := s.Raster(1.5)
		if err != nil {
			t.Fatal(err)
		}
		whole := image.NewRGBA(got.Rect)
		for i := range whole.Pix {
			whole.Pix[i] = []byte{0xfa, 0xfa, 0xfa, 0xff}[i%4]
		}
		r := newRaster(got.Rect.Dx(), got.Rect.Dy())
		r.begin(whole, 0)
		for _, item := range s.Items {
			x := shapeOf(item)
			x.paint(r, 1.5)
		}
		for i := range got.Pix {
			if d := int(got.Pix[i]) - int(whole.Pix[i]); d < -2 || d > 2 {
				t.Fatalf("row %d of %d: %d, in one piece %d", i/got.Stride, got.Rect.Dy(), got.Pix[i], whole.Pix[i])
			}
		}
		var b bytes.Buffer
		if err := s.PNG(&b, 1.5); err != nil {
			t.Fatal(err)
		}
		file, err := png.Decode(&b)
		if err != nil {
			t.Fatal(err)
		}
		for y := range got.Rect.Dy() {
			for x := range got.Rect.Dx() {
				r, g, bl, _ := file.At(x, y).RGBA()
				if a, c, d, _ := got.At(x, y).RGBA(); r != a || g != c || bl != d {
					t.Fatalf("pixel %d, %d of the file differs", x, y)
				}
			}
		}
	})
}

// Wrapping loses no word and keeps to the width.
func TestWrap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOfN(rapid.StringMatching(`[A-Za-z0-9]{1,12}`), 0, 30).Draw(t, "words")
		width := rapid.Float64Range(120, 400).Draw(t, "width")
		lines := Wrap(strings.Join(words, " "), 12, false, width)
		for _, l := range lines {
			if Measure(l, 12, false) > width {
				t.Fatalf("%q is %.1f long, over %.1f", l, Measure(l, 12, false), width)
			}
		}
		if got := strings.Fields(strings.Join(lines, " ")); strings.Join(got, " ") != strings.Join(words, " ") {
			t.Fatalf("%q became %q", words, got)
		}
	})
	if got := Cut("LIGHTHOUSE", 12, false, 40); Measure(got, 12, false) > 40 || !strings.HasSuffix(got, "…") {
		t.Errorf("cut to %q", got)
	}
}

// Dashes share out a line: their length is that part of it.
func TestDashed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 6).Draw(t, "points")
		line := make([]Point, n)
		total := 0.0
		for i := range line {
			line[i] = Point{rapid.Float64Range(0, 100).Draw(t, "x"), rapid.Float64Range(0, 100).Draw(t, "y")}
			if i > 0 {
				total += math.Hypot(line[i].X-line[i-1].X, line[i].Y-line[i-1].Y)
			}
		}
		sum := 0.0
		for _, part := range dashed(line, false, []float64{3, 2}) {
			for i := 1; i < len(part); i++ {
				sum += math.Hypot(part[i].X-part[i-1].X, part[i].Y-part[i-1].Y)
			}
		}
		want := math.Floor(total/5)*3 + math.Min(3, math.Mod(total, 5))
		if math.Abs(sum-want) > 1e-6 {
			t.Fatalf("%.3f of %.3f drawn, want %.3f", sum, total, want)
		}
	})
}

// Contrast ratios as WCAG 2.2 defines them: black on white is 21.
func TestContrast(t *testing.T) {
	if c := Contrast(0, 0xffffff); math.Abs(c-21) > 1e-9 {
		t.Errorf("black on white: %v", c)
	}
	if c := Contrast(0x777777, 0xffffff); math.Abs(c-4.48) > 0.01 {
		t.Errorf("#777777 on white: %v, not 4.48", c)
	}
}

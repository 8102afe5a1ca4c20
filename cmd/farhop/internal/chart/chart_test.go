package chart

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"farhop/cmd/farhop/internal/scene"
	"farhop/cmd/farhop/internal/view"
	"farhop/observations/locator"
)

var ways = []string{view.MapView, view.DiagramView, view.MatrixView}

// sizes are the nets that pictures are checked with: span in degrees of latitude.
var sizes = []struct {
	n    int
	span float64
}{{1, 5}, {2, 0.01}, {5, 12}, {18, 1}, {18, 12}, {40, 0.05}, {41, 140}, {60, 12}, {120, 0.3}, {200, 12}, {300, 12}}

func svg(t *testing.T, s *scene.Scene) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := s.SVG(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// No text touches another or leaves the picture, every station is named (or listed as
// not), and the SVG is well-formed.
func TestTextsKeepApart(t *testing.T) {
	for _, size := range sizes {
		v := invented(size.n, uint64(size.n), size.span)
		if size.n > 4 {
			v.Chain = &view.DrawnChain{Stations: []int{0, 3, 1}, Known: true, Text: "likely, about 8 in 10 by 06:30Z"}
		}
		for _, v.View = range ways {
			t.Run(fmt.Sprintf("%s of %d over %g degrees", v.View, size.n, size.span), func(t *testing.T) {
				s := Scene(v)
				apartAndInside(t, s)
				wellFormed(t, svg(t, s))
				named(t, v, s)
			})
		}
	}
}

func apartAndInside(t *testing.T, s *scene.Scene) {
	t.Helper()
	texts := s.Texts()
	if len(texts) < 4 {
		t.Fatalf("only %d texts", len(texts))
	}
	boxes := make([]scene.Box, len(texts))
	bad := 0
	for i, x := range texts {
		boxes[i] = x.Box()
		if !boxes[i].Within(s.Bounds()) {
			t.Errorf("%q at %v leaves the picture %v", x.String, boxes[i], s.Bounds())
		}
		for j := range i {
			if boxes[i].Overlaps(boxes[j]) {
				if bad++; bad < 6 {
					t.Errorf("%q %v touches %q %v", x.String, boxes[i], texts[j].String, boxes[j])
				}
			}
		}
	}
}

func named(t *testing.T, v *view.Drawing, s *scene.Scene) {
	t.Helper()
	count := map[string]int{}
	var all strings.Builder
	for _, x := range s.Texts() {
		count[x.String]++
		all.WriteString(x.String + " ")
	}
	unnamed := 0
	for i := range v.Nodes {
		n := &v.Nodes[i]
		if v.View == view.MapView && !n.Placed() {
			if !strings.Contains(all.String(), "Without a locator") {
				t.Errorf("the legend doesn't tell of %s", n.Call)
			}
			continue
		}
		want := 1
		if v.View == view.MatrixView {
			want = 2
		}
		if count[n.Call] != want {
			unnamed++
		}
	}
	if unnamed > 0 && !strings.Contains(all.String(), "No room for the names") || unnamed > len(v.Nodes)/50 {
		t.Errorf("%d stations of %d are not named", unnamed, len(v.Nodes))
	}
	left := "Left out: links below 50 %"
	if v.View == view.MatrixView { // has a place for all
		left = " unknown."
	}
	for _, word := range []string{"2026-03-16 02:30Z", left, "not a guarantee"} {
		if !strings.Contains(all.String(), word) {
			t.Errorf("%q is missing", word)
		}
	}
}

func wellFormed(t *testing.T, data []byte) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(data))
	var names []string
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if e, ok := token.(xml.StartElement); ok {
			names = append(names, e.Name.Local)
		}
	}
	if len(names) < 5 || names[0] != "svg" || names[1] != "title" || names[2] != "desc" {
		t.Errorf("it begins with %v", names[:min(5, len(names))])
	}
	for _, bad := range []string{"NaN", "Inf", "http:", "https:", "<script", "href"} {
		if bytes.Contains(bytes.ReplaceAll(data, []byte("http://www.w3.org/2000/svg"), nil), []byte(bad)) {
			t.Errorf("%q is in the SVG", bad)
		}
	}
}

// Equal drawings give equal bytes.
func TestPicturesAreStable(t *testing.T) {
	for _, way := range ways {
		a, b := invented(60, 3, 12), invented(60, 3, 12)
		a.View, b.View = way, way
		if !bytes.Equal(svg(t, Scene(a)), svg(t, Scene(b))) {
			t.Errorf("%s differs from run to run", way)
		}
	}
}

// On a map marks stand where distance and bearing from the centre say.
func TestMarksStandTrue(t *testing.T) {
	v := invented(18, 5, 12)
	v.Centre = 2
	centre := locator.Position{Lat: v.Nodes[2].Lat, Lon: v.Nodes[2].Lon}
	m := &chartMap{v: v, s: &scene.Scene{}, at: map[int]scene.Point{}, shift: map[int]scene.Point{}}
	for i := range v.Nodes {
		m.placed = append(m.placed, i)
	}
	m.aim(900, 0)
	m.stand()
	checked := 0
	for _, n := range m.placed {
		p := locator.Position{Lat: v.Nodes[n].Lat, Lon: v.Nodes[n].Lon}
		dx, dy := m.at[n].X-m.at[2].X-m.shift[n].X+m.shift[2].X, m.at[n].Y-m.at[2].Y-m.shift[n].Y+m.shift[2].Y
		if d := locator.Distance(centre, p); math.Abs(math.Hypot(dx, dy)/m.scale-d) > 1e-6*d+1e-6 {
			t.Errorf("%s is %v km away, drawn at %v", v.Nodes[n].Call, d, math.Hypot(dx, dy)/m.scale)
		}
		if n == 2 {
			continue
		}
		if off := math.Remainder(math.Atan2(dx, -dy)*180/math.Pi-locator.Bearing(centre, p), 360); math.Abs(off) > 1e-6 {
			t.Errorf("%s is off by %v°", v.Nodes[n].Call, off)
		}
		checked++
	}
	if checked != 17 {
		t.Errorf("%d stations checked", checked)
	}
}

// The scale gets evenly lighter, so it holds in grey and for any colour vision, and
// figures on it can be read.
func TestShadesHoldInGrey(t *testing.T) {
	lightness := func(c scene.Colour) float64 { return 116*math.Cbrt(c.Grey()) - 16 } // CIE 1976 L*
	last := lightness(shade(0))
	for k := 1; k <= 10; k++ {
		l := lightness(shade(float64(k) / 10))
		if step := last - l; step < 5 || step > 11 {
			t.Errorf("from %d to %d %% lightness falls by %.1f", 10*k-10, 10*k, step)
		}
		last = l
	}
	for k := range 101 {
		c := shade(float64(k) / 100)
		if r := scene.Contrast(on(c), c); r < 4 {
			t.Errorf("figures at %d %% have a contrast of %.1f", k, r)
		}
	}
	for g := range 8 {
		if r := scene.Contrast(on(groupColour(g)), groupColour(g)); r < 3 {
			t.Errorf("the number of group %d has a contrast of %.1f", g, r)
		}
	}
	style := newLinkStyle(0.5, 10)
	for d := 0.5; d < 1; d += 0.01 {
		if style.width(d+0.01) <= style.width(d) || style.colour(d+0.01).Grey() > style.colour(d).Grey() {
			t.Errorf("a link at %.2f isn't wider and darker than one at %.2f", d+0.01, d)
		}
	}
	if r := scene.Contrast(style.colour(0.5), land); r < 3 {
		t.Errorf("the weakest link has a contrast of %.1f to the land", r)
	}
}

// Kinds of station, doubtful links and ways show without colour.
func TestKindsDifferInShape(t *testing.T) {
	drawn := map[string]string{}
	for _, c := range []struct {
		name string
		draw func(*scene.Scene)
	}{
		{"member", func(s *scene.Scene) { mark(s, scene.Point{}, member, 1, 7) }},
		{"other group", func(s *scene.Scene) { mark(s, scene.Point{}, member, 2, 7) }},
		{"no group", func(s *scene.Scene) { mark(s, scene.Point{}, member, 0, 7) }},
		{"single", func(s *scene.Scene) { mark(s, scene.Point{}, single, 1, 7) }},
		{"isolated", func(s *scene.Scene) { mark(s, scene.Point{}, cutOff, 0, 7) }},
		{"unknown", func(s *scene.Scene) { mark(s, scene.Point{}, unknown, 0, 7) }},
		{"off the air", func(s *scene.Scene) { mark(s, scene.Point{}, asleep, 0, 7) }},
	} {
		s := &scene.Scene{}
		c.draw(s)
		for _, i := range s.Items {
			switch i := i.(type) { // without colours
			case *scene.Path:
				i.Fill, i.Stroke = min(i.Fill, 1<<31)>>31, 0
			case *scene.Circle:
				i.Fill, i.Stroke = min(i.Fill, 1<<31)>>31, 0
			case *scene.Text:
				i.Fill = 0
			}
		}
		key := string(svg(t, s))
		if other, ok := drawn[key]; ok {
			t.Errorf("%s looks like %s", c.name, other)
		}
		drawn[key] = c.name
	}
}

// Boxes pushed apart do not overlap, and the layout is near what is wanted where it
// can be had: a path comes out as a line.
func TestLayout(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 25).Draw(t, "n")
		at, size := make([]scene.Point, n), make([]scene.Point, n)
		for i := range at {
			at[i] = scene.Point{X: rapid.Float64Range(0, 200).Draw(t, "x"), Y: rapid.Float64Range(0, 200).Draw(t, "y")}
			size[i] = scene.Point{X: rapid.Float64Range(10, 80).Draw(t, "w"), Y: rapid.Float64Range(10, 40).Draw(t, "h")}
		}
		separate(at, size, 5)
		for i := range at {
			for j := range i {
				if math.Abs(at[i].X-at[j].X) < (size[i].X+size[j].X)/2+4.9 && math.Abs(at[i].Y-at[j].Y) < (size[i].Y+size[j].Y)/2+4.9 {
					t.Fatalf("%d and %d are too near", i, j)
				}
			}
		}
	})
	edges := [][2]int{{3, 0}, {0, 4}, {4, 1}, {1, 2}}
	at := arrange(5, distances(5, edges, func(int) float64 { return 1 }, 9))
	if d := math.Hypot(at[3].X-at[2].X, at[3].Y-at[2].Y); math.Abs(d-4) > 0.05 {
		t.Errorf("the ends of a path of 4 are %.2f apart", d)
	}
}

// Shortest ways agree with Floyd and Warshall's.
func TestDistances(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 9).Draw(t, "n")
		var edges [][2]int
		var long []float64
		want := make([][]float64, n)
		for i := range want {
			want[i] = slices.Repeat([]float64{50}, n)
			want[i][i] = 0
		}
		for range rapid.IntRange(0, 20).Draw(t, "edges") {
			a, b, l := rapid.IntRange(0, n-1).Draw(t, "a"), rapid.IntRange(0, n-1).Draw(t, "b"), rapid.Float64Range(0.1, 9).Draw(t, "l")
			edges, long = append(edges, [2]int{a, b}), append(long, l)
			want[a][b], want[b][a] = min(want[a][b], l), min(want[b][a], l)
		}
		for k := range n {
			want[k][k] = 0
			for i := range n {
				for j := range n {
					want[i][j] = min(want[i][j], want[i][k]+want[k][j])
				}
			}
		}
		got := distances(n, edges, func(e int) float64 { return long[e] }, 50)
		for i := range n {
			for j := range n {
				if math.Abs(got[i][j]-want[i][j]) > 1e-9 {
					t.Fatalf("%d to %d: %v, want %v", i, j, got[i][j], want[i][j])
				}
			}
		}
	})
}

// A net that is a path comes out in its order; groups stand together; everybody is
// there once.
func TestMatrixOrder(t *testing.T) {
	v := &view.Drawing{Nodes: make([]view.Node, 9), Cells: make([][]view.Cell, 9), Groups: [][]int{{0, 1, 2, 3, 4, 5}, {6, 7}, {8}}}
	for i := range v.Cells {
		v.Cells[i] = make([]view.Cell, 9)
	}
	path := []int{4, 0, 5, 2, 1, 3}
	for k := 1; k < len(path); k++ {
		v.Cells[path[k]][path[k-1]] = view.Cell{State: view.CellOpen, Decode: 0.9}
		v.Cells[path[k-1]][path[k]] = view.Cell{State: view.CellOpen, Decode: 0.9}
	}
	got := matrixOrder(v)
	if first := got[:6]; !slices.Equal(first, path) {
		slices.Reverse(first)
		if !slices.Equal(first, path) {
			t.Errorf("the path comes out as %v", got)
		}
	}
	sorted := slices.Sorted(slices.Values(got))
	if !slices.Equal(sorted, []int{0, 1, 2, 3, 4, 5, 6, 7, 8}) || got[8] != 8 {
		t.Errorf("order %v", got)
	}
}

// Drawn as runs, each unknown and each closed cell of a large matrix is still covered
// once, and no other.
func TestMatrixRuns(t *testing.T) {
	v := invented(41, 9, 12)
	m := &matrix{v: v, order: matrixOrder(v), cell: 10}
	length, area := 0.0, 0.0
	for _, l := range m.unknownRuns() {
		length += (l[1].X - l[0].X) / m.cell
	}
	for _, q := range m.closedRuns() {
		area += (q[1].X - q[0].X) / m.cell
	}
	unknown, closed := 0, 0
	for i := range v.Cells {
		for j := range v.Cells[i] {
			switch v.Cells[i][j].State {
			case view.CellUnknown:
				unknown++
			case view.CellClosed:
				closed++
			}
		}
	}
	if unknown == 0 || closed == 0 || math.Abs(length-float64(unknown)) > 1e-6 || math.Abs(area-float64(closed)) > 1e-6 {
		t.Errorf("%v of %d unknown, %v of %d closed cells are covered", length, unknown, area, closed)
	}
}

// In the matrix unknown and closed directions look different, and figures are printed
// up to 40 stations.
func TestMatrixCells(t *testing.T) {
	v := invented(20, 2, 12)
	v.View = view.MatrixView
	figures := func(v *view.Drawing) (n int) {
		for _, x := range Scene(v).Texts() {
			if x.Size < textSize && x.Anchor == scene.Middle && !x.Bold {
				n++
			}
		}
		return n
	}
	want := 0
	for i := range v.Cells {
		for j := range v.Cells[i] {
			if i != j && (v.Cells[i][j].State == view.CellOpen || v.Cells[i][j].State == view.CellClosed) {
				want++
			}
		}
	}
	if got := figures(v); got < want || got > want+4 { // the legend has some
		t.Errorf("%d figures for %d known directions", got, want)
	}
	big := invented(41, 2, 12)
	big.View = view.MatrixView
	if got := figures(big); got > 4 {
		t.Errorf("%d figures with 41 stations", got)
	}
}

func BenchmarkScene(b *testing.B) {
	for _, n := range []int{18, 60, 200} {
		v := invented(n, 1, 12)
		for _, way := range ways {
			v.View = way
			b.Run(fmt.Sprintf("%s-%d", way, n), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					if err := Scene(v).SVG(io.Discard); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

func BenchmarkPNG(b *testing.B) {
	for _, n := range []int{18, 200} {
		v := invented(n, 1, 12)
		for _, way := range ways {
			v.View = way
			b.Run(fmt.Sprintf("%s-%d", way, n), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					s := Scene(v)
					if err := s.PNG(io.Discard, math.Min(2, 2400/s.Width)); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

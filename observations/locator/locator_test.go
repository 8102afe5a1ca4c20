package locator

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// table reads a file of figures without its header.
func table(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 10 {
		t.Fatal(len(rows), err)
	}
	return rows[1:]
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	f, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// The core of these pairs is Tyson, Conversion between geodetic and grid
// locator systems, QST January 1989, 29–30 and 43; the source of each stands
// in testdata/locators.csv.
func TestPublishedLocators(t *testing.T) {
	kinds := map[string]int{}
	for _, row := range table(t, "testdata/locators.csv") {
		text, kind := row[0], row[3]
		place := Position{number(t, row[1]), number(t, row[2])}
		kinds[kind]++
		centre, err := Parse(text)
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		halfLat, halfLon := halfCell(len(text))
		switch kind {
		case "point":
			got, err := Format(place, len(text))
			if err != nil || !strings.EqualFold(got, text) {
				t.Errorf("%v is in %s, not %s (%v)", place, text, got, err)
			}
		case "centre", "centre3":
			tolerance := map[string]float64{"centre": 1e-9, "centre3": 0.0005 + 1e-9}[kind]
			if math.Abs(centre.Lat-place.Lat) > tolerance || math.Abs(centre.Lon-place.Lon) > tolerance {
				t.Errorf("centre of %s is %v, not %v", text, place, centre)
			}
		case "swcorner":
			if math.Abs(centre.Lat-halfLat-place.Lat) > 1e-9 || math.Abs(centre.Lon-halfLon-place.Lon) > 1e-9 {
				t.Errorf("corner of %s is %v, centre %v", text, place, centre)
			}
		default:
			t.Errorf("unknown kind %q", kind)
		}
	}
	if kinds["point"] < 80 || kinds["centre"] < 10 || kinds["swcorner"] < 2 {
		t.Errorf("too few rows: %v", kinds)
	}
}

// halfCell is half the height and width of an area in degrees.
func halfCell(chars int) (lat, lon float64) {
	n := float64(cells[chars/2])
	return 90 / n, 180 / n
}

func TestParseRefuses(t *testing.T) {
	for _, text := range []string{
		"", "J", "JN", "JN5", "JN58t", "SN58", "JS58", "J558", "JNA8", "JN5A", "JN58yd", "JN58ty", "JN58tdA5", "JN58td2",
		"JN58td25aa00aa00a", "JN58td25aa00aa00aa", "JN 8", "JN5:", "JN5/", "JN58t{", "JN58`a", "ÄN58", "@N58", "[N58", "JN58\x00\x00",
	} {
		if p, err := Parse(text); err == nil {
			t.Errorf("%q was taken for %v", text, p)
		}
		if s, err := Normal(text); err == nil {
			t.Errorf("%q was taken for %s", text, s)
		}
	}
}

func TestParseMessages(t *testing.T) {
	for text, want := range map[string]string{
		"JN":     "4 to 16 characters",
		"JN58t":  "even number",
		"SN58":   "character 1 is not a letter from A to R",
		"JNA8":   "character 3 is not a digit",
		"JN58ty": "character 6 is not a letter from a to x",
	} {
		if _, err := Parse(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", text, err, want)
		}
	}
}

func TestNormal(t *testing.T) {
	for text, want := range map[string]string{
		"jn58": "JN58", "JN58TD25AA00AA00": "JN58td25aa00aa00", "jN58Td": "JN58td",
	} {
		if got, err := Normal(text); got != want || err != nil {
			t.Errorf("%s: %s, %v", text, got, err)
		}
	}
}

func TestFormatAtTheEdges(t *testing.T) {
	for _, c := range []struct {
		p    Position
		want string
	}{
		{Position{90, 0}, "JR09ax"},
		{Position{90, 180}, "AR09ax"}, // a library was seen to answer RS90xa
		{Position{-90, -180}, "AA00aa"},
		{Position{-90, 180}, "AA00aa"},
		{Position{0, 180}, "AJ00aa"},
		{Position{0, -180}, "AJ00aa"},
		{Position{0, 540}, "AJ00aa"},
		{Position{0, 359.9999}, "IJ90xa"},
		{Position{0, -360.0001}, "IJ90xa"},
		{Position{41.7, -72.7}, mustFormat(t, Position{41.7 + 1e-9, -72.7 + 1e-9})},
		{Position{0.7, 0.7}, mustFormat(t, Position{0.7 + 1e-9, 0.7 + 1e-9})},
	} {
		if got, err := Format(c.p, 6); got != c.want || err != nil {
			t.Errorf("%v: %s, want %s (%v)", c.p, got, c.want, err)
		}
	}
}

func mustFormat(t *testing.T, p Position) string {
	t.Helper()
	s, err := Format(p, 6)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestFormatRefuses(t *testing.T) {
	for _, p := range []Position{
		{90.1, 0}, {-91, 0}, {math.NaN(), 0}, {math.Inf(1), 0}, {0, math.NaN()}, {0, math.Inf(-1)},
	} {
		if s, err := Format(p, 6); err == nil {
			t.Errorf("%v was put in %s", p, s)
		}
	}
	for _, chars := range []int{-2, 0, 2, 3, 5, 7, 17, 18} {
		if s, err := Format(Position{}, chars); err == nil {
			t.Errorf("%d characters: %s", chars, s)
		}
	}
}

// The centre of an area lies in it, and what is in an area is no farther from
// its centre than half its height and width.
func TestThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Position{rapid.Float64Range(-90, 90).Draw(t, "lat"), rapid.Float64Range(-180, 180).Draw(t, "lon")}
		chars := 2 * rapid.IntRange(2, 8).Draw(t, "pairs")
		text, err := Format(p, chars)
		if err != nil {
			t.Fatal(err)
		}
		centre, err := Parse(text)
		if err != nil {
			t.Fatal(err)
		}
		lat, lon := halfCell(chars)
		east := math.Remainder(centre.Lon-p.Lon, 360)
		if math.Abs(centre.Lat-p.Lat) > lat+1e-12 || math.Abs(east) > lon+1e-12 {
			t.Fatalf("%v is in %s, whose centre is %v", p, text, centre)
		}
		if again, _ := Format(centre, chars); again != text {
			t.Fatalf("the centre of %s is in %s", text, again)
		}
		if coarse, _ := Format(p, 4); coarse != text[:4] {
			t.Fatalf("%s is not within %s", text, coarse)
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"JN58td", "fn31PR21on", "RR99xx99XX99xx99", "", "A", "RS90xa", "\xff\xfe00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		p, err := Parse(s)
		if err != nil {
			return
		}
		if !(math.Abs(p.Lat) < 90 && math.Abs(p.Lon) < 180) {
			t.Fatalf("%q: %v", s, p)
		}
		again, err := Format(p, len(s))
		if err != nil || !strings.EqualFold(again, s) {
			t.Fatalf("%q: %v, and back %q (%v)", s, p, again, err)
		}
		if normal, err := Normal(s); err != nil || normal != again {
			t.Fatalf("%q: %q, not %q (%v)", s, normal, again, err)
		}
	})
}

func BenchmarkParse(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Parse("JN58td25"); err != nil {
			b.Fatal(err)
		}
	}
}

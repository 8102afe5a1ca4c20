package render

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"farhop/cmd/farhop/internal/view"
	"farhop/observations/locator"
)

// islands is a net across 180°: two stations with places, one without.
func islands() *view.Drawing {
	at := time.Date(2026, 3, 16, 2, 30, 0, 0, time.UTC)
	return &view.Drawing{
		Head: view.Head{Net: "Islands <&>", At: at, Caution: view.Caution, Warnings: []view.Warning{}}, Threshold: 0.5, Centre: -1, View: view.MapView,
		Nodes: []view.Node{
			{Call: "HARBOR", Locator: "RH91aa", Lat: -18.98, Lon: 178.04, Single: true},
			{Call: "MILL", Locator: "AH36aa", Lat: -13.98, Lon: -173.96},
			{Call: "SUMMIT", Note: "isolated"},
		},
		Edges: []view.DrawnLink{
			{From: 0, To: 1, Both: true, Decode: 0.8, There: 0.9, Back: 0.8, KM: 1000.04, Bearing: 58.04, Channels: "night"},
			{From: 2, To: 1, Decode: 0.7, There: 0.7, Channels: "night", Stale: true},
		},
		Groups: [][]int{{0, 1}, {2}},
	}
}

type document struct {
	Type     string
	Features []struct {
		Type     string
		Geometry *struct {
			Type        string
			Coordinates json.RawMessage
		}
		Properties map[string]any
	}
}

// The rules of RFC 7946 that apply: types, members, longitude first, ranges, a line
// has two positions or more and is cut at 180°, places unknown are null.
func TestGeoJSON(t *testing.T) {
	var b strings.Builder
	if err := GeoJSON(&b, islands()); err != nil {
		t.Fatal(err)
	}
	var d document
	if err := json.Unmarshal([]byte(b.String()), &d); err != nil {
		t.Fatal(err)
	}
	if d.Type != "FeatureCollection" || len(d.Features) != 5 || strings.Contains(b.String(), `"crs"`) {
		t.Fatalf("%s with %d features", d.Type, len(d.Features))
	}
	kinds := []string{"Point", "Point", "", "MultiLineString", ""}
	for i, f := range d.Features {
		if f.Type != "Feature" || f.Properties == nil {
			t.Errorf("feature %d: %+v", i, f)
		}
		switch {
		case (f.Geometry == nil) != (kinds[i] == ""):
			t.Errorf("feature %d: geometry %v, want %q", i, f.Geometry, kinds[i])
		case f.Geometry != nil && f.Geometry.Type != kinds[i]:
			t.Errorf("feature %d: %s, want %s", i, f.Geometry.Type, kinds[i])
		}
	}
	if !strings.Contains(b.String(), `"coordinates":[178.04,-18.98]`) {
		t.Error("longitude doesn't come first")
	}
	var lines [][][]float64
	if err := json.Unmarshal(d.Features[3].Geometry.Coordinates, &lines); err != nil {
		t.Fatal(err)
	}
	if len(lines) != 2 || lines[0][len(lines[0])-1][0] != 180 || lines[1][0][0] != -180 || lines[0][len(lines[0])-1][1] != lines[1][0][1] {
		t.Errorf("not cut at 180°: %v", lines)
	}
	checkLines(t, lines)
	p := d.Features[3].Properties
	if p["from"] != "HARBOR" || p["to"] != "MILL" || p["decode"] != 0.9 || p["decode_back"] != 0.8 || p["km"] != 1000.0 {
		t.Errorf("link %v", p)
	}
	if p := d.Features[0].Properties; p["single_point_of_failure"] != true || p["group"] != 1.0 || p["locator"] != "RH91aa" {
		t.Errorf("station %v", p)
	}
}

// The hops of the chosen chain follow the links, in their order; the collection has no
// member that RFC 7946, section 7.1, keeps for others.
func TestGeoJSONChain(t *testing.T) {
	v := islands()
	v.Chain = &view.DrawnChain{Stations: []int{1, 0, 2}, Known: true, Text: "likely"}
	var b strings.Builder
	if err := GeoJSON(&b, v); err != nil {
		t.Fatal(err)
	}
	var d document
	if err := json.Unmarshal([]byte(b.String()), &d); err != nil {
		t.Fatal(err)
	}
	if len(d.Features) != 7 {
		t.Fatalf("%d features", len(d.Features))
	}
	first, second := d.Features[5], d.Features[6]
	if first.Properties["kind"] != "hop" || first.Properties["from"] != "MILL" || first.Properties["to"] != "HARBOR" || first.Properties["hop"] != 1.0 {
		t.Errorf("first hop %v", first.Properties)
	}
	if first.Geometry == nil || first.Geometry.Type != "MultiLineString" || second.Geometry != nil {
		t.Errorf("geometries %v, %v", first.Geometry, second.Geometry)
	}
	var members map[string]json.RawMessage
	if err := json.Unmarshal([]byte(b.String()), &members); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"coordinates", "geometries", "geometry", "properties", "crs"} {
		if _, ok := members[name]; ok {
			t.Errorf("the collection has %q", name)
		}
	}
	v.Chain.Known = false
	b.Reset()
	if err := GeoJSON(&b, v); err != nil || strings.Contains(b.String(), `"hop"`) {
		t.Errorf("an unknown chain is written: %v", err)
	}
}

func checkLines(t *testing.T, lines [][][]float64) {
	t.Helper()
	for _, line := range lines {
		if len(line) < 2 {
			t.Errorf("a line of %d positions", len(line))
		}
		for i, c := range line {
			if len(c) != 2 || math.Abs(c[0]) > 180 || math.Abs(c[1]) > 90 {
				t.Errorf("position %v", c)
			}
			if i > 0 && math.Abs(c[0]-line[i-1][0]) > 180 {
				t.Errorf("%v to %v goes around the earth", line[i-1], c)
			}
		}
	}
}

// Wherever the ends are, the parts of a great circle are lines that together are as
// long as the distance.
func TestGreatCircle(t *testing.T) {
	for _, c := range [][2]locator.Position{
		{{Lat: -41, Lon: 174}, {Lat: -21, Lon: -175}},
		{{Lat: -21, Lon: -175}, {Lat: -41, Lon: 174}},
		{{Lat: 70, Lon: -150}, {Lat: 70, Lon: 60}},
		{{Lat: 10, Lon: 10}, {Lat: 20, Lon: 30}},
		{{Lat: 10, Lon: 180}, {Lat: 20, Lon: -179}},
		{{Lat: 10, Lon: -180}, {Lat: 20, Lon: 179}},
		{{Lat: 5, Lon: 5}, {Lat: 5, Lon: 5}},
	} {
		g := greatCircle(c[0], c[1])
		data, err := json.Marshal(g.Coordinates)
		if err != nil {
			t.Fatal(err)
		}
		if g.Type == "LineString" {
			data = append(append([]byte("["), data...), ']')
		}
		var lines [][][]float64
		if err := json.Unmarshal(data, &lines); err != nil {
			t.Fatal(err)
		}
		checkLines(t, lines)
		sum := 0.0
		for _, line := range lines {
			for i := 1; i < len(line); i++ {
				sum += locator.Distance(locator.Position{Lon: line[i-1][0], Lat: line[i-1][1]}, locator.Position{Lon: line[i][0], Lat: line[i][1]})
			}
		}
		if want := locator.Distance(c[0], c[1]); math.Abs(sum-want) > 0.002*want+0.001 {
			t.Errorf("%v to %v: %.2f km drawn, %.2f apart", c[0], c[1], sum, want)
		}
	}
}

func TestPictureFormats(t *testing.T) {
	starts := map[string]string{"svg": "<svg ", "png": "\x89PNG", "geojson": `{"type":"FeatureCollection"`, "dot": "digraph"}
	for format, start := range starts {
		var b strings.Builder
		if err := Picture(&b, islands(), format); err != nil {
			t.Error(err)
		}
		if !strings.HasPrefix(b.String(), start) {
			t.Errorf("%s begins with %.30q", format, b.String())
		}
	}
	if err := Picture(&strings.Builder{}, islands(), "gif"); err == nil {
		t.Error("gif was taken")
	}
}

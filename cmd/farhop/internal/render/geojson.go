package render

import (
	"encoding/json"
	"io"
	"math"

	"farhop/cmd/farhop/internal/globe"
	"farhop/cmd/farhop/internal/view"
	"farhop/observations/locator"
)

// Features of RFC 7946. Positions are longitude before latitude, in degrees.
type (
	collection struct {
		Type     string         `json:"type"`
		Features []feature      `json:"features"`
		About    map[string]any `json:"about"` // a foreign member, section 6.1
	}
	feature struct {
		Type       string         `json:"type"`
		Geometry   *geometry      `json:"geometry"`
		Properties map[string]any `json:"properties"`
	}
	geometry struct {
		Type        string `json:"type"`
		Coordinates any    `json:"coordinates"`
	}
)

// GeoJSON writes stations as points, open links and the hops of the chosen chain as
// great circles (RFC 7946). A station without a locator, and a line to it, has a null
// geometry.
func GeoJSON(w io.Writer, v *view.Drawing) error {
	c := collection{Type: "FeatureCollection", Features: []feature{}, About: map[string]any{
		"net": v.Net, "at": v.At, "open_threshold": v.Threshold, "unknown_directions": v.UnknownDirections,
		"warnings": v.Warnings, "caution": v.Caution,
	}}
	if v.Evidence != nil {
		c.About["evidence"] = v.Evidence
	}
	if v.Assumed != nil {
		c.About["assumed"] = v.Assumed
	}
	group := v.GroupOf()
	for i := range v.Nodes {
		n := &v.Nodes[i]
		p := map[string]any{"kind": "station", "station": n.Call, "single_point_of_failure": n.Single}
		if group[i] > 0 {
			p["group"] = group[i]
		}
		if n.Note != "" {
			p["note"] = n.Note
		}
		f := feature{Type: "Feature", Properties: p}
		if n.Placed() {
			p["locator"] = n.Locator
			f.Geometry = &geometry{Type: "Point", Coordinates: coordinates(locator.Position{Lat: n.Lat, Lon: n.Lon})}
		}
		c.Features = append(c.Features, f)
	}
	for i := range v.Edges {
		c.Features = append(c.Features, linkFeature(v, &v.Edges[i]))
	}
	c.Features = append(c.Features, chainFeatures(v)...)
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	return e.Encode(c)
}

// chainFeatures are the hops of the chosen chain, in their order.
func chainFeatures(v *view.Drawing) (out []feature) {
	if v.Chain == nil || !v.Chain.Known {
		return nil
	}
	for i := 1; i < len(v.Chain.Stations); i++ {
		from, to := &v.Nodes[v.Chain.Stations[i-1]], &v.Nodes[v.Chain.Stations[i]]
		out = append(out, feature{
			Type: "Feature", Geometry: between(from, to),
			Properties: map[string]any{"kind": "hop", "hop": i, "from": from.Call, "to": to.Call, "chain": v.Chain.Text},
		})
	}
	return out
}

// between is the great circle between two stations, nil when one has no place.
func between(from, to *view.Node) *geometry {
	if !from.Placed() || !to.Placed() {
		return nil
	}
	return greatCircle(locator.Position{Lat: from.Lat, Lon: from.Lon}, locator.Position{Lat: to.Lat, Lon: to.Lon})
}

func linkFeature(v *view.Drawing, e *view.DrawnLink) feature {
	from, to := &v.Nodes[e.From], &v.Nodes[e.To]
	p := map[string]any{
		"kind": "link", "from": from.Call, "to": to.Call, "both_ways": e.Both, "decode": e.There, "channels": e.Channels,
		"stale": e.Stale, "inferred": e.Inferred, "guessed": e.Guessed, "stated": e.Stated,
	}
	if e.Both {
		p["decode_back"] = e.Back
	}
	f := feature{Type: "Feature", Geometry: between(from, to), Properties: p}
	if f.Geometry != nil {
		p["km"] = math.Round(e.KM*10) / 10
		p["bearing_degrees"] = math.Mod(math.Round(e.Bearing*10)/10, 360)
	}
	return f
}

// circleStep is how many km of a great circle are written as a straight piece.
const circleStep = 100

// greatCircle is a line along the great circle, cut at 180° (RFC 7946, 3.1.9).
func greatCircle(a, b locator.Position) *geometry {
	var parts [][][2]float64
	part := [][2]float64{coordinates(a)}
	last := part[0]
	for _, q := range globe.Circle(a, b, circleStep)[1:] {
		c := coordinates(q)
		if math.Abs(c[0]-last[0]) > 180 {
			side := math.Copysign(180, last[0])
			other := c[0] + 2*side
			t := (side - last[0]) / (other - last[0])
			lat := rounded(last[1] + t*(c[1]-last[1]))
			parts = append(parts, append(part, [2]float64{side, lat}))
			part = [][2]float64{{-side, lat}}
		}
		part = append(part, c)
		last = c
	}
	if parts == nil {
		return &geometry{Type: "LineString", Coordinates: part}
	}
	return &geometry{Type: "MultiLineString", Coordinates: append(parts, part)}
}

// coordinates are rounded to six decimals, about a tenth of a metre.
func coordinates(p locator.Position) [2]float64 {
	return [2]float64{rounded(p.Lon), rounded(p.Lat)}
}

func rounded(x float64) float64 { return math.Round(x*1e6) / 1e6 }

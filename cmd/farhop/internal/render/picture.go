package render

import (
	"fmt"
	"io"

	"farhop/cmd/farhop/internal/chart"
	"farhop/cmd/farhop/internal/scene"
	"farhop/cmd/farhop/internal/view"
)

// Picture writes an answer as a picture in the format: any that has one as svg or
// png, a drawing of the net also as dot and geojson.
func Picture(w io.Writer, v any, format string) error {
	drawing, isNet := v.(*view.Drawing)
	s := chart.Of(v)
	switch {
	case format == "dot" && isNet:
		return DOT(w, drawing)
	case format == "geojson" && isNet:
		return GeoJSON(w, drawing)
	case format == "svg" && s != nil:
		return s.SVG(w)
	case format == "png" && s != nil:
		return s.PNG(w, PixelsPerUnit(s))
	}
	return fmt.Errorf("a picture can't be written as %q", format)
}

// PixelsPerUnit is how finely a picture is drawn as PNG: two pixels to a unit, fewer
// when it would be over 2,400 wide or 6,000 high.
func PixelsPerUnit(s *scene.Scene) float64 {
	return max(0.5, min(2, 2400/s.Width, 6000/s.Height))
}

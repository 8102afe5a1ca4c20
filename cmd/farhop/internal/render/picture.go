package render

import (
	"io"

	"farhop/cmd/farhop/internal/chart"
	"farhop/cmd/farhop/internal/view"
)

// SVG draws the net as SVG.
func SVG(w io.Writer, v *view.Drawing) error { return chart.Scene(v).SVG(w) }

// PNG draws the net as a picture of pixels: two to a unit, fewer when it would be
// over 2,400 wide.
func PNG(w io.Writer, v *view.Drawing) error {
	s := chart.Scene(v)
	return s.PNG(w, max(0.5, min(2, 2400/s.Width, 6000/s.Height)))
}

// Package chart lays out a drawing of the net as a scene: as a map, as a diagram
// or as a matrix. Equal drawings give equal scenes.
//
// Nothing is told by colour alone: how well a link decodes also by its width or
// in figures, groups by number, kinds of station by shape, doubtful links by
// dashes.
package chart

import (
	"fmt"
	"math"
	"strings"

	"farhop/cmd/farhop/internal/scene"
	"farhop/cmd/farhop/internal/view"
)

// Scene draws the net as v.View says.
func Scene(v *view.Drawing) *scene.Scene {
	var s *scene.Scene
	switch v.View {
	case view.MapView:
		s = Map(v)
	case view.MatrixView:
		s = Matrix(v)
	default:
		s = Diagram(v)
	}
	s.Width, s.Height = math.Ceil(s.Width), math.Ceil(s.Height)
	return s
}

// blank is an empty picture with its title and description.
func blank(v *view.Drawing, what string) *scene.Scene {
	return &scene.Scene{
		Title: v.Net + ": " + what + ", " + v.Clock.Date(v.At), Background: paper,
		Description: strings.Join(append(append(v.Summary(), v.LeftOut()...), v.Caution,
			"The same in full: farhop draw --format text."), " "),
	}
}

// heading writes the title and the moment, and returns where the picture may
// begin.
func heading(s *scene.Scene, v *view.Drawing, what string, width float64) float64 {
	y := margin + 18.0
	s.Add(&scene.Text{
		At: scene.Point{X: margin, Y: y}, Size: 18, Bold: true, Fill: ink, Halo: scene.None,
		String: scene.Cut(v.Net+": "+what, 18, true, width),
	})
	y += 6
	for _, line := range scene.Wrap(moment(v), textSize, false, width) {
		y += textSize * 1.35
		s.Add(&scene.Text{At: scene.Point{X: margin, Y: y}, Size: textSize, Fill: ink, Halo: scene.None, String: line})
	}
	return y + 10
}

// moment says when the picture holds, and what was assumed.
func moment(v *view.Drawing) string {
	text := "For " + v.Clock.Date(v.At)
	switch {
	case v.Evidence == nil:
		text += ", from the plan alone"
	case v.Evidence.Newest == nil:
		text += ", no evidence yet"
	default:
		text += ", newest evidence " + view.Age(v.At.Sub(*v.Evidence.Newest)) + " old"
	}
	if len(v.Assumed) > 0 {
		text += ". Assumed, against the plan: " + strings.Join(v.Assumed, "; ")
	}
	if c := v.Chain; c != nil {
		calls := make([]string, len(c.Stations))
		for i, k := range c.Stations {
			calls[i] = v.Nodes[k].Call
		}
		text += fmt.Sprintf(". Chain %s: %s", strings.Join(calls, view.Arrow), c.Text)
	}
	return text + "."
}

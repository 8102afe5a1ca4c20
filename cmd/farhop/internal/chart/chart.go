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

// Of draws an answer that has a picture: *view.Drawing, *view.Route, view.Routes,
// *view.Endurance, *view.Backtest, *view.Strip or *view.NetDay; nil for any other.
func Of(v any) *scene.Scene {
	switch v := v.(type) {
	case *view.Drawing:
		return Scene(v)
	case *view.Route:
		return Arrival(view.Routes{v})
	case view.Routes:
		return Arrival(v)
	case *view.Endurance:
		return Batteries(v)
	case *view.Backtest:
		return Reliability(v)
	case *view.Strip:
		return Strip(v)
	case *view.NetDay:
		return NetDay(v)
	}
	return nil
}

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
	return header(s, v.Net+": "+what, moment(v), width)
}

// moment says when the picture holds, what was assumed, and what the chain promises.
func moment(v *view.Drawing) string {
	text := when(&v.Head)
	if c := v.Chain; c != nil {
		calls := make([]string, len(c.Stations))
		for i, k := range c.Stations {
			calls[i] = v.Nodes[k].Call
		}
		text += fmt.Sprintf(". Chain %s: %s", strings.Join(calls, view.Arrow), c.Text)
	}
	return text + "."
}

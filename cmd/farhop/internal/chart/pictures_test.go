package chart

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"farhop/cmd/farhop/internal/scene"
	"farhop/cmd/farhop/internal/view"
)

// update draws the pictures in testdata anew: go test ./cmd/farhop/internal/chart -run Golden -update
var update = flag.Bool("update", false, "draw the pictures in testdata anew")

// A small picture of each kind is drawn as it was: who changes one looks at it.
func TestGolden(t *testing.T) {
	net := invented(5, 1, 12)
	small := map[string]func() *scene.Scene{
		"map":         func() *scene.Scene { return Map(net) },
		"diagram":     func() *scene.Scene { return Diagram(net) },
		"matrix":      func() *scene.Scene { return Matrix(net) },
		"arrival":     func() *scene.Scene { return Arrival(inventedRoutes(2, 1, 60)) },
		"batteries":   func() *scene.Scene { return Batteries(inventedBatteries(3, 1, 24)) },
		"reliability": func() *scene.Scene { return Reliability(inventedScores(1, 1, 900)) },
		"strip":       func() *scene.Scene { return Strip(inventedStrip(2, 1, noon)) },
	}
	for name, draw := range small {
		got := svg(t, draw())
		file := filepath.Join("testdata", name+".svg")
		if *update {
			if err := os.WriteFile(file, got, 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s isn't what is drawn now; look at it, then draw it anew with: go test ./cmd/farhop/internal/chart -run Golden -update", file)
		}
	}
}

// TestPictures writes pictures to be looked at into the folder named by
// FARHOP_PICTURES.
func TestPictures(t *testing.T) {
	dir := os.Getenv("FARHOP_PICTURES")
	if dir == "" {
		t.Skip("FARHOP_PICTURES names no folder to write pictures to")
	}
	write := func(name string, s *scene.Scene) {
		f, err := os.Create(filepath.Join(dir, name+".png"))
		if err != nil {
			t.Fatal(err)
		}
		if err := s.PNG(f, min(1800/s.Width, 6000/s.Height)); err != nil {
			t.Error(err)
		}
		if err := f.Close(); err != nil {
			t.Error(err)
		}
	}
	for _, size := range []struct {
		n    int
		span float64
	}{{5, 12}, {18, 12}, {41, 140}, {60, 12}, {200, 12}, {300, 12}} {
		v := invented(size.n, 1, size.span)
		for _, way := range []string{view.MapView, view.DiagramView, view.MatrixView} {
			v.View = way
			write(fmt.Sprintf("%s-%d", way, size.n), Scene(v))
		}
	}
	for name, v := range answers() {
		write(strings.ReplaceAll(name, " ", "-"), Of(v))
	}
}

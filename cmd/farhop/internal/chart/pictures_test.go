package chart

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"farhop/cmd/farhop/internal/view"
)

// TestPictures writes pictures to be looked at into the folder named by
// FARHOP_PICTURES.
func TestPictures(t *testing.T) {
	dir := os.Getenv("FARHOP_PICTURES")
	if dir == "" {
		t.Skip("FARHOP_PICTURES names no folder to write pictures to")
	}
	for _, size := range []struct {
		n    int
		span float64
	}{{5, 12}, {18, 12}, {41, 140}, {60, 12}, {200, 12}, {300, 12}} {
		v, n := invented(size.n, 1, size.span), size.n
		for _, way := range []string{view.MapView, view.DiagramView, view.MatrixView} {
			v.View = way
			s := Scene(v)
			f, err := os.Create(filepath.Join(dir, fmt.Sprintf("%s-%d.png", way, n)))
			if err != nil {
				t.Fatal(err)
			}
			if err := s.PNG(f, 1800/s.Width); err != nil {
				t.Error(err)
			}
			if err := f.Close(); err != nil {
				t.Error(err)
			}
		}
	}
}

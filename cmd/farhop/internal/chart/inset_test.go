package chart

import (
	"fmt"
	"strings"
	"testing"

	"farhop/cmd/farhop/internal/view"
)

// Maps in a text are small, well-formed and readable, with hops and without; those of one
// station say in words whom it sends to.
func TestInsets(t *testing.T) {
	for _, n := range []int{5, 18, 60, 200} {
		v := invented(n, uint64(n), 8)
		for _, hops := range [][][2]int{nil, {{0, 1}, {0, 3}}} {
			t.Run(fmt.Sprintf("%d stations, %d hops", n, len(hops)), func(t *testing.T) {
				w := *v
				if hops != nil {
					w.Edges = nil
				}
				s := Inset(&w, "a map", hops, 520)
				apartAndInside(t, s)
				text := svg(t, s)
				wellFormed(t, text)
				if hops == nil {
					return
				}
				if len(text) > 16_000 {
					t.Errorf("%d bytes", len(text))
				}
				if want := v.Nodes[0].Call + " sends first to " + v.Nodes[1].Call; !strings.Contains(string(text), want) {
					t.Errorf("%q isn't said", want)
				}
				if names := strings.Count(string(text), "textLength"); n > namesAll && names > 20 {
					t.Errorf("%d names on the map of one station among %d", names, n)
				}
			})
		}
	}
	if s := Inset(&view.Drawing{Nodes: []view.Node{{Call: "A"}}}, "nowhere", nil, 300); s != nil {
		t.Error("a map without a place")
	}
}

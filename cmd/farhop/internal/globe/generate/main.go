// Command generate packs the land of Natural Earth, as the npm package
// world-atlas 2.0.2 holds it, into land.bin. Run it beside the unpacked package:
//
//	npm pack world-atlas@2.0.2 && tar xzf world-atlas-2.0.2.tgz
//	go run ./cmd/farhop/internal/globe/generate package/land-50m.json cmd/farhop/internal/globe/land.bin
//
// land.bin is deflated (RFC 1951). Inside, all numbers are varints: the number of
// rings; for each its number of points; then, for each point, longitude and
// latitude in hundredths of a degree, zigzag, as differences from the point before
// (the first from 0, 0). Rings keep the direction they have in the source: outer
// rings clockwise, holes the other way. Points that fall together after rounding
// are dropped, and so are rings smaller than a hundredth of a degree. Longitude jumps
// by 360° where a ring crosses 180°.
package main

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"os"
)

// topology is as much of TopoJSON 1.0 as the source uses.
type topology struct {
	Transform struct{ Scale, Translate [2]float64 }
	Arcs      [][][2]float64
	Objects   struct {
		Land struct {
			Geometries []struct{ Arcs [][][]int }
		}
	}
}

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "generate:", err)
		os.Exit(1)
	}
}

func run(args []string) error {
	if len(args) != 2 {
		return fmt.Errorf("usage: generate land-50m.json land.bin")
	}
	data, err := os.ReadFile(args[0])
	if err != nil {
		return err
	}
	var t topology
	if err := json.Unmarshal(data, &t); err != nil {
		return err
	}
	packed, err := pack(rings(&t))
	if err != nil {
		return err
	}
	return os.WriteFile(args[1], packed, 0o644)
}

// rings joins the arcs of every ring, in hundredths of a degree.
func rings(t *topology) (out [][][2]int64) {
	for i, arc := range t.Arcs {
		x, y := 0.0, 0.0
		for j, p := range arc {
			x, y = x+p[0], y+p[1]
			t.Arcs[i][j] = [2]float64{x*t.Transform.Scale[0] + t.Transform.Translate[0], y*t.Transform.Scale[1] + t.Transform.Translate[1]}
		}
	}
	for _, g := range t.Objects.Land.Geometries {
		for _, polygon := range g.Arcs {
			for _, ring := range polygon {
				if r := join(t, ring); len(r) >= 3 && !atPole(r) {
					out = append(out, r)
				}
			}
		}
	}
	return out
}

// join follows the arcs of a ring; a negative index ~i is arc i backwards.
func join(t *topology, ring []int) (out [][2]int64) {
	for _, index := range ring {
		arc := t.Arcs[max(index, ^index)]
		for k := range arc {
			p := arc[k]
			if index < 0 {
				p = arc[len(arc)-1-k]
			}
			q := [2]int64{int64(math.Round(p[0] * 100)), int64(math.Round(p[1] * 100))}
			if len(out) == 0 || out[len(out)-1] != q {
				out = append(out, q)
			}
		}
	}
	if n := len(out); n > 1 && out[0] == out[n-1] {
		out = out[:n-1]
	}
	return out
}

// atPole reports whether a ring is but the line at the South Pole with which the
// source closes Antarctica; its coast encloses the pole without it.
func atPole(ring [][2]int64) bool {
	for _, p := range ring {
		if p[1] > -8998 {
			return false
		}
	}
	return true
}

func pack(rings [][][2]int64) ([]byte, error) {
	raw := binary.AppendUvarint(nil, uint64(len(rings)))
	for _, r := range rings {
		raw = binary.AppendUvarint(raw, uint64(len(r)))
	}
	for _, r := range rings {
		var last [2]int64
		for _, p := range r {
			raw = binary.AppendVarint(raw, p[0]-last[0])
			raw = binary.AppendVarint(raw, p[1]-last[1])
			last = p
		}
	}
	var b bytes.Buffer
	w, err := flate.NewWriter(&b, flate.BestCompression)
	if err != nil {
		return nil, err
	}
	if _, err := w.Write(raw); err != nil {
		return nil, err
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

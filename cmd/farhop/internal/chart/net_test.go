package chart

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"farhop/cmd/farhop/internal/view"
	"farhop/observations/locator"
)

// invented is a net of n stations, drawn from a seed: clusters of towns around a
// place, links by distance, some stale, some one way, some members without a
// locator or a link. Stations may stand on the same spot.
func invented(n int, seed uint64, span float64) *view.Drawing {
	r := rand.New(rand.NewPCG(seed, 7))
	v := &view.Drawing{
		Head: view.Head{
			Net: fmt.Sprintf("Invented net of %d", n), At: time.Date(2026, 3, 16, 2, 30, 0, 0, time.UTC), Caution: view.Caution,
			Clock: view.Clock{Day: time.Date(2026, 3, 16, 2, 30, 0, 0, time.UTC)},
		},
		View: view.MapView, Threshold: 0.5, Centre: -1,
	}
	towns := make([]locator.Position, max(2, n/12))
	for i := range towns {
		towns[i] = locator.Position{Lat: -41 + span*(r.Float64()-0.5), Lon: 173 + 1.3*span*(r.Float64()-0.5)}
	}
	names := []string{"HARBOR", "MILL", "SUMMIT", "FERRY", "DEPOT", "QUARRY", "ORCHARD", "SCHOOL", "LIGHTHOUSE", "BAY"}
	for i := range n {
		town := towns[r.IntN(len(towns))]
		spread := span / 8
		p := locator.Position{Lat: town.Lat + spread*r.NormFloat64(), Lon: town.Lon + spread*r.NormFloat64()}
		square, err := locator.Format(locator.Position{Lat: math.Max(-89, math.Min(89, p.Lat)), Lon: p.Lon}, 6)
		if err != nil {
			panic(err)
		}
		p, _ = locator.Parse(square)
		node := view.Node{Call: names[i%len(names)], Locator: square, Lat: p.Lat, Lon: p.Lon}
		if i >= len(names) {
			node.Call = fmt.Sprintf("%s %d", node.Call, i/len(names)+1)
		}
		if i%23 == 22 {
			node.Locator = ""
		}
		switch i % 17 {
		case 13:
			node.Note, node.Alone = "isolated", true
		case 14:
			node.Note, node.Alone = "unknown", true
		case 15:
			node.Note, node.Alone = "off the air", true
		}
		v.Nodes = append(v.Nodes, node)
	}
	v.Cells = make([][]view.Cell, n)
	for i := range v.Cells {
		v.Cells[i] = make([]view.Cell, n)
	}
	reach := 111 * span * math.Min(0.4, 2.2/math.Sqrt(float64(n)))
	for a := range n {
		for b := range a {
			join(v, r, a, b, reach)
		}
	}
	components(v)
	return v
}

// join draws the link between two stations.
func join(v *view.Drawing, r *rand.Rand, a, b int, reach float64) {
	from, to := &v.Nodes[a], &v.Nodes[b]
	if from.Alone || to.Alone {
		v.Cells[a][b].State, v.Cells[b][a].State = view.CellUnknown, view.CellUnknown
		return
	}
	km := locator.Distance(locator.Position{Lat: from.Lat, Lon: from.Lon}, locator.Position{Lat: to.Lat, Lon: to.Lon})
	chance := func() float64 { return 1 / (1 + math.Exp(6*(km/reach-1)+1.2*r.NormFloat64())) }
	e := view.DrawnLink{From: a, To: b, There: chance(), Back: chance(), KM: km, Channels: "night"}
	e.Stale = r.IntN(8) == 0
	e.Inferred = r.IntN(15) == 0
	for _, c := range []struct {
		i, j   int
		decode float64
	}{{b, a, e.There}, {a, b, e.Back}} {
		v.Cells[c.i][c.j] = view.Cell{State: view.CellClosed, Decode: c.decode, Stale: e.Stale}
		if c.decode >= v.Threshold {
			v.Cells[c.i][c.j].State = view.CellOpen
		}
	}
	switch {
	case e.There >= v.Threshold && e.Back >= v.Threshold:
		e.Both, e.Decode = true, math.Min(e.There, e.Back)
	case e.There >= v.Threshold:
		e.Decode, e.Back = e.There, 0
	case e.Back >= v.Threshold:
		e.From, e.To = b, a
		e.Decode, e.There, e.Back = e.Back, e.Back, 0
	default:
		return
	}
	if e.Stale {
		v.StaleLinks++
	}
	v.Edges = append(v.Edges, e)
}

// components makes groups of what is joined both ways, and marks the best joined
// station of each large one as a single point of failure.
func components(v *view.Drawing) {
	root := make([]int, len(v.Nodes))
	degree := make([]int, len(v.Nodes))
	for i := range root {
		root[i] = i
	}
	var find func(int) int
	find = func(i int) int {
		if root[i] != i {
			root[i] = find(root[i])
		}
		return root[i]
	}
	for i := range v.Edges {
		if e := &v.Edges[i]; e.Both {
			root[find(e.From)] = find(e.To)
			degree[e.From]++
			degree[e.To]++
		}
	}
	for want := range len(v.Nodes) {
		size := len(v.Nodes) - want
		for i := range v.Nodes {
			var g []int
			for j := range v.Nodes {
				if find(j) == i {
					g = append(g, j)
				}
			}
			if len(g) != size {
				continue
			}
			v.Groups = append(v.Groups, g)
			if size > 3 {
				best := g[0]
				for _, j := range g {
					if degree[j] > degree[best] {
						best = j
					}
				}
				v.Nodes[best].Single = true
			}
		}
	}
}

package cut

import (
	"encoding/json"
	"os"
	"slices"
	"testing"
)

// publishedGraph is a graph of testdata/graphs.json, whose README says where each comes from.
type publishedGraph struct {
	Name, Root         string
	Edges              [][2]string
	IDom               map[string]string
	Directed           bool
	S, T               string
	N                  int         `json:"n"`
	NodeConnectivity   int         `json:"node_connectivity"`
	ArticulationPoints []string    `json:"articulation_points"`
	Bridges            [][2]string `json:"bridges"`
	PowerCoefficients  []float64   `json:"power_coefficients"`
}

type publishedGraphs struct {
	CutStructure []publishedGraph `json:"cut_structure"`
	Dominators   []publishedGraph
	Reliability  map[string]publishedGraph
}

func published(t testing.TB) (all publishedGraphs) {
	t.Helper()
	data, err := os.ReadFile("testdata/graphs.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, &all); err != nil {
		t.Fatal(err)
	}
	if len(all.CutStructure) == 0 || len(all.Dominators) == 0 || len(all.Reliability) == 0 {
		t.Fatal("testdata/graphs.json lacks a part")
	}
	return all
}

// pairs returns the edges between stations numbered as they first appear, in
// both directions if asked for.
func (p publishedGraph) pairs(twoWay bool) (pairs [][2]int, number map[string]int) {
	number = map[string]int{}
	for _, e := range p.Edges {
		var ends [2]int
		for i, name := range e {
			if _, ok := number[name]; !ok {
				number[name] = len(number)
			}
			ends[i] = number[name]
		}
		pairs = append(pairs, ends)
		if twoWay {
			pairs = append(pairs, [2]int{ends[1], ends[0]})
		}
	}
	return pairs, number
}

func (p publishedGraph) arcs(twoWay bool) (*arcs, map[string]int) {
	pairs, number := p.pairs(twoWay)
	slices.SortFunc(pairs, func(x, y [2]int) int { return slices.Compare(x[:], y[:]) })
	var sorted [][2]int32
	for _, e := range pairs {
		sorted = append(sorted, [2]int32{int32(e[0]), int32(e[1])})
	}
	return newArcs(len(number), sorted), number
}

// TestPublishedCuts: made two-way, a graph's cut vertices are its single
// stations, and both directions of its bridges its single links.
func TestPublishedCuts(t *testing.T) {
	for _, p := range published(t).CutStructure {
		t.Run(p.Name, func(t *testing.T) {
			pairs, number := p.pairs(true)
			if len(number) != p.N {
				t.Fatalf("%d stations, want %d", len(number), p.N)
			}
			opt := Defaults()
			opt.Reach, opt.StationPairs = false, p.N < 50
			opt.Pairs = AllPairs(p.N)
			r, err := Analyse(t.Context(), certain(t, p.N, pairs...), opt)
			if err != nil {
				t.Fatal(err)
			}
			var got, want []int
			for _, s := range r.SingleStations {
				got = append(got, s.Station)
				if !s.Certain {
					t.Errorf("station %d not certain on links that always decode", s.Station)
				}
			}
			for _, name := range p.ArticulationPoints {
				want = append(want, number[name])
			}
			slices.Sort(got)
			slices.Sort(want)
			if !slices.Equal(got, want) {
				t.Errorf("single stations %v, want %v", got, want)
			}
			checkBridges(t, r, p, number)
			checkConnectivity(t, r, p)
		})
	}
}

func checkBridges(t *testing.T, r *Report, p publishedGraph, number map[string]int) {
	t.Helper()
	var got, want [][2]int
	for _, l := range r.SingleLinks {
		got = append(got, [2]int{l.From, l.To})
	}
	for _, b := range p.Bridges {
		u, v := number[b[0]], number[b[1]]
		want = append(want, [2]int{u, v}, [2]int{v, u})
	}
	order := func(x, y [2]int) int { return slices.Compare(x[:], y[:]) }
	slices.SortFunc(got, order)
	slices.SortFunc(want, order)
	if !slices.Equal(got, want) {
		t.Errorf("single links %v, want %v", got, want)
	}
}

// checkConnectivity: the connectivity of a graph that is not complete is its
// smallest cut over all pairs; a graph with connectivity above 1 has no single
// station, above 2 no pair either.
func checkConnectivity(t *testing.T, r *Report, p publishedGraph) {
	t.Helper()
	least := p.N
	for _, q := range r.Pairs {
		if !q.Direct {
			least = min(least, len(q.Cut))
		}
	}
	if least != p.NodeConnectivity {
		t.Errorf("smallest cut %d, want %d", least, p.NodeConnectivity)
	}
	if p.NodeConnectivity > 2 && len(r.StationPairs) > 0 {
		t.Errorf("pairs %v although it takes three", r.StationPairs)
	}
	if p.NodeConnectivity == 2 && p.N < 50 && len(r.StationPairs) == 0 {
		t.Error("no pair although two suffice")
	}
}

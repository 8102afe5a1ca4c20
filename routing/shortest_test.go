package routing

import (
	"encoding/json"
	"math/rand/v2"
	"os"
	"slices"
	"testing"
)

// published is a graph with letters for stations and what was published of it.
type published struct {
	From, To string
	Edges    [][3]any
	First    [][]string
	Costs    []int64
	ThirdTie [][]string `json:"third_tie"`
	Pair     [][]string
	Total    int64
}

func (p published) graph() *roads {
	out := make([][]arc, 8)
	for _, e := range p.Edges {
		v := letter(e[0].(string))
		out[v] = append(out[v], arc{to: letter(e[1].(string)), weight: int64(e[2].(float64))})
	}
	return newRoads(out)
}

func letter(s string) int { return int(s[0] - 'A') }

func letters(stations []int) []string {
	var s []string
	for _, v := range stations {
		s = append(s, string(rune('A'+v)))
	}
	return s
}

func readShared[T any](t testing.TB, file string) T {
	t.Helper()
	var v T
	b, err := os.ReadFile("testdata/" + file)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

// J. Y. Yen, Finding the K shortest loopless paths in a network, Management
// Science 17 (1971) 712–716; example as in Wikipedia, revision 841018784. The
// third place is a tie of three.
func TestKShortestYenExample(t *testing.T) {
	p := readShared[map[string]published](t, "shortest.json")["yen"]
	g := p.graph()
	found := kShortest(g, letter(p.From), letter(p.To), 10, 7)
	var costs []int64
	for _, f := range found {
		costs = append(costs, f.weight)
	}
	if !slices.Equal(costs, p.Costs) {
		t.Fatalf("costs %v, published %v", costs, p.Costs)
	}
	for i, want := range p.First {
		if got := letters(found[i].stations); !slices.Equal(got, want) {
			t.Errorf("trail %d is %v, published %v", i+1, got, want)
		}
	}
	third := letters(found[2].stations)
	if !slices.ContainsFunc(p.ThirdTie, func(w []string) bool { return slices.Equal(third, w) }) {
		t.Errorf("third trail %v is none of the tie %v", third, p.ThirdTie)
	}
	if want := []string{"C", "D", "F", "H"}; !slices.Equal(third, want) {
		t.Errorf("third trail %v: ties go to fewer hops, then stations in order: %v", third, want)
	}
}

// J. W. Suurballe, Networks 4 (1974) 125–145. Taking the shortest trail away
// first would leave no second one.
func TestDisjointPairSuurballeExample(t *testing.T) {
	p := readShared[map[string]published](t, "shortest.json")["suurballe"]
	pair, ok := disjointPair(p.graph(), letter(p.From), letter(p.To))
	if !ok {
		t.Fatal("no pair found")
	}
	if total := pair[0].weight + pair[1].weight; total != p.Total {
		t.Errorf("total %d, published %d", total, p.Total)
	}
	for i, want := range p.Pair {
		if got := letters(pair[i].stations); !slices.Equal(got, want) {
			t.Errorf("trail %d is %v, published %v", i, got, want)
		}
	}
}

// randomRoads draws a graph with parallel arcs and many equal weights.
func randomRoads(r *rand.Rand, n int) *roads {
	out := make([][]arc, n)
	for v := range n {
		for u := range n {
			for c := range 2 {
				if u != v && r.IntN(3) == 0 {
					out[v] = append(out[v], arc{to: u, channel: c, weight: int64(r.IntN(4))})
				}
			}
		}
	}
	return newRoads(out)
}

// allTrails is every simple trail of at most so many hops, in order.
func allTrails(g *roads, from, to, hops int) []trail {
	var all []trail
	var walk func(t trail)
	walk = func(t trail) {
		at := t.stations[len(t.stations)-1]
		if at == to {
			all = append(all, t)
			return
		}
		if len(t.channels) == hops {
			return
		}
		for _, a := range g.from(at) {
			if !slices.Contains(t.stations, a.to) {
				walk(trail{t.weight + a.weight, append(slices.Clone(t.stations), a.to), append(slices.Clone(t.channels), a.channel)})
			}
		}
	}
	walk(trail{stations: []int{from}})
	slices.SortFunc(all, compareTrails)
	return all
}

func TestKShortestEqualsEnumeration(t *testing.T) {
	for seed := range uint64(1500) {
		r := rand.New(rand.NewPCG(seed, 1))
		g := randomRoads(r, 3+r.IntN(5))
		hops, k := 1+r.IntN(6), 1+r.IntN(12)
		want := allTrails(g, 0, 1, hops)
		want = want[:min(k, len(want))]
		got := kShortest(g, 0, 1, k, hops)
		if !slices.EqualFunc(got, want, func(a, b trail) bool { return compareTrails(a, b) == 0 }) {
			t.Fatalf("seed %d, k %d, hops %d:\ngot  %v\nwant %v", seed, k, hops, got, want)
		}
	}
}

// separate reports whether two trails share no relay and no arc.
func separate(a, b trail) bool {
	for _, v := range a.stations[1 : len(a.stations)-1] {
		if slices.Contains(b.stations[1:len(b.stations)-1], v) {
			return false
		}
	}
	return len(a.channels) > 1 || len(b.channels) > 1 || a.channels[0] != b.channels[0]
}

func TestDisjointPairEqualsEnumeration(t *testing.T) {
	pairs := 0
	for seed := range uint64(1500) {
		r := rand.New(rand.NewPCG(seed, 2))
		n := 3 + r.IntN(4)
		g := randomRoads(r, n)
		all := allTrails(g, 0, 1, n)
		best := int64(far)
		for i, a := range all {
			for _, b := range all[i+1:] {
				if separate(a, b) {
					best = min(best, a.weight+b.weight)
				}
			}
		}
		pair, ok := disjointPair(g, 0, 1)
		if ok != (best < far) {
			t.Fatalf("seed %d: pair found %v, enumeration %v", seed, ok, best < far)
		}
		if !ok {
			continue
		}
		pairs++
		if pair[0].weight+pair[1].weight != best || !separate(pair[0], pair[1]) {
			t.Fatalf("seed %d: pair %v, least total %d", seed, pair, best)
		}
	}
	if pairs < 100 {
		t.Fatalf("only %d graphs had a pair", pairs)
	}
}

func BenchmarkKShortest8Of200x12(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	out := make([][]arc, 200)
	for v := range out {
		for range 12 {
			out[v] = append(out[v], arc{to: r.IntN(200), weight: 1 + int64(r.IntN(1000))})
		}
	}
	g := newRoads(out)
	b.ReportAllocs()
	for b.Loop() {
		kShortest(g, 0, 199, 8, 5)
	}
}

package meshtest

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"farhop/mesh"
)

// Published is a graph from the literature with what is known about it.
type Published struct {
	Name        string            `json:"name"`
	Source      string            `json:"source"` // citation
	Directed    bool              `json:"directed"`
	Edges       [][2]string       `json:"edges"`
	CutVertices []string          `json:"cut_vertices"` // whose loss parts others, undirected graphs
	Bridges     [][2]string       `json:"bridges"`      // edges whose loss parts others, undirected graphs
	Root        string            `json:"root"`         // directed graphs
	Idom        map[string]string `json:"idom"`         // immediate dominator from Root, directed graphs
}

// Graph returns the published graph of that name from the repository's
// testdata: karate, florentine, miserables, kite, petersen, barbell,
// lengauer-tarjan or dominators-small. It ends the test where there is none.
func Graph(tb testing.TB, name string) Published {
	tb.Helper()
	data, err := os.ReadFile(filepath.Join(Root(tb), "testdata", "graphs.json"))
	if err != nil {
		tb.Fatal(err)
	}
	var all []Published
	if err := json.Unmarshal(data, &all); err != nil {
		tb.Fatal(err)
	}
	for _, g := range all {
		if g.Name == name {
			return g
		}
	}
	tb.Fatalf("meshtest: no published graph %q", name)
	return Published{}
}

// Names lists the nodes in order; numbers by value.
func (g Published) Names() []string {
	var list []string
	for _, e := range g.Edges {
		list = append(list, e[0], e[1])
	}
	slices.SortFunc(list, compare)
	return slices.Compact(list)
}

func compare(a, b string) int {
	x, errX := strconv.Atoi(a)
	y, errY := strconv.Atoi(b)
	if errX == nil && errY == nil {
		return x - y
	}
	return strings.Compare(a, b)
}

// Arcs returns the edges as pairs of indexes into Names, those of an undirected
// graph in both directions, sorted.
func (g Published) Arcs() [][2]int {
	names := g.Names()
	at := func(name string) int {
		i, _ := slices.BinarySearchFunc(names, name, compare)
		return i
	}
	var arcs [][2]int
	for _, e := range g.Edges {
		u, v := at(e[0]), at(e[1])
		arcs = append(arcs, [2]int{u, v})
		if !g.Directed {
			arcs = append(arcs, [2]int{v, u})
		}
	}
	slices.SortFunc(arcs, func(a, b [2]int) int { return slices.Compare(a[:], b[:]) })
	return slices.Compact(arcs)
}

// Call is the planning name that Net gives a node: in upper case, numbers with
// a leading N and at least two figures.
func (g Published) Call(node string) string {
	if number, err := strconv.Atoi(node); err == nil {
		return fmt.Sprintf("N%02d", number)
	}
	return strings.ToUpper(node)
}

// Net makes the graph a net on channel day whose links all decode with the same
// chance. Stations have the names that Call gives them; where the nodes are numbers, a
// station's index is its node's in Names.
func (g Published) Net(tb testing.TB, decode float64) *mesh.Net {
	tb.Helper()
	p := parser{channels: []string{"day"}}
	names := g.Names()
	for _, name := range names {
		p.stations = append(p.stations, g.Call(name))
	}
	for _, arc := range g.Arcs() {
		value := mesh.FixedLink{Decode: decode, HasDecode: true}
		p.links = append(p.links, namedLink{g.Call(names[arc[0]]), g.Call(names[arc[1]]), "day", value})
	}
	n, err := p.net()
	if err != nil {
		tb.Fatal(err)
	}
	return n
}

// Root is the folder of the module, above the folder of the test that runs.
func Root(tb testing.TB) string {
	tb.Helper()
	dir, err := os.Getwd()
	if err != nil {
		tb.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		up := filepath.Dir(dir)
		if up == dir {
			tb.Fatal("meshtest: no go.mod above the test's folder")
		}
		dir = up
	}
}

// Shared returns the path of a file or folder beside the repository that holds
// real reports, and skips the test where it is absent.
func Shared(tb testing.TB, elements ...string) string {
	tb.Helper()
	path := filepath.Join(append([]string{Root(tb), "..", "shared"}, elements...)...)
	if _, err := os.Stat(path); err != nil {
		tb.Skipf("real reports are not here: %v", err)
	}
	return path
}

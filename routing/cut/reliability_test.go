package cut

import (
	"encoding/csv"
	"math"
	"math/big"
	"os"
	"strconv"
	"strings"
	"testing"
)

// reliabilityNet builds a published graph with these chances in order of its
// edges. An undirected edge is a link each way: the two never help the same
// chain, and two-terminal reliability stays the same when they are independent.
func reliabilityNet(t *testing.T, p publishedGraph, directed func(edge int) bool, chance func(edge int) float64) (*Graph, [2]int) {
	t.Helper()
	pairs, number := p.pairs(false)
	var links []Link
	for i, e := range pairs {
		links = append(links, fixed(e[0], e[1], chance(i)))
		if !directed(i) {
			links = append(links, fixed(e[1], e[0], chance(i)))
		}
	}
	g, err := New(len(number), links)
	if err != nil {
		t.Fatal(err)
	}
	return g, [2]int{number[p.S], number[p.T]}
}

func reachOf(t *testing.T, g *Graph, pair [2]int) Pair {
	t.Helper()
	opt := Defaults()
	opt.Pairs = [][2]int{pair}
	r, err := Analyse(t.Context(), g, opt)
	if err != nil {
		t.Fatal(err)
	}
	if p := r.Pairs[0]; p.Exact && p.Low == p.Reach && p.High == p.Reach {
		return p
	}
	t.Fatalf("not exact: %+v", r.Pairs[0])
	return Pair{}
}

// TestReliabilityPolynomials at chances all over 0…1.
func TestReliabilityPolynomials(t *testing.T) {
	for name, p := range published(t).Reliability {
		t.Run(name, func(t *testing.T) {
			for chance := 0.0; chance <= 1; chance += 0.05 {
				want := 0.0
				for i := len(p.PowerCoefficients) - 1; i >= 0; i-- {
					want = want*chance + p.PowerCoefficients[i]
				}
				g, pair := reliabilityNet(t, p, func(int) bool { return p.Directed }, func(int) float64 { return chance })
				if got := reachOf(t, g, pair).Reach; math.Abs(got-want) > 1e-12 {
					t.Errorf("p = %.2f: %v, want %v", chance, got, want)
				}
			}
		})
	}
}

// TestReliabilityTable checks the exact fractions of testdata/reliability.csv.
func TestReliabilityTable(t *testing.T) {
	file, err := os.Open("testdata/reliability.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	all := published(t).Reliability
	checked := 0
	for _, row := range rows[1:] {
		exact, ok := new(big.Rat).SetString(row[2])
		if !ok {
			t.Fatalf("row %v: no fraction", row)
		}
		want, _ := exact.Float64()
		if listed, err := strconv.ParseFloat(row[3], 64); err != nil || math.Abs(listed-want) > 1e-15 {
			t.Errorf("row %v: the fraction is %v", row, want)
		}
		name, unequal := row[0], strings.HasPrefix(row[0], "bridge_unequal")
		chances := []float64{0.9, 0.8, 0.7, 0.6, 0.95} // s–a, s–b, a–b, a–t, b–t
		middle := strings.HasSuffix(name, "directed_a->b")
		if unequal {
			name = "bridge"
		}
		p, known := all[name]
		if !known {
			t.Fatalf("row %v: no such graph", row)
		}
		g, pair := reliabilityNet(t, p, func(i int) bool { return p.Directed || middle && i == 2 }, func(i int) float64 {
			if unequal {
				return chances[i]
			}
			f, _ := new(big.Rat).SetString(row[1])
			c, _ := f.Float64()
			return c
		})
		if got := reachOf(t, g, pair).Reach; math.Abs(got-want) > 1e-14 {
			t.Errorf("row %v: %v", row, got)
		}
		checked++
	}
	if checked < 30 {
		t.Errorf("only %d rows", checked)
	}
}

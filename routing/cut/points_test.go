package cut

import (
	"context"
	"errors"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
)

// TestSingleStationsBrute takes every station away in turn.
func TestSingleStationsBrute(t *testing.T) {
	shown := 0
	randomNets(t, 3000, 10, func(t *testing.T, a *arcs) {
		l, err := countLosses(t.Context(), a)
		if err != nil {
			t.Fatal(err)
		}
		before := connected(a, -1)
		if total := len(lostPairs(before, connected(newArcs(a.n, nil), -1))); total != l.connected {
			t.Errorf("%d connected pairs, want %d", l.connected, total)
		}
		got := map[int]SingleStation{}
		for _, s := range singleStations(a, l) {
			got[s.Station] = s
		}
		for v := range a.n {
			after := connected(a, -1, v)
			lost := lostPairs(before, after, v)
			if got[v].PairsLost != len(lost) {
				t.Errorf("without %d: %d pairs lost, want %d", v, got[v].PairsLost, len(lost))
			}
			if len(lost) > 0 {
				shown++
				if want := bruteCutOff(before, after, v); !slices.Equal(got[v].CutsOff, want) {
					t.Errorf("without %d: cuts off %v, want %v", v, got[v].CutsOff, want)
				}
			}
		}
	})
	if shown < 1000 {
		t.Errorf("only %d single stations in all nets", shown)
	}
}

// bruteCutOff follows the definition: the largest group left, and who loses a
// direction to or from it.
func bruteCutOff(before, after [][]bool, lost int) (off []int) {
	n := len(before)
	group := func(c [][]bool, v int) (g []int) {
		for x := range n {
			if x == v || c[v][x] && c[x][v] {
				g = append(g, x)
			}
		}
		return g
	}
	var main []int
	for v := range n {
		if g := group(after, v); v != lost && len(g) > len(main) {
			main = g
		}
	}
	for x := range n {
		if x == lost || slices.Contains(main, x) {
			continue
		}
		to, from := before[x][main[0]], before[main[0]][x]
		if to && !after[x][main[0]] || from && !after[main[0]][x] {
			off = append(off, x)
		}
	}
	return off
}

// TestSingleLinksBrute takes every link away in turn.
func TestSingleLinksBrute(t *testing.T) {
	randomNets(t, 3000, 10, func(t *testing.T, a *arcs) {
		l, err := countLosses(t.Context(), a)
		if err != nil {
			t.Fatal(err)
		}
		before := connected(a, -1)
		got := map[[2]int]int{}
		for _, s := range singleLinks(a, l) {
			got[[2]int{s.From, s.To}] = s.PairsLost
		}
		for e := range a.head {
			p := [2]int{int(a.tail[e]), int(a.head[e])}
			if want := len(lostPairs(before, connected(a, e))); got[p] != want {
				t.Errorf("without %v: %d pairs lost, want %d", p, got[p], want)
			}
		}
	})
}

func TestCutsOff(t *testing.T) {
	tests := []struct {
		name  string
		n     int
		pairs [][2]int
		lose  int
		want  []int
	}{
		{"end of a line, tie to the lower", 3, both([2]int{0, 1}, [2]int{1, 2}), 1, []int{2}},
		{"the smaller side", 5, both([2]int{0, 1}, [2]int{1, 2}, [2]int{2, 3}, [2]int{3, 4}, [2]int{2, 4}), 1, []int{0}},
		{"only ever heard", 4, append(both([2]int{0, 1}), [2]int{1, 2}, [2]int{2, 3}), 2, []int{3}},
		{
			"keeps one way of two", 5,
			append(both([2]int{0, 1}, [2]int{1, 4}, [2]int{0, 4}, [2]int{0, 2}), [2]int{2, 3}, [2]int{3, 1}), 2,
			[]int{3},
		},
		{
			"two outsiders lose each other only", 6,
			append(both([2]int{0, 1}), [2]int{2, 3}, [2]int{3, 4}), 3, nil,
		},
		{"nobody left", 1, nil, 0, nil},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			a := certain(t, tt.n, tt.pairs...).open(0.5, false)
			if got := newWalker(tt.n).cutOff(a, int32(tt.lose)); !slices.Equal(got, tt.want) {
				t.Errorf("cuts off %v, want %v", got, tt.want)
			}
		})
	}
}

// TestStillSingle compares the shortened question with the full count.
func TestStillSingle(t *testing.T) {
	randomNets(t, 1000, 12, func(t *testing.T, a *arcs) {
		l, _ := countLosses(t.Context(), a)
		for v := range a.n {
			shown, err := stillSingle(t.Context(), a, []int{v})
			if err != nil {
				t.Fatal(err)
			}
			if shown[v] != (l.station[v] > 0) {
				t.Errorf("station %d: %v with %d pairs lost", v, shown[v], l.station[v])
			}
		}
	})
}

// TestStationPairsBrute takes every two stations away.
func TestStationPairsBrute(t *testing.T) {
	shown := 0
	randomNets(t, 2000, 9, func(t *testing.T, a *arcs) {
		l, _ := countLosses(t.Context(), a)
		got, err := stationPairs(t.Context(), a, l)
		if err != nil {
			t.Fatal(err)
		}
		before := connected(a, -1)
		var want []StationPair
		for u := range a.n {
			for v := u + 1; v < a.n; v++ {
				lost := lostPairs(before, connected(a, -1, u, v), u, v)
				alone := append(lostPairs(before, connected(a, -1, u), u), lostPairs(before, connected(a, -1, v), v)...)
				if slices.ContainsFunc(lost, func(p [2]int) bool { return !slices.Contains(alone, p) }) {
					want = append(want, StationPair{u, v, len(lost)})
				}
			}
		}
		slices.SortStableFunc(want, func(x, y StationPair) int { return y.PairsLost - x.PairsLost })
		shown += len(want)
		if !slices.Equal(got, want) {
			t.Errorf("pairs %v, want %v", got, want)
		}
	})
	if shown < 1000 {
		t.Errorf("only %d pairs in all nets", shown)
	}
}

// TestClosureLarge: sets of more than 64 stations, against Warshall's closure.
func TestClosureLarge(t *testing.T) {
	for seed := range uint64(6) {
		rng := rand.New(rand.NewPCG(seed, 6))
		a := random(rng, 130, 0.008+0.004*float64(seed), 0.3)
		c := newClosure(a.n)
		for range 3 {
			u, v := rng.IntN(a.n), rng.IntN(a.n)
			want := len(lostPairs(connected(a, -1, u, v), connected(newArcs(a.n, nil), -1)))
			if got := c.connected(a, int32(u), int32(v)); got != want {
				t.Errorf("seed %d without %d and %d: %d pairs, want %d", seed, u, v, got, want)
			}
		}
	}
}

// TestStationPairsOfSingles: two single points of failure that together lose
// more than both lose.
func TestStationPairsOfSingles(t *testing.T) {
	// 0 → 1 → 5 and 0 → 2 → 5, and each relay alone serves an ear of its own: 1 → 3, 2 → 4.
	a := certain(t, 6, [2]int{0, 1}, [2]int{1, 5}, [2]int{0, 2}, [2]int{2, 5}, [2]int{1, 3}, [2]int{2, 4}).open(0.5, false)
	l, _ := countLosses(t.Context(), a)
	got, err := stationPairs(t.Context(), a, l)
	if err != nil || !reflect.DeepEqual(got, []StationPair{{1, 2, 3}}) {
		t.Errorf("got %v, %v", got, err)
	}
}

func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	g := certain(t, 4, both([2]int{0, 1}, [2]int{1, 2}, [2]int{2, 3})...)
	opt := Defaults()
	opt.Pairs = AllPairs(4)
	if _, err := Analyse(ctx, g, opt); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
}

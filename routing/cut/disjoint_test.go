package cut

import (
	"cmp"
	"math/bits"
	"slices"
	"testing"
)

// TestSeparateBrute: as many disjoint chains as a smallest cut found by trying
// every set of relays, and the chains and the set are what they claim.
func TestSeparateBrute(t *testing.T) {
	most := 0
	randomNets(t, 1500, 8, func(t *testing.T, a *arcs) {
		f := newDisjoint(a)
		for _, p := range AllPairs(a.n) {
			s, u := p[0], p[1]
			chains, cut := f.separate(int32(s), int32(u))
			checkChains(t, a, s, u, chains)
			most = max(most, len(chains))
			if a.has(int32(s), int32(u)) {
				if cut != nil || len(chains[0]) != 2 {
					t.Errorf("%v: cut %v, chains %v despite a direct link", p, cut, chains)
				}
				continue
			}
			if cut == nil || len(cut) != len(chains) {
				t.Errorf("%v: cut %v for chains %v", p, cut, chains)
			}
			if want := bruteCut(a, s, u); !slices.Equal(cut, want) {
				t.Errorf("%v: cut %v, want %v", p, cut, want)
			}
		}
	})
	if most < 4 {
		t.Errorf("never more than %d chains", most)
	}
}

// checkChains: chains of links, without a common relay, in order, none with a
// link that skips a relay.
func checkChains(t *testing.T, a *arcs, s, u int, chains [][]int) {
	t.Helper()
	used := map[int]bool{}
	for _, c := range chains {
		if c[0] != s || c[len(c)-1] != u {
			t.Errorf("chain %v from %d to %d", c, s, u)
		}
		for i := range c {
			if i > 0 && i < len(c)-1 {
				if used[c[i]] {
					t.Errorf("relay %d twice in %v", c[i], chains)
				}
				used[c[i]] = true
			}
			for j := i + 1; j < len(c); j++ {
				skips, ends := j > i+1, i == 0 && j == len(c)-1
				if !ends && a.has(int32(c[i]), int32(c[j])) == skips {
					t.Errorf("link %d → %d in chain %v: %v", c[i], c[j], c, skips)
				}
			}
		}
	}
	if !slices.IsSortedFunc(chains, func(x, y []int) int { return cmp.Or(len(x)-len(y), slices.Compare(x, y)) }) {
		t.Errorf("chains out of order: %v", chains)
	}
}

// bruteCut tries all sets of relays: a smallest one that separates, of these the
// one that leaves s the fewest stations to reach.
func bruteCut(a *arcs, s, t int) []int {
	best, fewest := []int(nil), 0
	for set := range 1 << a.n {
		if set>>s&1 != 0 || set>>t&1 != 0 || best != nil && bits.OnesCount(uint(set)) > len(best) {
			continue
		}
		cut := []int{}
		for v := range a.n {
			if set>>v&1 != 0 {
				cut = append(cut, v)
			}
		}
		reach := connected(a, -1, cut...)[s]
		if reach[t] {
			continue
		}
		left := 0
		for _, is := range reach {
			if is {
				left++
			}
		}
		if best == nil || len(cut) < len(best) || left < fewest {
			best, fewest = cut, left
		}
	}
	return best
}

// TestSeparateTakesBack: the first chain found must give way to two others.
func TestSeparateTakesBack(t *testing.T) {
	// Suurballe's example without its weights: A–B, A–C, B–D, B–E, C–D, D–F, E–F as 0…5.
	// J. W. Suurballe, Disjoint paths in a network, Networks 4 (1974) 125–145.
	a := certain(t, 6, [2]int{0, 1}, [2]int{0, 2}, [2]int{1, 3}, [2]int{1, 4}, [2]int{2, 3}, [2]int{3, 5}, [2]int{4, 5}).open(0.5, false)
	chains, cut := newDisjoint(a).separate(0, 5)
	if len(chains) != 2 || !slices.Equal(chains[0], []int{0, 1, 4, 5}) || !slices.Equal(chains[1], []int{0, 2, 3, 5}) {
		t.Errorf("chains %v", chains)
	}
	if !slices.Equal(cut, []int{1, 2}) {
		t.Errorf("cut %v", cut)
	}
}

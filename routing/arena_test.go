package routing

import "testing"

// What an arena hands out is zero, doesn't overlap, can't grow into its neighbour,
// and comes from the same memory again after a reset.
func TestArena(t *testing.T) {
	var a arena
	var first *float64
	for round := range 3 {
		a.reset()
		var parts [][]float64
		for i := range 40 {
			s := a.floats(1 + i*i*37%3000 + i/39*2*arenaBlock)
			for _, x := range s {
				if x != 0 {
					t.Fatalf("round %d, part %d: not zero", round, i)
				}
			}
			for k := range s {
				s[k] = float64(i + 1)
			}
			parts = append(parts, s)
		}
		for i, s := range parts {
			for _, x := range append(s, -1)[:len(s)] {
				if x != float64(i+1) {
					t.Fatalf("round %d: part %d is overwritten", round, i)
				}
			}
		}
		if round == 0 {
			first = &parts[0][0]
		} else if first != &parts[0][0] {
			t.Errorf("round %d: other memory", round)
		}
	}
}

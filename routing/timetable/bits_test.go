package timetable

import (
	"testing"

	"pgregory.net/rapid"
)

// Sets of slots answer as lists of yes and no do.
func TestSlotSets(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 300).Draw(t, "slots")
		draw := func(label string) (slotSet, []bool) {
			s, plain := newSlotSet(n), rapid.SliceOfN(rapid.Bool(), n, n).Draw(t, label)
			for k, yes := range plain {
				if s.add(k); !yes {
					s.remove(k)
				}
			}
			return s, plain
		}
		s, plain := draw("one")
		other, also := draw("other")
		switch rapid.IntRange(0, 2).Draw(t, "what") {
		case 0:
			s.keep(other)
			for k := range plain {
				plain[k] = plain[k] && also[k]
			}
		case 1:
			s.drop(other)
			for k := range plain {
				plain[k] = plain[k] && !also[k]
			}
		}
		from := rapid.IntRange(0, n).Draw(t, "from")
		limit := rapid.IntRange(0, n).Draw(t, "limit")
		next, gap, most := limit, limit, 0
		for k := limit - 1; k >= from; k-- {
			if plain[k] {
				next = k
			} else {
				gap = k
			}
		}
		for k, run := from, 0; k < limit; k++ {
			if run++; !plain[k] {
				run = 0
			}
			most = max(most, run)
		}
		if got := s.next(from, limit); got != next {
			t.Fatalf("next from %d to %d: %d, want %d", from, limit, got, next)
		}
		if got := s.nextGap(from, limit); got != gap {
			t.Fatalf("next gap from %d to %d: %d, want %d", from, limit, got, gap)
		}
		if got := s.longest(from, limit); got != most {
			t.Fatalf("longest from %d to %d: %d, want %d", from, limit, got, most)
		}
		for k := range plain {
			if s.has(k) != plain[k] {
				t.Fatalf("slot %d: %v", k, s.has(k))
			}
		}
	})
}

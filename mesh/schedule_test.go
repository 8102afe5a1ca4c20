package mesh

import (
	"cmp"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// TestScheduleAgainstWatch holds the schedule of a day against the plan's
// answer for every slot, and each watch period against a walk back.
func TestScheduleAgainstWatch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, _ := drawCase(t)
		b := makeBands(n)
		s := makeSchedule(n, &b)
		length := n.Slots.Seconds()
		band := func(station, slot int) int {
			if c, ok := n.WatchOf(station, int64(slot)*length); ok {
				return b.channel[c]
			}
			return -1
		}
		for slot := range s.slots {
			for on := range b.list {
				want := make(map[int32]watcher)
				for i := range n.Stations {
					w := watcher{station: int32(i), period: noPeriod, all: n.Stations[i].Watch == WatchAll}
					switch n.Stations[i].Watch {
					case WatchAll:
						for c := range n.Channels {
							if b.channel[c] == on && n.Listens(i, c, int64(slot)*length) {
								want[w.station] = w
							}
						}
					case WatchDeclared:
						if band(i, slot) != on {
							continue
						}
						back := 1
						for back < s.slots && band(i, (slot-back+s.slots)%s.slots) == on {
							back++
						}
						if back < s.slots {
							w.period = int32(back - 1)
						}
						want[w.station] = w
					}
				}
				segment := s.segment[slot]
				got := s.watchers[segment][on]
				if len(got) != len(want) {
					t.Fatalf("slot %d, band %d: %v, want %v", slot, on, got, want)
				}
				for _, w := range got {
					if w.period != noPeriod {
						w.period += int32(slot) - s.first[segment]
					}
					if want[w.station] != w {
						t.Fatalf("slot %d, band %d: %+v, want %+v", slot, on, w, want[w.station])
					}
				}
			}
			checkSoundings(t, n, &b, s, slot)
		}
	})
}

func checkSoundings(t *rapid.T, n *Net, b *bands, s *schedule, slot int) {
	var want []sounding
	for i := range n.Stations {
		for band := range b.list {
			for c := range n.Channels {
				if b.channel[c] == band && n.SoundsOn(i, c, int64(slot)*n.Slots.Seconds()) {
					want = append(want, sounding{int32(i), int32(band)})
					break
				}
			}
		}
		if c, ok := n.Sounds(i, int64(slot)*n.Slots.Seconds()); ok && !n.SoundsOn(i, c, int64(slot)*n.Slots.Seconds()) {
			t.Fatalf("slot %d: sounds on %d and doesn't", slot, c)
		}
	}
	got := slices.Clone(s.soundings[slot])
	slices.SortFunc(got, func(a, b sounding) int { return cmp.Or(int(a.station-b.station), int(a.band-b.band)) })
	for i := range max(len(got), len(want)) {
		if i >= len(got) || i >= len(want) || got[i] != want[i] {
			t.Fatalf("slot %d: soundings %v, want %v", slot, got, want)
		}
	}
	next := 0
	for next < s.slots && len(s.soundings[(slot+next)%s.slots]) == 0 {
		next++
	}
	if next == s.slots {
		next = -1
	}
	if int(s.next[slot]) != next {
		t.Fatalf("slot %d: next sounding in %d slots, want %d", slot, s.next[slot], next)
	}
}

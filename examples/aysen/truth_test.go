package aysen

import (
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

var thresholds = []float64{0.2, 0.5, 0.8}

// noon is a moment of the last full day when the day channel is at its best.
func (s *Scenario) noon() time.Time { return s.End.Truncate(24 * time.Hour).Add(-7 * time.Hour) }

// The path is the same both ways: two directions differ by power and noise only.
func TestReciprocity(t *testing.T) {
	truth := newTruth(t)
	n := len(truth.all)
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.IntRange(0, n-1).Draw(t, "a")
		b := (a + rapid.IntRange(1, n-1).Draw(t, "step")) % n
		c := rapid.IntRange(0, 1).Draw(t, "channel")
		at := truth.Scenario.Start.Add(time.Duration(rapid.Int64Range(0, 14*86400).Draw(t, "second")) * time.Second)
		sa, sb := truth.all[a], truth.all[b]
		want := 10*math.Log10(sa.PowerW/sb.PowerW) + sa.NoiseDB - sb.NoiseDB
		if got := truth.SNR(a, b, c, at) - truth.SNR(b, a, c, at); math.Abs(got-want) > 1e-9 {
			t.Fatalf("%s and %s differ by %v dB, want %v", sa.Call, sb.Call, got, want)
		}
		if d := truth.Decode(a, b, c, at); d < 0 || d > 1 || (d > 0.5) != (truth.SNR(a, b, c, at) > truth.Scenario.Slots.HalfDecodeDB) {
			t.Fatalf("decode chance %v at %v dB", d, truth.SNR(a, b, c, at))
		}
	})
}

// At night the loss of the planted station parts the south from the rest, at
// every threshold; no other station's loss parts anybody.
func TestTheWeakStationIsTheOnlyOne(t *testing.T) {
	truth, s := newTruth(t), New()
	plant := s.Plant()
	for _, threshold := range thresholds {
		for w, st := range s.Stations {
			lost := truth.lost(s.End, threshold, w)
			if st.Call != plant.Weak {
				if len(lost) > 0 && threshold == 0.5 {
					t.Errorf("without %s at %v: %v lost too", st.Call, threshold, lost)
				}
				continue
			}
			for _, south := range plant.CutOff {
				if !slices.Contains(lost, [2]string{"HARBOR", south}) || !slices.Contains(lost, [2]string{south, "HARBOR"}) {
					t.Errorf("without %s at %v %s still has a way to HARBOR", plant.Weak, threshold, south)
				}
			}
		}
	}
	if lost := truth.lost(s.noon(), 0.5, index(s.Stations, plant.Weak)); len(lost) > 0 {
		t.Errorf("by day without %s: %v lost", plant.Weak, lost)
	}
}

// lost lists the ordered pairs of other stations that have a chain of open links
// with a station and none without it.
func (t *Truth) lost(slot time.Time, threshold float64, without int) (pairs [][2]string) {
	for i, from := range t.Scenario.Stations {
		if i == without {
			continue
		}
		with, left := t.Reached(i, slot, threshold, -1), t.Reached(i, slot, threshold, without)
		for j, to := range t.Scenario.Stations {
			if j != without && with[j] && !left[j] {
				pairs = append(pairs, [2]string{from.Call, to.Call})
			}
		}
	}
	return pairs
}

func TestDeafIsolatedAndDayOnly(t *testing.T) {
	truth, s := newTruth(t), New()
	plant := s.Plant()
	deaf, isolated := index(s.Stations, plant.Deaf), index(s.Stations, plant.Isolated)
	for _, at := range []time.Time{s.End, s.noon()} {
		hearsDeaf := 0
		for i := range s.Stations {
			if truth.Open(i, deaf, at, 0.2) || truth.Open(i, isolated, at, 0.2) || truth.Open(isolated, i, at, 0.2) {
				t.Errorf("%s at %v: a link to the deaf or isolated station", s.Stations[i].Call, at)
			}
			if truth.Open(deaf, i, at, 0.8) {
				hearsDeaf++
			}
		}
		if hearsDeaf < 5 {
			t.Errorf("at %v only %d stations hear the deaf one well", at, hearsDeaf)
		}
	}
	for i, st := range s.Stations {
		onAir := truth.Watches(i, Day, s.End) || truth.Watches(i, Night, s.End)
		if onAir == slices.Contains(plant.DayOnly, st.Call) {
			t.Errorf("%s on the air at the end: %v", st.Call, onAir)
		}
	}
}

// At night HARBOR reaches whoever can be reached, and some only through others.
func TestHarborReachesMostThroughRelays(t *testing.T) {
	truth, s := newTruth(t), New()
	harbor := index(s.Stations, "HARBOR")
	reached := truth.Reached(harbor, s.End, 0.5, -1)
	all, direct := 0, 0
	for i := range s.Stations {
		if i != harbor && reached[i] {
			all++
			if truth.Open(harbor, i, s.End, 0.5) {
				direct++
			}
		}
	}
	if all != len(s.Stations)-1-len(s.Plant().DayOnly)-2 || all-direct < 3 {
		t.Errorf("HARBOR reaches %d, %d of them directly", all, direct)
	}
}

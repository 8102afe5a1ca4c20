package config

import (
	"fmt"
	"slices"
	"time"

	"farhop/observations"
)

// slotGuess is a slot length and what speaks for it.
type slotGuess struct {
	seconds int64
	why     string
	given   bool // asked for, no guess
}

// commonSlots are the slot lengths that are looked for, in seconds. Common
// practice, no source.
var commonSlots = []int64{120, 90, 60, 45, 40, 30, 24, 20, 15, 12, 10}

// guessSlot finds the longest common slot length of which 999 in 1000 report
// times are multiples, counted from 00:00 UTC, else 95 in 100; or else lie the
// same time after one.
func guessSlot(reports []observations.Report, given time.Duration) slotGuess {
	if given > 0 {
		return slotGuess{seconds: int64(given / time.Second), given: true}
	}
	distinct := 0
	for i := range reports {
		if i == 0 || reports[i].Time != reports[i-1].Time {
			distinct++
		}
	}
	if distinct < 5 {
		return slotGuess{seconds: 40, why: "too few report times to tell"}
	}
	after := make([][]int, len(commonSlots)) // by length: how many times lie so long after a multiple
	for i, length := range commonSlots {
		after[i] = make([]int, length)
		for k := range reports {
			after[i][reports[k].Time-length*floorDiv(reports[k].Time, length)]++
		}
	}
	for _, most := range []int{1000, 20} { // one in so many may be off
		for i, length := range commonSlots {
			if on := after[i][0]; most*(len(reports)-on) <= len(reports) {
				return slotGuess{seconds: length, why: fmt.Sprintf("%d of %d report times are multiples of it", on, len(reports))}
			}
		}
	}
	for i, length := range commonSlots {
		for offset, on := range after[i] {
			if 20*(len(reports)-on) <= len(reports) {
				return slotGuess{seconds: length, why: fmt.Sprintf("%d of %d report times lie %d s after a multiple of it", on, len(reports), offset)}
			}
		}
	}
	return slotGuess{seconds: 40, why: "no common length fits the report times"}
}

// lowSNR is the SNR that 5 % of the reports lie below, in whole dB: near the
// point where decoding sets in, if the log holds weak signals.
func lowSNR(snrs []float32) float64 {
	if len(snrs) < 200 {
		return 0
	}
	slices.Sort(snrs)
	v := snrs[len(snrs)/20]
	if v < 0 {
		return float64(int(v - 0.5))
	}
	return float64(int(v + 0.5))
}

// marked marks the hours of the day with more than one part in so many of the busiest
// hour's count, and one hour before and after each.
func marked(hours [24]int, parts int) (in [24]bool) {
	busiest := slices.Max(hours[:])
	for h, n := range hours {
		if n > 0 && n*parts >= busiest {
			in[(h+23)%24], in[h], in[(h+1)%24] = true, true, true
		}
	}
	return in
}

// hoursIn is how many hours marked marks.
func hoursIn(hours [24]int, parts int) int {
	n := 0
	for _, in := range marked(hours, parts) {
		if in {
			n++
		}
	}
	return n
}

// dayWindows writes marked hours as windows; nil when they are the whole day or
// within the given number of hours of it.
func dayWindows(in [24]bool, spare int) []string {
	n := 0
	for _, is := range in {
		if is {
			n++
		}
	}
	if n == 0 || n+spare >= 24 {
		return nil
	}
	var out []string
	for h := range 24 {
		if !in[h] || in[(h+23)%24] {
			continue
		}
		end := h + 1
		for in[end%24] {
			end++
		}
		if end > 24 {
			end -= 24
		}
		out = append(out, fmt.Sprintf("%02d:00-%02d:00", h, end))
	}
	return out
}

// schedule is a sounding that fits the slots a station was heard in.
type schedule struct {
	every, after int64 // seconds
	hits         int   // slots that fit it
}

// soundingSteps are the intervals looked for, in minutes. Each divides a day.
var soundingSteps = []int64{1440, 720, 480, 360, 240, 180, 120, 90, 60, 45, 40, 30, 20, 15, 12, 10, 8, 6, 5, 4, 3, 2}

// guessSoundings finds the schedule by which a station sent, given the starts
// of the slots it was heard in, in order, 6 at least. It is the longest interval such
// that 95 % of them are those of one sounding, else of two or three, and a
// fifth of the soundings due in the hours it was heard in were heard. Failing
// that it is regularSounding. Nil means that it did not send by schedule.
func guessSoundings(at []int64, slot int64) []schedule {
	if len(at) < 6 {
		return nil
	}
	for phases := 1; phases <= 3; phases++ {
		for _, minutes := range soundingSteps {
			every := 60 * minutes
			if every < 3*slot || phases > 1 && every < 10*slot {
				break
			}
			found, hits := fitPhases(at, every, slot, phases, len(at)/20)
			if 20*hits >= 19*len(at) && 5*int64(hits) >= due(at, every)*int64(phases) && balanced(found) {
				return found
			}
		}
	}
	return regularSounding(at, slot)
}

// due is how many soundings fall into the hours, or for longer intervals into the
// days, of the given times.
func due(at []int64, every int64) int64 {
	stretch := int64(3600)
	if every > stretch {
		stretch = 86400
	}
	n := int64(0)
	for i := range at {
		if i == 0 || floorDiv(at[i], stretch) != floorDiv(at[i-1], stretch) {
			n++
		}
	}
	return n * stretch / every
}

// regularSounding finds a sounding amid other sending: the shortest interval up to an
// hour with a time at which 7 in 10 of the soundings due in the hours the station was
// heard in were heard, three times as often as its other slots.
func regularSounding(at []int64, slot int64) []schedule {
	if len(at) < 20 {
		return nil
	}
	for i := len(soundingSteps) - 1; i >= 0; i-- {
		every := 60 * soundingSteps[i]
		if every < 3*slot || every > 3600 {
			continue
		}
		found, _ := fitPhases(at, every, slot, 1, len(at))
		expected := due(at, every)
		others := due(at, 3600)*3600/slot - expected
		hits := int64(found[0].hits)
		if 10*hits >= 7*expected && hits*others >= 3*(int64(len(at))-hits)*expected {
			return found
		}
	}
	return nil
}

// balanced reports whether all soundings were heard about equally often, at least
// two thirds as often as the one heard most.
func balanced(found []schedule) bool {
	least, most := found[0].hits, 0
	for _, f := range found {
		least, most = min(least, f.hits), max(most, f.hits)
	}
	return 3*least >= 2*most
}

// fitPhases finds, one after the other, the times within an interval at which most
// slots lie, none when more than spare of the slots would be left over for sure.
// Since a sounding that is due inside a slot goes out with the next one, a time
// takes in what lies less than a slot later.
func fitPhases(at []int64, every, slot int64, phases, spare int) (found []schedule, hits int) {
	cell := gcd(slot, every) // slots divide a day, so all their starts are multiples of it
	counts := make([]int, every/cell)
	distinct := 0
	for _, t := range at {
		k := (t - 86400*floorDiv(t, 86400)) % every / cell
		if counts[k] == 0 {
			distinct++
		}
		counts[k]++
	}
	cells := int(slot / cell)
	if distinct > phases*cells+spare {
		return nil, 0
	}
	for range phases {
		best := schedule{every: every}
		for k, n := range counts {
			if n == 0 {
				continue
			}
			for i := 1; i < cells; i++ {
				n += counts[(k+i)%len(counts)]
			}
			if n > best.hits {
				best.after, best.hits = int64(k)*cell, n
			}
		}
		if best.hits == 0 {
			break
		}
		for i := range cells {
			counts[(int(best.after/cell)+i)%len(counts)] = 0
		}
		found = append(found, best)
		hits += best.hits
	}
	slices.SortFunc(found, func(a, b schedule) int { return int(a.after - b.after) })
	return found, hits
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

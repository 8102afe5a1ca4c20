package timetable

import "math/bits"

// slotSet is a set of slots, one bit each.
type slotSet []uint64

func newSlotSet(slots int) slotSet { return make(slotSet, (slots+63)/64) }

func (s slotSet) has(slot int) bool { return s[slot>>6]>>(slot&63)&1 != 0 }

func (s slotSet) add(slot int) { s[slot>>6] |= 1 << (slot & 63) }

func (s slotSet) remove(slot int) { s[slot>>6] &^= 1 << (slot & 63) }

// keep leaves what the other set has too.
func (s slotSet) keep(other slotSet) {
	for i, w := range other {
		s[i] &= w
	}
}

// drop leaves what the other set lacks.
func (s slotSet) drop(other slotSet) {
	for i, w := range other {
		s[i] &^= w
	}
}

// next is the first slot from the given one on that is in the set, or limit
// where that comes first.
func (s slotSet) next(slot, limit int) int { return s.scan(slot, limit, 0) }

// nextGap is the first slot from the given one on that isn't in the set, or limit
// where that comes first.
func (s slotSet) nextGap(slot, limit int) int { return s.scan(slot, limit, ^uint64(0)) }

// scan looks for the first bit that differs from those of the pattern.
func (s slotSet) scan(slot, limit int, pattern uint64) int {
	if slot >= limit {
		return limit
	}
	i := slot >> 6
	w := (s[i] ^ pattern) >> (slot & 63) << (slot & 63)
	for w == 0 {
		if i++; i<<6 >= limit || i == len(s) {
			return limit
		}
		w = s[i] ^ pattern
	}
	return min(i<<6+bits.TrailingZeros64(w), limit)
}

// longest is the longest stretch in the set between two slots.
func (s slotSet) longest(from, to int) (most int) {
	for at := s.next(from, to); at < to; {
		end := s.nextGap(at, to)
		most = max(most, end-at)
		at = s.next(end, to)
	}
	return most
}

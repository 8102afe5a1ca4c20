package config

import (
	"slices"
	"strings"
)

// join sees whether names that a log has are slips of others. A station
// that never reported anybody, was heard a twentieth as often as another at most, at
// the same place or at none stated, and whose name is one edit of letters away,
// becomes another name of that one.
func (h *heardNet) join() {
	kept := h.stations[:0:0]
	for _, s := range h.stations {
		if to := h.slipOf(s); to != nil {
			to.also = append(to.also, s)
			continue
		}
		kept = append(kept, s)
	}
	h.stations = kept
}

// slipOf returns the station whose name was most likely meant, nil if none.
func (h *heardNet) slipOf(s *heardStation) *heardStation {
	if s.heard > 0 || len(s.suffixed) > 0 || len(s.call) < 4 {
		return nil
	}
	for _, to := range h.stations {
		if s != to && 20*s.heardBy <= to.heardBy && max(len(s.call), len(to.call))-min(len(s.call), len(to.call)) <= 2 &&
			distance(letters(s.call), letters(to.call)) == 1 &&
			distance(s.call, to.call) == 1 && s.agrees(to) {
			if further := h.slipOf(to); further != nil {
				return further
			}
			return to
		}
	}
	return nil
}

// letters is a name without its digits.
func letters(name string) string { return strings.Map(dropDigit, name) }

func dropDigit(r rune) rune {
	if r >= '0' && r <= '9' {
		return -1
	}
	return r
}

// agrees reports whether a station was seen at no place that another was not seen
// at.
func (s *heardStation) agrees(other *heardStation) bool {
	for _, l := range s.locators {
		if !slices.Contains(other.locators, l) {
			return false
		}
	}
	return true
}

// twin returns the call of another station with the same locator of six
// characters or more, "" if there is none.
func (h *heardNet) twin(s *heardStation) string {
	if len(s.locators) == 0 {
		return ""
	}
	place, _ := s.place()
	for _, o := range h.stations {
		if o == s || len(o.locators) == 0 || len(place) < 6 {
			continue
		}
		if at, _ := o.place(); at == place {
			return o.call
		}
	}
	return ""
}

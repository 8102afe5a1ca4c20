package observations

import (
	"math"
	"time"
)

// spell says which times a parser keeps and what it does with a typed list
// that has no date.
type spell struct {
	from, to int64 // Unix seconds, both kept
	undated  undated
	moment   int64 // what the day of an undated list is resolved by
}

// allTimes keeps every report.
func allTimes(u undated) spell {
	return spell{from: math.MinInt64, to: math.MaxInt64, undated: u}
}

// spellUntil keeps the window before the moment, all before it if there is none.
func spellUntil(moment int64, window time.Duration) spell {
	s := spell{from: math.MinInt64, to: moment, undated: resolveUndated, moment: moment}
	if window > 0 {
		s.from = moment - int64(window/time.Second)
	}
	return s
}

// check tells whether a report of that time and delay is kept: 0 if it is, −1
// if it is too early, 1 if it is too late.
func (s *spell) check(unix, delay int64) int {
	switch {
	case unix+delay > s.to:
		return 1
	case unix < s.from:
		return -1
	}
	return 0
}

type undated uint8

const (
	resolveUndated  undated = iota // take the last such time at or before the moment
	postponeUndated                // hand the line back, the moment is not known yet
	refuseUndated                  // there is no moment
)

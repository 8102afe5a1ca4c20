package routing

import (
	"time"

	"farhop/mesh"
)

// quarter is the step at which link states are taken.
const quarter = 15 * time.Minute

// clock counts slots from the first slot boundary at or after the moment asked
// for. Slots have their boundaries from 00:00 UTC and divide the day.
type clock struct {
	start  int64 // the moment asked for, Unix seconds
	first  int64 // start of slot 0, nanoseconds since 1970
	length int64 // nanoseconds
	slots  int   // slots that end by the deadline
}

func newClock(start int64, deadline time.Duration, s mesh.Slots) clock {
	c := clock{start: start, length: int64(s.Length)}
	moment := start * int64(time.Second)
	n := moment / c.length
	if moment > n*c.length {
		n++
	}
	c.first = n * c.length
	c.slots = int(max(0, (moment+int64(deadline)-c.first)/c.length))
	return c
}

// unix is the second in which a slot starts.
func (c clock) unix(slot int) int64 {
	return (c.first + int64(slot)*c.length) / int64(time.Second)
}

// minutes is the time from the moment asked for to the end of a slot.
func (c clock) minutes(slot int) float64 {
	end := c.first + int64(slot+1)*c.length - c.start*int64(time.Second)
	return float64(end) / float64(time.Minute)
}

package routing

import (
	"time"

	"farhop/mesh"
)

// quarterSeconds is the step at which link states are taken.
const quarterSeconds = int64(mesh.StateStep / time.Second)

// clock counts slots from the first slot boundary at or after the moment asked
// for.
type clock struct {
	start   int64 // the moment asked for, Unix seconds
	first   int64 // start of slot 0, Unix seconds
	seconds int64 // length of a slot
	slots   int   // slots that end by the deadline
}

func newClock(start int64, deadline time.Duration, s mesh.Slots) clock {
	c := clock{start: start, first: s.Start(start), seconds: s.Seconds()}
	c.slots = int(max(0, (start+int64(deadline/time.Second)-c.first)/c.seconds))
	return c
}

// unix is the second in which a slot starts.
func (c clock) unix(slot int) int64 { return c.first + int64(slot)*c.seconds }

// minutes is the time from the moment asked for to the end of a slot.
func (c clock) minutes(slot int) float64 { return float64(c.unix(slot+1)-c.start) / 60 }

package anyrelay

import (
	"math"
	"time"
)

// Estimate is a figure and how far off it may be.
type Estimate struct {
	Value         float64
	StandardError float64 // 0 where exact
}

// Result is what to expect of the plan.
type Result struct {
	Exact bool
	Lost  float64 // exact: share of histories left out, a bound on the error of Delivered
	Runs  int     // played: so many times

	Delivered  Estimate  // chance that the destination has the message by the deadline
	Low, High  float64   // of Delivered: 95 % interval where played, else [Value, Value + Lost]
	Arrival    []float64 // Arrival[s] is the chance that it has it by the end of slot s, for all slots that end by the deadline
	Frames     Estimate  // keyed by all stations until the last falls silent, past the deadline or not
	Duplicates Estimate  // stations that send on although one nearer already had
	Needless   Estimate  // sendings begun, first or again, although one nearer already had

	offset, slot time.Duration
}

// Minutes is when the given share of all tries has arrived: from the start to the
// end of the slot, NaN when it hasn't by the deadline.
func (r *Result) Minutes(level float64) float64 {
	for slot, share := range r.Arrival {
		if share >= level-1e-12 {
			return (r.offset + time.Duration(slot+1)*r.slot).Minutes()
		}
	}
	return math.NaN()
}

func (c *course) newResult() *Result {
	return &Result{
		Arrival: make([]float64, c.inTime),
		offset:  time.Duration(c.first-c.Start) * time.Second, slot: c.slots.Length,
	}
}

// wilson is the 95 % interval of a share (E. B. Wilson, J. Amer. Statist. Assoc.
// 22 (1927) 209–212).
func wilson(count, runs int) (low, high float64) {
	const z = 1.959964
	n, p := float64(runs), float64(count)/float64(runs)
	middle := (p + z*z/(2*n)) / (1 + z*z/n)
	half := z / (1 + z*z/n) * math.Sqrt(p*(1-p)/n+z*z/(4*n*n))
	return max(0, middle-half), min(1, middle+half)
}

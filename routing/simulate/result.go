package simulate

import (
	"math"
	"time"
)

// Result is what was counted. Every run is delivered in time, given up or late.
type Result struct {
	Runs      int
	Delivered Share // by the deadline
	Confirmed Share // by the deadline: the last sender has read an acknowledgment, with a reply the origin has all of it
	GivenUp   Share // a station used up its rounds, whenever, before the destination had the message
	Late      Share // it arrives after the deadline, or waits for a slot that never comes

	Airtime  Mean   // frames keyed by all stations until the try ends, past the deadline or not
	Stations []Mean // frames keyed by each station of the chain, origin first
	Hops     []Hop  // of the way there, in order

	MeanMinutes   float64 // from the start to the end of the slot of arrival, given delivery by the deadline; NaN without any
	Arrivals      []int   // [i]: runs in which the message arrives in slot i, for all slots that end by the deadline
	Confirmations []int   // [i]: runs in which it is confirmed in slot i

	offset, slot time.Duration // from the start to slot 0; length of a slot
}

// Hop counts what happened on one hop.
type Hop struct {
	Begun Share // runs in which it was begun, in time or not
	Done  Share // runs in which its receiver got the whole message
}

// Minutes is the time from the start to the end of a slot.
func (r *Result) Minutes(slot int) float64 {
	return (r.offset + time.Duration(slot+1)*r.slot).Minutes()
}

// By is the share of runs in which the message has arrived by the end of a slot,
// counted up to the deadline.
func (r *Result) By(slot int) Share {
	s := Share{Runs: r.Runs}
	for _, n := range r.Arrivals[:min(max(slot+1, 0), len(r.Arrivals))] {
		s.Count += n
	}
	return s
}

// Quantile is the first slot by whose end at least the given share of all runs
// has arrived, with a slack of 1e-12, or −1 if that is not so by the deadline.
func (r *Result) Quantile(level float64) int {
	sum := 0
	for slot, n := range r.Arrivals {
		if sum += n; float64(sum) >= (level-1e-12)*float64(r.Runs) {
			return slot
		}
	}
	return -1
}

// Agrees reports whether the counted quantile lies within one slot of a slot
// computed otherwise. Where the share hardly grows from slot to slot that is left
// to chance; then the counted share must not be more than so many standard errors
// under the level at the computed slot, nor over it at the slot before. A slot of −1
// says that the level is not reached by the deadline.
func (r *Result) Agrees(level float64, slot int, standardErrors float64) bool {
	counted := r.Quantile(level)
	if counted >= 0 && slot >= 0 && max(counted-slot, slot-counted) <= 1 {
		return true
	}
	before, at := slot-1, slot
	if slot < 0 {
		before, at = len(r.Arrivals)-1, -1
	}
	return r.By(before).Away(level) <= standardErrors && (at < 0 || r.By(at).Away(level) >= -standardErrors)
}

// Share is a counted share of all runs.
type Share struct{ Count, Runs int }

// Value is the share, 0…1.
func (s Share) Value() float64 { return float64(s.Count) / float64(s.Runs) }

// StandardError is that of Value, √(v(1 − v)/runs).
func (s Share) StandardError() float64 {
	v := s.Value()
	return math.Sqrt(v * (1 - v) / float64(s.Runs))
}

// Away is how many standard errors the share lies above a chance computed
// otherwise. They are those of a count with that chance, but at least 1/runs, so that
// one run more or less than expected never weighs more than one of them.
func (s Share) Away(chance float64) float64 {
	n := float64(s.Runs)
	return (s.Value() - chance) / math.Max(math.Sqrt(math.Max(0, chance*(1-chance))/n), 1/n)
}

// Mean is a counted mean per run.
type Mean struct {
	Value         float64
	StandardError float64 // 0 with a single run
	runs          int
}

// Away is how many standard errors the mean lies above one computed otherwise.
// They are at least 1/runs, as for a Share.
func (m Mean) Away(value float64) float64 {
	return (m.Value - value) / math.Max(m.StandardError, 1/float64(m.runs))
}

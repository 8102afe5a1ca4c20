package anyrelay

import (
	"context"

	"farhop/mesh/link"
)

const (
	mostHistories = 50_000 // followed before dice are taken
	mostWork      = 3e7    // frames of sendings looked at before dice are taken, a tenth of a second or two
	leastHistory  = 1e-9   // histories less likely are left out
	mostLost      = 1e-5   // of all histories, left out, in an exact answer
	mostExact     = 12     // stations
)

// exact works the plan out by following every history of decisions, or returns
// nil where that isn't possible or too much.
func (c *course) exact(ctx context.Context) (*Result, error) {
	sure := c.sure()
	if sure == nil {
		return nil, nil
	}
	x := &explorer{course: c, ctx: ctx, sure: sure}
	x.follow(x.begin(), 1)
	if x.err != nil || x.lost > mostLost || x.spent() {
		return nil, x.err
	}
	r := c.newResult()
	r.Exact, r.Lost = true, x.lost
	r.Frames, r.Duplicates, r.Needless = Estimate{Value: x.frames}, Estimate{Value: x.duplicates}, Estimate{Value: x.needless}
	c.inSlots(x.arrivals, r.Arrival)
	if n := len(r.Arrival); n > 0 {
		r.Delivered.Value = r.Arrival[n-1]
	}
	r.Low, r.High = r.Delivered.Value, min(1, r.Delivered.Value+r.Lost)
	return r, nil
}

// sure is the chances of frames between stations where they never change and all
// stations share the open slots of one channel, else nil.
func (c *course) sure() [][]float64 {
	n := len(c.stations)
	if n > mostExact || n < 2 {
		return nil
	}
	channel := c.orders[1].channel
	for i := 1; i < n; i++ {
		if c.orders[i].channel != channel || c.orders[i].wait == nil {
			return nil
		}
	}
	chances := make([][]float64, n)
	for i := range chances {
		chances[i] = make([]float64, n)
		for w := range chances[i] {
			if w == i || !c.matters(i, w) {
				continue
			}
			e, ok := c.Links.Edge(c.stations[i], c.stations[w], channel, c.Start)
			switch {
			case !ok || e.Fixed && e.Direction.Kind == link.Closed:
			case !e.Fixed || e.Direction.Kind != link.Certain:
				return nil
			default:
				chances[i][w] = e.Direction.Decode
			}
		}
	}
	for k := range c.listens[0][channel] {
		for i := range c.listens {
			if c.listens[i][channel][k] != c.listens[0][channel][k] {
				return nil
			}
		}
	}
	return chances
}

// inSlots turns arrivals by usable slot into the growing share by slot: the n-th
// open slot is usable with the chance 1 − b.
func (c *course) inSlots(arrivals, share []float64) {
	o := &c.orders[c.from]
	used := make([]float64, len(arrivals)+1) // chance that so many usable slots have passed
	used[0] = 1
	reached := func() (sum float64) { // Σ arrivals[n] · P(more than n passed)
		more := 1.0
		for n, a := range arrivals {
			more -= used[n]
			sum += a * max(0, more)
		}
		return sum
	}
	b, so := c.slots.Busy, 0.0
	for slot := range share {
		if o.wait[c.ofDay(slot)] == 0 {
			for n := len(used) - 1; n > 0; n-- {
				used[n] = used[n]*b + used[n-1]*(1-b)
			}
			used[0] *= b
			so = reached()
		}
		share[slot] = so
	}
}

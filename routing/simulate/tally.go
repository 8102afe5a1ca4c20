package simulate

import (
	"math"
	"time"
)

// tally counts runs. It holds whole numbers only. The frames and squares have
// room, on machines of 32 bits too, for more frames than could be played in a year.
type tally struct {
	runs, gaveUp, late      int
	arrivals, confirmations []int
	begun, done             []int   // by hop
	frames, squares         []int64 // sums over runs, by place in the chain; behind them those of all stations together
}

func (c *course) newTally() *tally {
	hops, stations := len(c.hops), len(c.Stations)
	return &tally{
		arrivals: make([]int, c.inTime), confirmations: make([]int, c.inTime),
		begun: make([]int, hops), done: make([]int, hops),
		frames: make([]int64, stations+1), squares: make([]int64, stations+1),
	}
}

// count adds a run and the frames keyed in it.
func (t *tally) count(r run, keyed []int) {
	t.runs++
	switch {
	case r.gaveUp:
		t.gaveUp++
	case r.delivered < len(t.arrivals):
		t.arrivals[r.delivered]++
	default:
		t.late++
	}
	if r.confirmed < len(t.confirmations) {
		t.confirmations[r.confirmed]++
	}
	for i := range r.begun {
		t.begun[i]++
	}
	for i := range r.done {
		t.done[i]++
	}
	all := 0
	for i, n := range keyed {
		all += n
		t.key(i, n)
	}
	t.key(len(keyed), all)
}

// key adds the frames that one place keyed in a run.
func (t *tally) key(i, frames int) {
	t.frames[i] += int64(frames)
	t.squares[i] += int64(frames) * int64(frames)
}

// add takes over the counts of another tally.
func (t *tally) add(o *tally) {
	t.runs += o.runs
	t.gaveUp += o.gaveUp
	t.late += o.late
	for _, p := range [][2][]int{
		{t.arrivals, o.arrivals},
		{t.confirmations, o.confirmations},
		{t.begun, o.begun},
		{t.done, o.done},
	} {
		for i, n := range p[1] {
			p[0][i] += n
		}
	}
	for i := range o.frames {
		t.frames[i] += o.frames[i]
		t.squares[i] += o.squares[i]
	}
}

// result turns counts into shares and means.
func (c *course) result(t *tally) *Result {
	share := func(n int) Share { return Share{n, t.runs} }
	r := &Result{
		Runs: t.runs, GivenUp: share(t.gaveUp), Late: share(t.late),
		Arrivals: t.arrivals, Confirmations: t.confirmations,
		offset: time.Duration(c.first-c.Start) * time.Second, slot: c.slots.Length,
	}
	minutes, confirmed := 0.0, 0
	for slot, n := range t.arrivals {
		r.Delivered.Count += n
		minutes += float64(n) * r.Minutes(slot)
		confirmed += t.confirmations[slot]
	}
	r.Delivered.Runs, r.Confirmed = t.runs, share(confirmed)
	r.MeanMinutes = minutes / float64(r.Delivered.Count)
	for i := range c.hops {
		r.Hops = append(r.Hops, Hop{share(t.begun[i]), share(t.done[i])})
	}
	for i := range c.Stations {
		r.Stations = append(r.Stations, t.mean(i))
	}
	r.Airtime = t.mean(len(c.Stations))
	return r
}

// mean is that of the frames of one place in the chain.
func (t *tally) mean(i int) Mean {
	n, sum, squares := float64(t.runs), float64(t.frames[i]), float64(t.squares[i])
	m := Mean{Value: sum / n, runs: t.runs}
	if t.runs > 1 {
		m.StandardError = math.Sqrt(max(0, squares-sum*sum/n) / (n - 1) / n)
	}
	return m
}

package sounding

import (
	"math"
	"time"
)

// tries is how many places for a sounding are compared, the latest first.
const tries = 6

// cure is the change that takes away most variance above the limit for its
// airtime, of those that lessen what is above it at the target's first instant above,
// for all targets of its sender, and bring nothing above it before. It is false when
// there is none. Steps so lead on in time, and never in a circle.
func (d *draft) cure(i int) (best change, ok bool) {
	t, first := d.targets[i], d.courses[i].first
	now, here := d.above(t.from), d.aboveUntil(t.from, d.shots[t.from], first)
	var bestRate float64
	for channel := range d.net.Channels {
		for _, s := range d.places(i, channel) {
			shots := d.with(t.from, s)
			if d.aboveUntil(t.from, shots, first) > here-tiny {
				continue
			}
			c, _ := d.weigh(t.from, shots, math.Inf(1))
			rate := now - c.above
			if rate > 0 {
				rate /= max(c.seconds, d.net.Slots.Keyed.Seconds()/2)
			}
			if !ok || rate > bestRate+tiny {
				best, bestRate, ok = c, rate, true
			}
		}
	}
	return best, ok
}

// aboveUntil is the variance above the limit at an instant, over all targets of a
// station, and without bound where something is above it before that instant.
func (d *draft) aboveUntil(station int, shots []shot, instant int) (sum float64) {
	same := common(d.shots[station], shots)
	for _, j := range d.from[station] {
		stands, k := d.courses[j].stands, same
		for stands[k].instant > instant {
			k--
		}
		if first := stands[k].first; first >= 0 && first < instant {
			return math.Inf(1)
		}
		d.scratch.Set(stands[k].state)
		d.follow(j, walk{d.scratch, k, stands[k].instant}, shots, d.shots, watcher{at: func(k int, v float64) bool {
			if k <= instant && v > d.limit && d.targets[j].keep[k] {
				sum += v - d.limit
				if k < instant {
					sum = math.Inf(1)
				}
			}
			return k < instant
		}})
	}
	return sum
}

// places lists where a sounding on a channel could help the target at its first
// instant above the limit: the latest start, then others a Step and more before.
func (d *draft) places(i, channel int) []shot {
	t := d.targets[i]
	if d.band[channel] != t.growth.Band {
		return nil
	}
	var list []shot
	last := int64(math.MaxInt64)
	for start := floor(d.instants[d.courses[i].first]-d.slot, d.slot); start >= d.first && len(list) < tries; start -= d.slot {
		if last-start < int64(Step/time.Second) {
			continue
		}
		if s, ok := d.place(i, channel, start); ok {
			list = append(list, s)
			last = s.start
		}
	}
	return list
}

// place is a shot for the target at the start or somewhat before: best in a slot of its
// own that starts on a whole minute, else in any of its own, else beside others; false
// when there is none.
func (d *draft) place(i, channel int, start int64) (found shot, ok bool) {
	t := d.targets[i]
	const none = 3
	rank := none
	for until := max(start-int64(Step/time.Second), d.first); start >= until && rank > 0; start -= d.slot {
		if !d.canHear(t, channel, start) || !d.canSound(t.from, channel, start) {
			continue
		}
		offset, alone := d.free(t.from, channel, start)
		this := 0
		switch {
		case offset < 0:
			this = none
		case !alone:
			this = 2
		case start%d.stride != 0:
			this = 1
		}
		if this < rank {
			rank, found = this, shot{start: start, channel: channel, offset: offset}
		}
	}
	return found, rank < none
}

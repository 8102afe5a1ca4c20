package sounding

import (
	"context"
	"slices"
)

// maxPasses bounds how often the whole plan is gone through.
const maxPasses = 4

// improve makes the plan lighter without letting anything rise above the limit:
// it leaves out what isn't needed, puts one sounding in place of two neighbours, moves
// one to where it makes lists shorter, until nothing helps. Then it takes off the
// lists what nobody needs.
func (d *draft) improve(ctx context.Context) error {
	for range maxPasses {
		better := false
		for station := range d.shots {
			if err := ctx.Err(); err != nil {
				return err
			}
			better = d.leaveOut(station) || better
			better = d.merge(station) || better
		}
		if !better {
			break
		}
	}
	for station := range d.shots {
		d.shorten(station)
	}
	return ctx.Err()
}

// try carries out other shots for a station when they are lighter and no worse. The
// shots stay the caller's.
func (d *draft) try(station int, shots []shot) bool {
	c, ok := d.weigh(station, shots, d.above(station)+tiny)
	if !ok || c.seconds > -tiny {
		return false
	}
	c.shots = slices.Clone(shots)
	d.apply(&c)
	return true
}

// leaveOut drops soundings that aren't needed, the earliest first.
func (d *draft) leaveOut(station int) (better bool) {
	for k := 0; k < len(d.shots[station]); {
		if d.try(station, slices.Concat(d.shots[station][:k], d.shots[station][k+1:])) {
			better = true
			continue
		}
		k++
	}
	return better
}

// merge puts one sounding in place of two neighbours, or in place of one.
func (d *draft) merge(station int) (better bool) {
	for _, width := range []int{2, 1} {
		for k := 0; k+width <= len(d.shots[station]); k++ {
			better = d.replace(station, k, width) || better
		}
	}
	return better
}

// replace tries every start between the neighbours of some shots in a row for one in
// their place.
func (d *draft) replace(station, k, width int) bool {
	shots := d.shots[station]
	low, high := d.first, d.end-d.slot
	if k > 0 {
		low = shots[k-1].start + d.gaps[station]
	}
	if k+width < len(shots) {
		high = shots[k+width].start - d.gaps[station]
	}
	var other []shot
	for start := floor(high, d.stride); start >= low; start -= d.stride {
		for channel := range d.net.Channels {
			if d.band[channel] < 0 || !d.canSound(station, channel, start) {
				continue
			}
			offset, _ := d.free(station, channel, start)
			if offset < 0 {
				continue
			}
			other = append(append(other[:0], shots[:k]...), shot{start: start, channel: channel, offset: offset})
			if d.try(station, append(other, shots[k+width:]...)) {
				return true
			}
		}
	}
	return false
}

// shorten takes reports off the lists that no target needs, and the soundings that
// nobody then needs out of the plan.
func (d *draft) shorten(station int) {
	for k := range d.shots[station] {
		for _, i := range d.from[station] {
			s := &d.shots[station][k]
			if !d.hears(i, s, d.shots) {
				continue
			}
			shots := slices.Clone(d.shots[station])
			shots[k].idle = append(slices.Clone(shots[k].idle), i)
			if c, ok := d.weigh(station, shots, d.above(station)+tiny); ok {
				d.apply(&c)
			}
		}
	}
	needed := slices.DeleteFunc(slices.Clone(d.shots[station]), func(s shot) bool {
		return !slices.ContainsFunc(d.from[station], func(i int) bool { return d.hears(i, &s, d.shots) })
	})
	if len(needed) < len(d.shots[station]) {
		d.try(station, needed)
	}
}

package sounding

import (
	"context"
	"math"
	"slices"

	"farhop/mesh/link"
)

// tiny is below what counts as a difference: dB² and seconds.
const tiny = 1e-6

// draft is a plan in the making: the shots so far and what they do.
type draft struct {
	*scene
	shots      timetable
	slots      map[int64][]seat
	courses    []course    // by target
	characters [][]float64 // on lists, by receiver and period
	binding    []int       // by station: the target that last ruled out other shots, −1 none
	scratch    *link.State
}

// seat is a place taken in a slot.
type seat struct{ station, channel, offset int }

func (sc *scene) newDraft() *draft {
	d := &draft{
		scene: sc, shots: make(timetable, len(sc.net.Stations)), slots: map[int64][]seat{},
		courses: make([]course, len(sc.targets)), characters: make([][]float64, len(sc.net.Stations)),
		binding: make([]int, len(sc.net.Stations)),
	}
	for v := range d.characters {
		d.characters[v], d.binding[v] = make([]float64, sc.periods), -1
	}
	for i, t := range sc.targets {
		if d.scratch == nil {
			d.scratch = t.growth.State.Clone()
		}
		d.record(i, 0)
	}
	return d
}

// change is other shots for one station, and what they would do.
type change struct {
	station int
	shots   []shot
	same    int      // of the shots, from the first on, as they are now
	courses []course // of the station's targets, in order
	above   float64  // over all of them
	seconds float64  // airtime more than now
}

// above is the variance above the limit over all targets of a station.
func (d *draft) above(station int) float64 {
	sum := 0.0
	for _, i := range d.from[station] {
		sum += d.courses[i].above
	}
	return sum
}

// weigh finds out what other shots of a station would do. It is false as soon as
// more than most is above the limit. The target that ruled out the shots before these
// is looked at first.
func (d *draft) weigh(station int, shots []shot, most float64) (change, bool) {
	c := change{station: station, shots: shots, same: common(d.shots[station], shots)}
	if i := d.binding[station]; i >= 0 && !math.IsInf(most, 1) && d.breaks(i, c.same, shots, most) {
		return c, false
	}
	for _, i := range d.from[station] {
		course := d.resume(i, c.same, shots, most-c.above)
		c.above += course.above
		if c.above > most {
			d.binding[station] = i
			return c, false
		}
		c.courses = append(c.courses, course)
	}
	c.seconds = float64(len(shots)-len(d.shots[station]))*d.net.Slots.Keyed.Seconds() + d.listsChange(&c)
	return c, true
}

// listsChange is how much longer the lists would be keyed.
func (d *draft) listsChange(c *change) float64 {
	type place struct{ receiver, period int }
	more := map[place]float64{}
	var places []place // in an order that is always the same
	for j, i := range d.from[c.station] {
		for p := range d.periods {
			by := c.courses[j].characters[p] - d.courses[i].characters[p]
			if by == 0 {
				continue
			}
			at := place{d.targets[i].to, p}
			if _, seen := more[at]; !seen {
				places = append(places, at)
			}
			more[at] += by
		}
	}
	sum := 0.0
	for _, at := range places {
		now := d.characters[at.receiver][at.period]
		sum += d.listSeconds(at.receiver, at.period, now+more[at]) - d.listSeconds(at.receiver, at.period, now)
	}
	return sum
}

// apply carries out a change.
func (d *draft) apply(c *change) {
	for _, s := range d.shots[c.station] {
		d.slots[s.start] = slices.DeleteFunc(d.slots[s.start], func(o seat) bool { return o.station == c.station })
	}
	d.shots[c.station] = c.shots
	for _, s := range c.shots {
		d.slots[s.start] = append(d.slots[s.start], seat{c.station, s.channel, s.offset})
	}
	for _, i := range d.from[c.station] {
		d.record(i, c.same)
	}
	d.countCharacters()
}

// countCharacters adds up the lists anew, so that no rounding errors gather.
func (d *draft) countCharacters() {
	for v := range d.characters {
		clear(d.characters[v])
	}
	for i, t := range d.targets {
		for p, c := range d.courses[i].characters {
			d.characters[t.to][p] += c
		}
	}
}

// free is an offset on which the station may sound in the slot of the channel, −1 for
// none, and whether it would have the slot to itself. It keeps clear of others and of
// noise. Two stations that a target joins don't sound in one slot: neither would hear
// the other.
func (d *draft) free(station, channel int, start int64) (offset int, alone bool) {
	clear := d.clear[station][channel]
	alone = true
	var others []int
	for _, s := range d.slots[start] {
		if s.station == station {
			continue // its own, to be given up
		}
		alone = false
		if d.linked[s.station][station] {
			return -1, false
		}
		if s.channel == channel {
			others = append(others, s.offset)
		}
	}
	for k, is := range clear {
		if is && !slices.ContainsFunc(others, func(o int) bool { return d.near(channel, k, o) }) {
			return k, alone
		}
	}
	return -1, alone
}

// near reports whether two offsets of a channel are too near each other to be used
// in one slot.
func (d *draft) near(channel, a, b int) bool {
	if a == b {
		return true
	}
	hz := d.net.Channels[channel].OffsetsHz
	return max(hz[a]-hz[b], hz[b]-hz[a]) < d.net.Limits.ClearHz
}

// with is the shots of a station with one more, less those closer to it than the gap.
func (d *draft) with(station int, s shot) []shot {
	shots := make([]shot, 0, len(d.shots[station])+1)
	done := false
	for _, o := range d.shots[station] {
		if gap := d.gaps[station]; o.start > s.start-gap && o.start < s.start+gap {
			continue
		}
		if !done && o.start > s.start {
			shots, done = append(shots, s), true
		}
		shots = append(shots, o)
	}
	if !done {
		shots = append(shots, s)
	}
	return shots
}

// fill adds soundings until every target is within the limit wherever it can be
// kept. Each step cures the earliest instant above the limit; an instant that no
// step cures is given up.
func (d *draft) fill(ctx context.Context) error {
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		i := d.earliest()
		if i < 0 {
			return nil
		}
		if c, ok := d.cure(i); ok {
			d.apply(&c)
			continue
		}
		t := d.targets[i]
		t.keep[d.courses[i].first], t.crowded = false, true
		d.record(i, 0)
	}
}

// earliest is the target that is first above the limit, −1 when none is.
func (d *draft) earliest() int {
	best := -1
	for i := range d.courses {
		if first := d.courses[i].first; first >= 0 && (best < 0 || first < d.courses[best].first) {
			best = i
		}
	}
	return best
}

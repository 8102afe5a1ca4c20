package sounding

import (
	"slices"

	"farhop/mesh/link"
)

// course is what the shots of its sender do for a target.
type course struct {
	above      float64   // variance above the limit, summed over the instants to keep
	first      int       // first such instant, −1 none
	characters []float64 // expected on its receiver's lists, by period
	reports    []float64
	stands     []stand // by number of shots taken in; only of a recorded course
}

// stand is how a course stood right after a shot: a course that differs later on
// only goes on from there. Shots of other stations don't change it: none is placed
// where it would keep a target's receiver from listening, see draft.free.
type stand struct {
	state   *link.State
	instant int // to be judged next
	above   float64
	first   int
	chance  float64 // that this shot is reported
}

// judge takes in the variance at an instant.
func (c *course) judge(d *draft, t *target, k int, v float64) {
	if v > d.limit && t.keep[k] {
		if c.first < 0 {
			c.first = k
		}
		c.above += v - d.limit
	}
}

// note puts a shot that is reported with a chance on the lists.
func (c *course) note(d *draft, t *target, s *shot, chance float64) {
	p := d.period(s.start)
	c.characters[p] += chance * t.characters
	c.reports[p] += chance
}

// common is in how many shots at their beginning two lists are the same for all
// targets.
func common(a, b []shot) int {
	n := min(len(a), len(b))
	for k := range n {
		if a[k].start != b[k].start || a[k].channel != b[k].channel || !slices.Equal(a[k].idle, b[k].idle) {
			return k
		}
	}
	return n
}

// resume is the course of a target whose sender has other shots from the number
// same on. It gives up once more than most is above the limit: the rest of the course
// then isn't filled in.
func (d *draft) resume(i, same int, shots []shot, most float64) course {
	t, from := d.targets[i], &d.courses[i].stands[same]
	c := course{
		above: from.above, first: from.first,
		characters: make([]float64, d.periods), reports: make([]float64, d.periods),
	}
	for k := range same {
		c.note(d, t, &shots[k], d.courses[i].stands[k+1].chance)
	}
	d.scratch.Set(from.state)
	d.follow(i, walk{d.scratch, same, from.instant}, shots, d.shots, watcher{
		at: func(k int, v float64) bool {
			c.judge(d, t, k, v)
			return c.above <= most
		},
		taken: func(s, _ int, chance float64) { c.note(d, t, &shots[s], chance) },
	})
	return c
}

// breaks reports whether other shots of the sender from the number same on lift
// more than most above the limit for a target.
func (d *draft) breaks(i, same int, shots []shot, most float64) bool {
	from := &d.courses[i].stands[same]
	c := course{above: from.above, first: from.first}
	d.scratch.Set(from.state)
	d.follow(i, walk{d.scratch, same, from.instant}, shots, d.shots, watcher{at: func(k int, v float64) bool {
		c.judge(d, d.targets[i], k, v)
		return c.above <= most
	}})
	return c.above > most
}

// record makes the course of a target anew from the number same of the shots of
// its sender on, and keeps how it stood after each.
func (d *draft) record(i, same int) {
	t, shots := d.targets[i], d.shots[d.targets[i].from]
	c := &d.courses[i]
	if c.stands == nil {
		same, c.stands = 0, []stand{{state: t.growth.State, first: -1}}
	}
	from := c.stands[same]
	c.above, c.first = from.above, from.first
	c.characters, c.reports = make([]float64, d.periods), make([]float64, d.periods)
	for k := range same {
		c.note(d, t, &shots[k], c.stands[k+1].chance)
	}
	c.stands = slices.Grow(c.stands[:same+1], len(shots)-same)
	d.scratch.Set(from.state)
	d.follow(i, walk{d.scratch, same, from.instant}, shots, d.shots, watcher{
		at: func(k int, v float64) bool {
			c.judge(d, t, k, v)
			return true
		},
		taken: func(s, k int, chance float64) {
			c.note(d, t, &shots[s], chance)
			c.stands = append(c.stands, stand{d.scratch.Clone(), k, c.above, c.first, chance})
		},
	})
}

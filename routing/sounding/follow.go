package sounding

import (
	"slices"

	"farhop/mesh/link"
)

// shot is a sounding on its way into the plan.
type shot struct {
	start           int64
	channel, offset int
	idle            []int // targets that do without it, ascending
}

// timetable is the shots of each station by time.
type timetable [][]shot

// sounds reports whether the station sounds in the slot.
func (tt timetable) sounds(station int, start int64) bool {
	_, ok := slices.BinarySearchFunc(tt[station], start, func(s shot, start int64) int {
		switch {
		case s.start < start:
			return -1
		case s.start > start:
			return 1
		}
		return 0
	})
	return ok
}

// hears reports whether a shot of the target's sender counts for the target.
func (sc *scene) hears(i int, s *shot, tt timetable) bool {
	t := sc.targets[i]
	return sc.canHear(t, s.channel, s.start) && !slices.Contains(s.idle, i) && !tt.sounds(t.to, s.start)
}

// watcher is told what happens along a target's course: the expected variance
// at each instant at which it matters, until it returns false, and each shot that
// counts, with the chance that it is reported. Either may be nil.
type watcher struct {
	at    func(instant int, variance float64) bool
	heard func(s *shot, chance float64)
}

// follow runs a target through the shots of its sender. A shot tells from the end
// of its slot on.
func (sc *scene) follow(i int, shots []shot, tt timetable, w watcher) {
	t := sc.targets[i]
	state := t.growth.State.Clone()
	next := 0
	take := func(until int64) {
		for ; next < len(shots) && shots[next].start+sc.slot <= until; next++ {
			if s := &shots[next]; sc.hears(i, s, tt) {
				chance := t.growth.Model.Expect(state, s.start, t.growth.Raise, sc.share)
				if w.heard != nil {
					w.heard(s, chance*sc.share)
				}
			}
		}
	}
	for k, at := range sc.instants {
		if w.at == nil || !t.need[k] {
			continue
		}
		take(at)
		if !w.at(k, variance(t.growth.Model, state, at)) {
			return
		}
	}
	take(sc.end)
}

func variance(m *link.Model, s *link.State, unix int64) float64 {
	sd := m.Forecast(s, unix).SD
	return sd * sd
}

// course is what a timetable does for a target.
type course struct {
	above      float64   // variance above the limit, summed over the instants to keep
	first      int       // first such instant, −1 none
	characters []float64 // expected on its receiver's lists, by period
	reports    []float64
}

// course follows a target, and gives up once more than most is above the limit:
// the rest of the course then isn't filled in.
func (sc *scene) course(i int, shots []shot, tt timetable, most float64) course {
	c := course{first: -1, characters: make([]float64, sc.periods), reports: make([]float64, sc.periods)}
	t := sc.targets[i]
	sc.follow(i, shots, tt, watcher{
		at: func(k int, v float64) bool {
			if v > sc.limit && t.keep[k] {
				if c.first < 0 {
					c.first = k
				}
				c.above += v - sc.limit
			}
			return c.above <= most
		},
		heard: func(s *shot, chance float64) {
			p := sc.period(s.start)
			c.characters[p] += chance * t.characters
			c.reports[p] += chance
		},
	})
	return c
}

// saturate finds out at which instants the limit can be kept: going back from
// each, the sender sounds as late as it can be heard, and before that as often as the
// gap allows, as if it were alone.
func (sc *scene) saturate(t *target) {
	var starts []int64
	for k, at := range sc.instants {
		if !t.need[k] {
			continue
		}
		starts = starts[:0]
		for start := floor(at-sc.slot, sc.slot); start >= sc.first; start -= sc.slot {
			if n := len(starts); n > 0 && starts[n-1]-start < sc.gap {
				continue
			}
			if sc.soundable(t, start) {
				starts = append(starts, start)
			}
		}
		state := t.growth.State.Clone()
		for j := len(starts) - 1; j >= 0; j-- {
			t.growth.Model.Expect(state, starts[j], t.growth.Raise, sc.share)
		}
		t.least[k] = variance(t.growth.Model, state, at)
		t.keep[k] = t.least[k] <= sc.limit
	}
}

// soundable reports whether a sounding for the target can be made and heard in
// the slot.
func (sc *scene) soundable(t *target, start int64) bool {
	for c := range sc.net.Channels {
		if sc.canHear(t, c, start) && sc.canSound(t.from, c, start) {
			return true
		}
	}
	return false
}

// floor rounds down to a multiple of step.
func floor(unix, step int64) int64 {
	return unix - ((unix%step)+step)%step
}

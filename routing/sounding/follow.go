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

// watcher is told what happens along a target's way: the expected variance at
// each instant at which it matters, until it returns false, and each shot with
// the instant before which it is taken in and the chance that it is reported, 0
// where it doesn't count; taken may be nil.
type watcher struct {
	at    func(instant int, variance float64) bool
	taken func(shot, instant int, chance float64)
}

// walk is a target on its way through the shots of its sender.
type walk struct {
	state   *link.State // after the shots before next
	next    int         // the shot to be taken in next
	instant int         // the instant to be judged next
}

// follow runs a target through the shots of its sender from where the walk
// stands; the walk's state goes with it. A shot tells from the end of its slot on.
func (sc *scene) follow(i int, from walk, shots []shot, tt timetable, w watcher) {
	t := sc.targets[i]
	take := func(instant int, until int64) {
		for ; from.next < len(shots) && shots[from.next].start+sc.slot <= until; from.next++ {
			chance := 0.0
			if s := &shots[from.next]; sc.hears(i, s, tt) {
				chance = t.growth.Model.Expect(from.state, s.start, t.growth.Raise, sc.share) * sc.share
			}
			if w.taken != nil {
				w.taken(from.next, instant, chance)
			}
		}
	}
	for k := from.instant; k < len(sc.instants); k++ {
		if !t.need[k] {
			continue
		}
		take(k, sc.instants[k])
		if !w.at(k, variance(t.growth.Model, from.state, sc.instants[k])) {
			return
		}
	}
	take(len(sc.instants), sc.end)
}

// start is a target's walk before any shot.
func (sc *scene) start(i int) walk { return walk{state: sc.targets[i].growth.State.Clone()} }

// variance is that of x; the square of the deviation, as figures tell it.
func variance(m *link.Model, s *link.State, unix int64) float64 {
	sd := m.SD(s, unix)
	return sd * sd
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
			if n := len(starts); n > 0 && starts[n-1]-start < sc.gaps[t.from] {
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

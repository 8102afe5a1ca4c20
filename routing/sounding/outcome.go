package sounding

import "math"

// outcome tells what becomes of a target under the plan.
func (d *draft) outcome(i int) Outcome {
	t := d.targets[i]
	o := Outcome{From: t.from, To: t.to, Channel: t.channel, Within: true}
	first, last, lastAbove := true, -1, -1
	d.follow(i, d.start(i), d.shots[t.from], d.shots, watcher{at: func(k int, v float64) bool {
		sd := math.Sqrt(v)
		if first {
			f := t.growth.Model.Forecast(t.growth.State, d.instants[k])
			o.NowSDDB, first = f.SD, false
			o.Decode = t.growth.Model.Expect(t.growth.State.Clone(), d.instants[k], t.growth.Raise, 1)
		}
		if sd > o.WorstSDDB {
			o.WorstSDDB, o.WorstAt = sd, d.instants[k]
		}
		last = k
		if v > d.limit+tiny {
			o.Within, lastAbove = false, k
			o.AboveMinutes += int(Step.Minutes())
			o.LeastSDDB = max(o.LeastSDDB, math.Sqrt(t.least[k]))
		}
		return true
	}})
	if first { // it is never judged
		o.Within, o.Reason, o.WorstAt = false, Away, d.first
		o.NowSDDB = t.growth.Model.Forecast(t.growth.State, d.first).SD
		return o
	}
	if !o.Within {
		o.Reason = d.reason(t, lastAbove, last)
		if lastAbove < last {
			o.WithinFrom = d.instants[lastAbove+1]
		}
	}
	return o
}

// reason tells why a target is above the limit at some instant, lastAbove being the
// last such and last the last at which it matters.
func (d *draft) reason(t *target, lastAbove, last int) Reason {
	heard, passed, before := false, false, false
	for start := floor(d.end-d.slot, d.slot); start >= d.first; start -= d.slot {
		for c := range d.net.Channels {
			if d.band[c] != t.growth.Band || !d.canSound(t.from, c, start) || !d.net.Listens(t.to, c, start) {
				continue
			}
			heard = true
			if d.passes[t.to][d.period(start)] != nil {
				passed = true
				before = before || start+d.slot <= d.instants[lastAbove]
			}
		}
	}
	switch {
	case !heard:
		return Away
	case !passed:
		return NoWay
	case !before:
		return TooLate
	case t.crowded && t.least[lastAbove] <= d.limit:
		return NoFreeSlot
	}
	return TooLittle
}

// tally tells what a timetable costs and does where the plan keeps within the limit.
func (d *draft) tally(tt timetable) Tally {
	y := Tally{WorstLink: -1}
	characters := make([][]float64, len(tt))
	for v := range characters {
		characters[v] = make([]float64, d.periods)
		y.Count += len(tt[v])
	}
	y.SoundingSeconds = float64(y.Count) * d.net.Slots.Keyed.Seconds()
	own := make([]float64, d.periods)
	for i, t := range d.targets {
		over := false
		clear(own)
		d.follow(i, d.start(i), tt[t.from], tt, watcher{
			at: func(k int, v float64) bool {
				if !t.keep[k] {
					return true
				}
				over = over || v > d.limit+tiny
				if sd := math.Sqrt(v); sd > y.WorstSDDB {
					y.WorstSDDB, y.WorstLink, y.WorstAt = sd, i, d.instants[k]
				}
				return true
			},
			taken: func(s, _ int, chance float64) { own[d.period(tt[t.from][s].start)] += chance * t.characters },
		})
		if over {
			y.Over++
		}
		for p, c := range own {
			characters[t.to][p] += c
		}
	}
	for v := range characters {
		for p, c := range characters[v] {
			y.ListSeconds += d.listSeconds(v, p, c)
		}
	}
	return y
}

package sounding

import (
	"cmp"
	"slices"
	"time"

	"farhop/mesh"
)

// scene is a request made ready: the links to keep, when they are judged, and
// what the plan allows.
type scene struct {
	Request
	net        *mesh.Net
	first, end int64
	slot       int64     // seconds
	stride     int64     // seconds between the starts a sounding should have, slots on whole minutes
	gaps       []int64   // by station: seconds between its soundings, 0 where it may make none
	limit      float64   // variance in dB²
	share      float64   // chance that a slot is free for a sounding
	instants   []int64   // when links are judged
	periods    int       // of lists
	passes     [][]*Pass // by receiver and period, nil where there is none
	targets    []*target
	from       [][]int    // targets by sender
	linked     [][]bool   // whether a target joins two stations, either way
	band       []int      // of each channel, −1 where no target uses it
	clear      [][][]bool // by sender, channel and offset: no receiver of the sender's has noise there
}

// target is a link to be kept: one sender, one receiver, one band.
type target struct {
	from, to, channel int
	growth            mesh.Growth
	need              []bool    // by instant: it matters and both ends listen
	keep              []bool    // by instant: of these, where the limit can be kept
	least             []float64 // by instant: variance after as many soundings as are allowed, where needed
	crowded           bool      // some instant was given up for want of a slot
	characters        float64   // of one report on a list
}

// What a list holds, in characters: the time and call of the list, and for each report
// a time, a call and an SNR, as in '0620Z MILL copies 0440 HARBOR -14, 0512 …'.
const (
	listCharacters   = 14 // and the receiver's call
	reportCharacters = 11 // and the sender's call
)

func newScene(n *mesh.Net, src Source, r Request) *scene {
	sc := &scene{
		Request: r, net: n, first: n.Slots.Start(r.Start), slot: n.Slots.Seconds(),
		limit: r.WithinDB * r.WithinDB, share: 1 - n.Slots.Busy,
		from: make([][]int, len(n.Stations)), linked: make([][]bool, len(n.Stations)), band: make([]int, len(n.Channels)),
	}
	sc.end = sc.first + int64(r.Horizon/time.Second)
	sc.stride = stride(sc.slot)
	sc.layGaps()
	for t := sc.first; t < sc.end; t += int64(Step / time.Second) {
		sc.instants = append(sc.instants, t)
	}
	sc.layPasses()
	for i := range sc.linked {
		sc.linked[i] = make([]bool, len(n.Stations))
	}
	for c := range sc.band {
		sc.band[c] = -1
	}
	sc.layTargets(src)
	return sc
}

// layGaps keeps soundings apart as asked for, and so far that no clock hour holds more
// slots than the limits of duty allow.
func (sc *scene) layGaps() {
	const hour = 3600
	sc.gaps = make([]int64, len(sc.net.Stations))
	for v := range sc.gaps {
		sc.gaps[v] = max(int64(sc.Gap/time.Second), sc.slot)
		duty := sc.net.Duty(v)
		if duty >= 1 {
			continue
		}
		switch slots := int64(duty*hour/float64(sc.slot) + 1e-9); slots {
		case 0:
			sc.gaps[v] = 0
		default:
			sc.gaps[v] = max(sc.gaps[v], (hour+slots-1)/slots)
		}
	}
}

// stride is every how many seconds a slot starts on a whole minute, at most 600;
// else the slot itself.
func stride(slot int64) int64 {
	s := slot
	for s%60 != 0 {
		s += slot
		if s > 600 {
			return slot
		}
	}
	return s
}

// layPasses files the passes. The coordinator needs none.
func (sc *scene) layPasses() {
	lists := int64(sc.Lists / time.Second)
	sc.periods = int((sc.end-sc.first-1)/lists) + 1
	sc.passes = make([][]*Pass, len(sc.net.Stations))
	for v := range sc.passes {
		sc.passes[v] = make([]*Pass, sc.periods)
	}
	for i := range sc.Passes {
		if p := &sc.Passes[i]; p.Period >= 0 && p.Period < sc.periods {
			sc.passes[p.Receiver][p.Period] = p
		}
	}
	for k := range sc.periods {
		sc.passes[sc.Coordinator][k] = &Pass{Receiver: sc.Coordinator, Period: k, Delivered: 1}
	}
}

// period is the list period that holds a moment of the horizon.
func (sc *scene) period(unix int64) int { return int((unix - sc.first) / int64(sc.Lists/time.Second)) }

// layTargets turns the needs into targets: needs of one pair on one band share
// one, for they share their evidence. Links without a state, such as those the plan
// states, have nothing to be learnt and are left out.
func (sc *scene) layTargets(src Source) {
	needs := slices.Clone(sc.Needs)
	slices.SortFunc(needs, func(a, b Need) int {
		return cmp.Or(a.From-b.From, a.To-b.To, a.Channel-b.Channel, cmp.Compare(a.Start, b.Start), cmp.Compare(a.End, b.End))
	})
	for _, d := range needs {
		g, ok := src.Growth(d.From, d.To, d.Channel)
		if !ok {
			continue
		}
		t := sc.targetFor(d, g)
		for i, at := range sc.instants {
			if at >= d.Start && at < d.End && sc.net.OpenSlot(d.From, d.To, d.Channel, sc.net.Slots.Start(at)) {
				t.need[i] = true
			}
		}
	}
	for i, t := range sc.targets {
		sc.from[t.from] = append(sc.from[t.from], i)
		sc.linked[t.from][t.to], sc.linked[t.to][t.from] = true, true
	}
	sc.bands(src)
	sc.layOffsets()
	for _, t := range sc.targets {
		sc.saturate(t)
	}
}

// targetFor finds or makes the target of a need. Needs come by sender and
// receiver, so it can only be among the last.
func (sc *scene) targetFor(d Need, g mesh.Growth) *target {
	for i := len(sc.targets) - 1; i >= 0; i-- {
		t := sc.targets[i]
		if t.from != d.From || t.to != d.To {
			break
		}
		if t.growth.Band == g.Band {
			return t
		}
	}
	t := &target{
		from: d.From, to: d.To, channel: d.Channel, growth: g,
		need: make([]bool, len(sc.instants)), keep: make([]bool, len(sc.instants)), least: make([]float64, len(sc.instants)),
		characters: float64(len(sc.net.Stations[d.From].Call) + reportCharacters),
	}
	sc.targets = append(sc.targets, t)
	return t
}

// bands finds the band of every channel on which a target could be sounded.
func (sc *scene) bands(src Source) {
	for _, t := range sc.targets {
		for c := range sc.net.Channels {
			if sc.band[c] < 0 {
				if g, ok := src.Growth(t.from, t.to, c); ok {
					sc.band[c] = g.Band
				}
			}
		}
	}
}

// layOffsets finds the offsets on which a sender can be heard by all its receivers,
// as far as the noises go that the plan states; where there is none, by those that have
// none of their own.
func (sc *scene) layOffsets() {
	sc.clear = make([][][]bool, len(sc.net.Stations))
	for v := range sc.clear {
		sc.clear[v] = make([][]bool, len(sc.net.Channels))
		for c := range sc.clear[v] {
			sc.clear[v][c] = sc.clearOffsets(v, c)
		}
	}
}

func (sc *scene) clearOffsets(sender, channel int) []bool {
	list := sc.net.Channels[channel].OffsetsHz
	clear := make([]bool, sc.offsets(channel))
	if len(list) == 0 {
		clear[0] = true
		return clear
	}
	quiet := func(hz int, among []int) bool {
		return !slices.ContainsFunc(among, func(i int) bool { return !sc.net.OffsetClear(sc.targets[i].to, channel, hz) })
	}
	noisy := func(i int) bool {
		return !slices.ContainsFunc(list, func(hz int) bool { return sc.net.OffsetClear(sc.targets[i].to, channel, hz) })
	}
	among := slices.DeleteFunc(slices.Clone(sc.from[sender]), noisy)
	for k, hz := range list {
		clear[k] = quiet(hz, among)
	}
	if !slices.Contains(clear, true) {
		for k := range clear {
			clear[k] = true
		}
	}
	return clear
}

// canSound reports whether the station may sound on the channel in the slot, as
// far as its own plan goes.
func (sc *scene) canSound(station, channel int, start int64) bool {
	return start >= sc.first && start+sc.slot <= sc.end && sc.gaps[station] > 0 &&
		slices.Contains(sc.net.Stations[station].Channels, channel) &&
		sc.net.InWindow(channel, start) && sc.net.MaySend(station, start)
}

// canHear reports whether a sounding on the channel in the slot can tell the
// coordinator something of the target.
func (sc *scene) canHear(t *target, channel int, start int64) bool {
	return sc.band[channel] == t.growth.Band && sc.net.Listens(t.to, channel, start) && sc.passes[t.to][sc.period(start)] != nil
}

// offsets is how many soundings a slot of a channel can hold.
func (sc *scene) offsets(channel int) int { return max(1, len(sc.net.Channels[channel].OffsetsHz)) }

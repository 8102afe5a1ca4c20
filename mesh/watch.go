package mesh

import "time"

// OnAir reports whether the station is on the air for all of the slot that
// starts at the Unix time.
func (n *Net) OnAir(station int, slotStart int64) bool {
	return n.Stations[station].OnAir.Holds(secondOfDay(slotStart), int(n.Slots.Seconds()))
}

// InWindow reports whether the net uses the channel for all of the slot that
// starts at the Unix time.
func (n *Net) InWindow(channel int, slotStart int64) bool {
	return n.Channels[channel].Windows.Holds(secondOfDay(slotStart), int(n.Slots.Seconds()))
}

// WatchOf is the channel that the station listens to in the slot that starts at
// the Unix time: while on the air, the first of its own list that is in
// window. It is false when there is none. For a station with several receivers
// it is the first of the channels it listens to.
func (n *Net) WatchOf(station int, slotStart int64) (channel int, ok bool) {
	second, length := secondOfDay(slotStart), int(n.Slots.Seconds())
	s := &n.Stations[station]
	if !s.OnAir.Holds(second, length) {
		return 0, false
	}
	for _, c := range s.Channels {
		if n.Channels[c].Windows.Holds(second, length) {
			return c, true
		}
	}
	return 0, false
}

// Listens reports whether, for planning, the station listens to the channel in
// the slot that starts at the Unix time: it is on the air, and the channel is its
// watch or, with WatchAll, any of its channels in window.
func (n *Net) Listens(station, channel int, slotStart int64) bool {
	if n.Stations[station].Watch != WatchAll {
		c, ok := n.WatchOf(station, slotStart)
		return ok && c == channel
	}
	return n.uses(station, channel) && n.InWindow(channel, slotStart) && n.OnAir(station, slotStart)
}

// OpenSlot reports whether the slot that starts at the Unix time is open to a
// hop: both stations listen to the channel and neither is quiet, so that frames and
// acknowledgments can pass. Whether the slot is busy is another matter.
func (n *Net) OpenSlot(from, to, channel int, slotStart int64) bool {
	return from != to && n.Answers(from, channel, slotStart) && n.Answers(to, channel, slotStart)
}

// uses reports whether the channel is in the station's own list.
func (n *Net) uses(station, channel int) bool {
	for _, c := range n.Stations[station].Channels {
		if c == channel {
			return true
		}
	}
	return false
}

// Sounds is the channel on which the station has a sounding planned for the
// slot that starts at the Unix time, false when there is none. A sounding that is
// due inside a slot goes out in the next: transmissions begin with a slot. It is
// left out while the station is off the air or quiet or the channel out of window. With
// soundings on several channels in one slot it is the first of its list.
func (n *Net) Sounds(station int, slotStart int64) (channel int, ok bool) {
	second := secondOfDay(slotStart)
	for _, s := range n.Stations[station].Soundings {
		if s.due(second, int(n.Slots.Seconds())) && n.InWindow(s.Channel, slotStart) && n.MaySend(station, slotStart) {
			return s.Channel, true
		}
	}
	return 0, false
}

// SoundsOn reports whether the station has a sounding planned on the channel for the
// slot that starts at the Unix time. A plan may give soundings on several channels
// at once, for a station with several transmitters.
func (n *Net) SoundsOn(station, channel int, slotStart int64) bool {
	second := secondOfDay(slotStart)
	for _, s := range n.Stations[station].Soundings {
		if s.Channel == channel && s.due(second, int(n.Slots.Seconds())) && n.InWindow(channel, slotStart) && n.MaySend(station, slotStart) {
			return true
		}
	}
	return false
}

// due reports whether a sounding is due after the previous slot's start and
// not after this one's. The schedule begins anew at 00:00; what is due after the last
// boundary of the day goes out in the first slot of the next.
func (s Sounding) due(second, length int) bool {
	every, after := int(s.Every/time.Second), int(s.After/time.Second)
	if every <= 0 {
		return false
	}
	if second == 0 {
		return after == 0 || dueWithin(after, every, DaySeconds-length, DaySeconds-1)
	}
	return dueWithin(after, every, second-length, second)
}

// dueWithin reports whether after + n·every, n ≥ 0, falls above low and at or
// below high.
func dueWithin(after, every, low, high int) bool {
	if high < after {
		return false
	}
	last := high - (high-after)%every
	return last > low
}

package mesh

import "fmt"

// Limits is what a net agrees on so that its transmissions get along with each
// other and with everybody else's.
type Limits struct {
	// DutyLimit is the largest share of the slots of a clock hour in which a station
	// may transmit, over 0 and up to 1, where the station states none.
	DutyLimit float64
	Quiet     Windows // UTC hours in which nobody transmits
	// SideBySideDB is the largest difference of level, in dB, up to which a receiver
	// takes in signals on neighbouring offsets together.
	SideBySideDB float64
	ClearHz      int // audio offsets in use at a time keep this far from each other and from noise
}

// DefaultLimits is what holds where a plan says nothing: no limit of duty, no
// quiet hours, 30 dB and 100 Hz. They are choices, not measurements.
func DefaultLimits() Limits { return Limits{DutyLimit: 1, SideBySideDB: 30, ClearHz: 100} }

// isZero reports whether nothing is stated.
func (l Limits) isZero() bool {
	return l.DutyLimit == 0 && l.Quiet.Empty() && l.SideBySideDB == 0 && l.ClearHz == 0
}

// Noise is an audio offset at which a station's receiver hears a steady noise on
// a channel.
type Noise struct {
	Channel  int // index into Net.Channels
	OffsetHz int
}

// Duty is the largest share of the slots of a clock hour in which the station
// may transmit.
func (n *Net) Duty(station int) float64 {
	if own := n.Stations[station].DutyLimit; own > 0 {
		return own
	}
	return n.Limits.DutyLimit
}

// Quiet reports whether some of the slot that starts at the Unix time lies in hours
// in which the station does not transmit, its own or the net's.
func (n *Net) Quiet(station int, slotStart int64) bool {
	own, all := &n.Stations[station].Quiet, &n.Limits.Quiet
	if own.Empty() && all.Empty() {
		return false
	}
	second, length := secondOfDay(slotStart), int(n.Slots.Seconds())
	return own.Touches(second, length) || all.Touches(second, length)
}

// MaySend reports whether the station is on the air and not quiet in the slot
// that starts at the Unix time.
func (n *Net) MaySend(station int, slotStart int64) bool {
	return n.OnAir(station, slotStart) && !n.Quiet(station, slotStart)
}

// Answers reports whether the station can take part in an exchange on the channel in
// the slot that starts at the Unix time: it listens and may answer.
func (n *Net) Answers(station, channel int, slotStart int64) bool {
	return n.Listens(station, channel, slotStart) && !n.Quiet(station, slotStart)
}

// OffsetClear reports whether an audio offset keeps clear of the noise that the plan
// states on the channel: for all, and at the station that is to receive there.
func (n *Net) OffsetClear(station, channel, offsetHz int) bool {
	for _, hz := range n.Channels[channel].NoisyHz {
		if !n.clear(hz, offsetHz) {
			return false
		}
	}
	for _, noise := range n.Stations[station].Noisy {
		if noise.Channel == channel && !n.clear(noise.OffsetHz, offsetHz) {
			return false
		}
	}
	return true
}

// clear reports whether two audio offsets are far enough apart.
func (n *Net) clear(a, b int) bool { return a != b && max(a-b, b-a) >= n.Limits.ClearHz }

// Touches reports whether any of a stretch lies in the windows: length seconds,
// at least 1, from secondOfDay, 0…86399.
func (w Windows) Touches(secondOfDay, length int) bool {
	for _, s := range w.spans {
		offset := secondOfDay - s.Start
		if offset < 0 {
			offset += DaySeconds
		}
		if offset < s.Seconds || offset+length > DaySeconds {
			return true
		}
	}
	return false
}

func (c *checker) limits() {
	l := &c.n.Limits
	c.above("limits.duty_limit", l.DutyLimit, 0, 1)
	if l.Quiet.Seconds() == DaySeconds {
		c.add("limits.quiet", "the whole day is quiet; leave some of it to transmit in")
	}
	c.within("limits.side_by_side_db", l.SideBySideDB, 0, 200)
	c.count("limits.clear_hz", l.ClearHz, 0, 20_000)
}

// noisyChannel checks what a channel says of noise.
func (c *checker) noisyChannel(ch *Channel, path string) {
	for j, hz := range ch.NoisyHz {
		c.count(fmt.Sprintf("%s.noisy_hz[%d]", path, j), hz, 1, 100_000)
	}
	if len(ch.NoisyHz) == 0 {
		return
	}
	if len(ch.OffsetsHz) == 0 {
		c.add(path+".noisy_hz", "needs offsets_hz, the offsets to choose from")
		return
	}
	for _, hz := range ch.OffsetsHz {
		free := true
		for _, noise := range ch.NoisyHz {
			free = free && c.n.clear(noise, hz)
		}
		if free {
			return
		}
	}
	c.add(path+".noisy_hz", "no offset of the channel is %d Hz clear of noise (limits.clear_hz)", c.n.Limits.ClearHz)
}

// stationLimits checks a station's limits and its noise.
func (c *checker) stationLimits(s *Station, path string) {
	if s.DutyLimit != 0 {
		c.above(path+".duty_limit", s.DutyLimit, 0, 1)
	}
	if s.Quiet.Seconds() == DaySeconds {
		c.add(path+".quiet", "the whole day is quiet; leave some of it to transmit in")
	}
	for j, noise := range s.Noisy {
		at := fmt.Sprintf("%s.noisy[%d]", path, j)
		c.count(at+".offset_hz", noise.OffsetHz, 1, 100_000)
		if c.channel(at+".channel", noise.Channel) && len(c.n.Channels[noise.Channel].OffsetsHz) == 0 {
			c.add(at+".channel", "%s needs offsets_hz, the offsets to choose from", c.n.Channels[noise.Channel].Name)
		}
	}
}

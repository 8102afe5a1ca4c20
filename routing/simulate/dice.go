package simulate

import (
	"math"
	"math/rand/v2"

	"farhop/mesh"
	"farhop/mesh/link"
)

// dice is all randomness of a player.
type dice struct {
	pcg    *rand.PCG
	normal *rand.Rand // draws from pcg
}

func newDice() dice {
	pcg := rand.NewPCG(0, 0)
	return dice{pcg, rand.New(pcg)}
}

// seed starts the dice anew.
func (d dice) seed(one, two uint64) { d.pcg.Seed(one, two) }

// happens is true with the given chance: never for 0, always for 1.
func (d dice) happens(chance float64) bool {
	return float64(d.pcg.Uint64()>>11)*0x1p-53 < chance
}

// deviate is a standard normal number.
func (d dice) deviate() float64 { return d.normal.NormFloat64() }

// state is both directions of a hop at one moment, as the chain goes.
type state struct{ forward, back link.Direction }

// decode is the chance that a frame decodes in a direction whose mean SNR lies at
//
//	Margin + Common·net + √(SD² − Common²)·own
//
// over the half-decode SNR, on a decode curve of spread Noise, all in dB.
func decode(d link.Direction, own, net float64) float64 {
	switch d.Kind {
	case link.Certain:
		return d.Decode
	case link.Gaussian:
		x := d.Margin + d.Common*net + math.Sqrt(max(0, d.SD*d.SD-d.Common*d.Common))*own
		return math.Erfc(-x/d.Noise/math.Sqrt2) / 2
	}
	return 0
}

// state is what the links say about a hop for the quarter that holds the slot, midway
// through the message.
func (c *course) state(hop, slot int) state {
	from, to, channel := c.Stations[hop], c.Stations[hop+1], c.Channels[hop]
	unix := c.Start + int64(c.quarter(slot))*quarter
	return state{c.direction(from, to, channel, unix), c.direction(to, from, channel, unix)}
}

// quarter counts whole quarters of an hour from the start to the beginning of a
// slot.
func (c *course) quarter(slot int) int {
	return int((c.first - c.Start + int64(slot)*c.length) / quarter)
}

// direction is closed where there is no link, or none that may be used.
func (c *course) direction(from, to, channel int, unix int64) link.Direction {
	e, ok := mesh.Underway(c.Links, c.slots, c.Frames, from, to, channel, unix)
	if !ok || !c.usable(e) {
		return link.Direction{}
	}
	return e.Through(c.slots, c.Frames)
}

// usable reports whether the scenario allows a link; one stated by the plan
// always is.
func (c *course) usable(e mesh.Edge) bool {
	return e.Fixed || (e.Known || c.Unknown) && (!e.Inferred || c.Inferred)
}

// Package delivery computes when a message arrives: the exact distribution of
// the time a hop takes and of the arrival over a chain of hops. It samples
// nothing.
package delivery

import "farhop/mesh/link"

// Protocol is the exchange on each hop.
type Protocol struct {
	Frames     int     // F, frames of the message on every hop, ≥ 1
	Ack        int     // A, acknowledgment frames, ≥ 0
	Turnaround int     // G, turnaround slots, ≥ 0
	Rounds     int     // R, rounds a block, ≥ 1
	Block      int     // B, frames a block, 0 = the whole message
	Busy       float64 // b, chance that a slot is taken by others, 0 ≤ b < 1
}

// Leg is one hop on one channel as the plan's clock sees it. Slots count from
// the plan's first slot.
type Leg struct {
	// Open reports whether a slot is open to the hop: both stations on the air
	// and watching the channel, the channel in its window. Busy slots aside.
	Open func(slot int) bool
	// Directions gives the sender's and the answering direction at a quarter:
	// 15 minutes × quarter after the start.
	Directions func(quarter int) (forward, reverse link.Direction)
}

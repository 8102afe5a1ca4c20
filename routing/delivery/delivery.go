// Package delivery computes when a message arrives: the exact distribution of
// the time a hop takes and of the arrival over a chain of hops. It samples
// nothing.
//
// # One hop
//
// The message is F frames, cut into blocks. A round sends all frames of the block
// that the sender knows to be missing, one a usable slot; then G slots pass, then
// the A of an acknowledgment, which the receiver keys if it decoded any frame of
// the round, and again G. If the acknowledgment is read (A frames, each with the
// chance of a frame on the answering direction), the sender knows what is missing
// and the next round sends that; if not, the next round is a poll of one frame
// that carries nothing and is answered likewise if it decodes. A block has R
// rounds. A block that is not the message's last must be acknowledged, or the try
// ends. With the last block a relay goes on when the round is over in which it
// got the rest; on the last hop the sender polls on until it has read or the
// rounds are over.
//
// A frame decodes with chance p = Φ((Margin + c·η + √(SD² − c²)·ζ)/Noise), or with
// a fixed chance. ζ is one standard normal deviate for both directions of the
// hop and the whole of it; η is one for the net. Given both, the number of usable
// slots is a finite Markov chain, worked out exactly (histories, passage,
// exchange). ζ is integrated over with an error below 1e-5 in any chance of
// arrival (grid, average), η by an outer sum over whole chains.
//
// A slot is usable if it is open to the hop and not busy; busy slots are waited
// out and fall independently with chance b.
//
// # A chain
//
// Hops follow one another in absolute time. A hop starts with the first slot open
// to it from the moment the station has the message; there the state of the link
// is taken, rounded down to a quarter of an hour after the start, and from there
// open slots are counted. Tries are followed past the deadline, for a week at
// most, since they key frames there too.
//
// # Accuracy
//
// Chances of delivery are within 1e-4 whatever the links; delivered, given up and
// late add up to 1 within 1e-9. Times are whole slots.
package delivery

import "farhop/mesh/link"

// Protocol is the exchange on each hop.
type Protocol struct {
	Frames     int     // F, frames of the message on every hop, ≥ 1
	Ack        int     // A, acknowledgment frames, ≥ 0
	Turnaround int     // G, turnaround slots, ≥ 0
	Rounds     int     // R, rounds a block, ≥ 1
	Block      int     // B, frames a block, 0 = the whole message
	Busy       float64 // b, chance that a slot is taken by others, 0…0.99
}

// Leg is one hop on one channel as the plan's clock sees it. Slots count from
// the plan's first slot.
type Leg struct {
	// Open reports whether a slot is open to the hop: both stations on the air
	// and watching the channel, the channel in its window. Busy slots aside.
	Open func(slot int) bool
	// Hours, unless nil, is the same for legs that are open in the same slots, so that
	// these are looked at once for all of them.
	Hours any
	// Directions gives the sender's and the answering direction at a quarter:
	// 15 minutes × quarter after the start.
	Directions func(quarter int) (forward, reverse link.Direction)
}

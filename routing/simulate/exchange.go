package simulate

import "math"

// never stands for the slot of what doesn't happen.
const never = math.MaxInt

// player plays one run after the other. It reuses everything it holds.
type player struct {
	*course
	dice
	states []map[int]state // by hop and quarter, as far as they were needed
	now    int             // the first slot about which nothing is decided yet
	net    float64         // the net-wide deviate of this run
	keyed  []int           // frames keyed so far in this run, by place in the chain
}

func (c *course) newPlayer() *player {
	p := &player{course: c, dice: newDice(), keyed: make([]int, len(c.Stations))}
	for range c.hops {
		p.states = append(p.states, make(map[int]state))
	}
	return p
}

// run is what became of the message in one run.
type run struct {
	delivered int  // slot in which the destination had it
	confirmed int  // slot in which its sender knew, with a reply the origin
	gaveUp    bool // a station used up its rounds before the destination had it
	begun     int  // so many hops were begun
	done      int  // so many were done
}

// play sends the message along the chain and, where one is asked for, the reply
// back.
func (p *player) play() run {
	clear(p.keyed)
	p.now, p.net = 0, p.deviate()
	r := p.carry(p.Frames, false)
	if p.Confirm && r.confirmed != never {
		r.confirmed = p.carry(replyFrames, true).delivered
	}
	return r
}

// carry takes so many frames over all hops, each from the moment the one before
// it lets go.
func (p *player) carry(frames int, back bool) run {
	r := run{delivered: never, confirmed: never}
	last := len(p.hops) - 1
	for i := range p.hops {
		e, ok := p.begin(i, back)
		if !ok {
			return r // no slot is ever open to it: the message waits for good
		}
		r.begun++
		o := p.pass(&e, frames, i < last)
		if o.delivered == never {
			r.gaveUp = true
			return r
		}
		r.done++
		if i == last {
			r.delivered, r.confirmed = o.delivered, o.confirmed
		}
	}
	return r
}

// exchange is one hop while it is being played.
type exchange struct {
	*hop
	sender, receiver int     // places in the chain
	frame, answer    float64 // chances that a frame decodes, there and back
}

// begin waits for the first slot open to the i-th hop and draws how its link is.
// It is false when none ever is.
func (p *player) begin(i int, back bool) (exchange, bool) {
	if back {
		i = len(p.hops) - 1 - i
	}
	h := &p.hops[i]
	if h.wait == nil {
		return exchange{}, false
	}
	p.now = h.next(p.now)
	q := p.quarter(p.now)
	s, ok := p.states[i][q]
	if !ok {
		s = p.state(i, p.now)
		p.states[i][q] = s
	}
	own := p.deviate()
	there, answer := decode(s.forward, own, p.net), decode(s.back, own, p.net)
	if back {
		return exchange{h, i + 1, i, answer, there}, true
	}
	return exchange{h, i, i + 1, there, answer}, true
}

// outcome is what became of a block, or of all blocks of a hop.
type outcome struct {
	delivered int // slot in which the receiver had all of it
	confirmed int // slot in which the sender had read so
}

// pass sends the frames over one hop, block after block.
func (p *player) pass(e *exchange, frames int, relay bool) outcome {
	size := p.slots.Block
	if size == 0 {
		size = frames
	}
	for ; frames > size; frames -= size {
		if p.block(e, size, false).confirmed == never {
			return outcome{never, never}
		}
	}
	return p.block(e, frames, relay)
}

// block plays the rounds of one block. It ends with the round in which the
// sender reads that the receiver has all of it; to a relay, with the round in which
// the receiver has all of it; else after the last round.
func (p *player) block(e *exchange, frames int, relay bool) outcome {
	o := outcome{never, never}
	lacking, informed := frames, true // what the receiver lacks; whether the sender knows what that is
	for range p.slots.Rounds {
		sent, decoded := 1, 0 // a poll
		if informed {
			sent = lacking
		}
		for range sent {
			p.slot(e.hop)
			p.keyed[e.sender]++
			if !p.happens(e.frame) {
				continue
			}
			decoded++
			if informed {
				if lacking--; lacking == 0 {
					o.delivered = p.now - 1
				}
			}
		}
		p.pause(e.hop, p.slots.Turnaround)
		informed = p.acknowledge(e, decoded > 0)
		read := p.now - 1
		p.pause(e.hop, p.slots.Turnaround)
		if lacking > 0 {
			continue
		}
		if informed {
			o.confirmed = read
		}
		if informed || relay {
			break
		}
	}
	return o
}

// acknowledge lets the slots of the acknowledgment pass, with or without one, and
// reports whether the sender reads it.
func (p *player) acknowledge(e *exchange, sent bool) bool {
	read := sent
	for range p.slots.Ack {
		p.slot(e.hop)
		if sent {
			p.keyed[e.receiver]++
			read = p.happens(e.answer) && read
		}
	}
	return read
}

// pause lets so many usable slots pass.
func (p *player) pause(h *hop, slots int) {
	for range slots {
		p.slot(h)
	}
}

// slot takes the next slot that is open to the hop and not busy.
func (p *player) slot(h *hop) {
	p.now = h.next(p.now)
	for p.slots.Busy > 0 && p.happens(p.slots.Busy) {
		p.now = h.next(p.now + 1)
	}
	p.now++
}

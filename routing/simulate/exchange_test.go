package simulate

import (
	"fmt"
	"testing"
	"time"

	"farhop/mesh"
)

// chain writes a chain of hops of one pair of chances.
func chain(hops int, p, q float64) (text string) {
	for i := range hops {
		text += fmt.Sprintf("%c-%c:%v/%v ", 'A'+i, 'A'+i+1, p, q)
	}
	return text
}

// TestOneFrame compares a message of one frame with what can be written down by
// hand: with 3 rounds the origin sends, polls, and after a read poll sends again.
func TestOneFrame(t *testing.T) {
	for i, c := range []struct{ p, q float64 }{{0.7, 0.6}, {0.3, 0.9}, {0.95, 0.2}, {1, 0.5}, {0.5, 1}} {
		p, q := c.p, c.q
		r := playing(t, scene(t, chain(1, p, q), 1, time.Hour, func(n *mesh.Net) { n.Slots.Rounds = 3 }), 40_000, uint64(i))
		within(t, "delivered", r.Delivered, p+(1-p)*p*q*p)
		within(t, "given up", r.GivenUp, (1-p)*(1-p*q*p))
		within(t, "confirmed", r.Confirmed, p*q+p*(1-q)*(p*q+(1-p*q)*p*q)+(1-p)*p*q*p*q)
		sent := 1 + (1 - p*q) + (1 - p*q - p*(1-q)*p*q) // a round is left out once the acknowledgment is read
		within(t, "frames of the origin", r.Stations[0], sent)
		within(t, "acknowledgments", r.Stations[1], p*sent)
		within(t, "airtime", r.Airtime, (1+p)*sent)
		// A round is a frame, a turnaround slot, the acknowledgment and a
		// turnaround slot: the first ends with slot 3.
		within(t, "at once", r.By(0), p)
		within(t, "before the third round", r.By(7), p)
		within(t, "in the third round", r.By(8), p+(1-p)*p*q*p)
		if n := r.Confirmations; n[0]+n[1]+n[3]+n[4]+n[5]+n[7] > 0 || n[2] == 0 || n[6]+n[10] == 0 && q < 1 {
			t.Errorf("p %v, q %v: confirmed in slots %v", p, q, n[:12])
		}
	}
}

// TestRelayFallsSilent: the origin stops with the round in which the relay has
// the message, acknowledged or not, and the relay starts with the next slot.
func TestRelayFallsSilent(t *testing.T) {
	const p, q = 0.6, 0.5
	r := playing(t, scene(t, chain(2, p, q), 1, time.Hour, func(n *mesh.Net) { n.Slots.Rounds = 3 }), 40_000, 1)
	first, third := p, (1-p)*p*q*p
	within(t, "frames of the origin", r.Stations[0], 1+2*(1-p))
	within(t, "relay has it", r.Hops[0].Done, first+third)
	within(t, "second hop begun", r.Hops[1].Begun, first+third)
	within(t, "delivered", r.Delivered, (first+third)*(first+third))
	within(t, "by slot 4", r.By(4), first*first)
	within(t, "by slot 11", r.By(11), first*first)
	within(t, "by slot 12", r.By(12), first*first+2*first*third)
	if r.By(3).Count > 0 {
		t.Error("arrived before the relay could send")
	}
}

// TestFills: of two frames the one that is lacking is sent again, if the
// acknowledgment was read.
func TestFills(t *testing.T) {
	const p, q = 0.6, 0.7
	for _, c := range []struct {
		ack, turnaround int
		read            float64
	}{{1, 1, q}, {2, 0, q * q}, {0, 0, 1}, {0, 2, 1}} {
		r := playing(t, scene(t, chain(1, p, q), 2, time.Hour, func(n *mesh.Net) {
			n.Slots.Rounds, n.Slots.Ack, n.Slots.Turnaround = 2, c.ack, c.turnaround
		}), 40_000, 1)
		within(t, "delivered", r.Delivered, p*p+2*p*(1-p)*c.read*p)
		within(t, "without fills", r.By(1), p*p)
		again := 2 + 2*c.turnaround + c.ack
		within(t, "before the fill", r.By(again-1), p*p)
		within(t, "with the fill", r.By(again), p*p+2*p*(1-p)*c.read*p)
		some := 1 - (1-p)*(1-p)
		within(t, "frames of the origin", r.Stations[0], 2+1-p*p*c.read) // a fill or a poll unless all was read
		within(t, "acknowledgments", r.Stations[1], float64(c.ack)*(some+(1-p*p*c.read)*p))
	}
}

// TestBlocks: a block must be acknowledged before the next one; each has rounds
// of its own.
func TestBlocks(t *testing.T) {
	const p, q = 0.7, 0.6
	s := scene(t, chain(2, p, q), 2, time.Hour, func(n *mesh.Net) { n.Slots.Rounds, n.Slots.Block = 2, 1 })
	r := playing(t, s, 60_000, 1)
	first, polled := p*q, p*(1-q)*p*q // read at once, or by a poll
	hop := (first + polled) * p
	within(t, "first hop", r.Hops[0].Done, hop)
	within(t, "delivered", r.Delivered, hop*hop)
	within(t, "by slot 12", r.By(12), first*p*first*p)
	within(t, "by slot 16", r.By(16), (first*first+2*first*polled)*p*p)
	// Without a read acknowledgment a second round follows; the second block is
	// sent after a read one, and by the origin polled for only if it didn't pass.
	within(t, "frames of the origin", r.Stations[0], 1+(1-p*q)+(first+polled)*(1+(1-p)))
	// The last sender confirms if the acknowledgment of the second block is read.
	within(t, "confirmed", r.Confirmed, hop*(first+polled)*(p*q+p*(1-q)*p*q))
}

// TestBlockSizes: the last block holds what is left.
func TestBlockSizes(t *testing.T) {
	for _, c := range []struct{ frames, block, arrives, sent, acks int }{
		{7, 0, 6, 7, 1},
		{7, 7, 6, 7, 1},
		{7, 8, 6, 7, 1},
		{7, 3, 12, 7, 3}, // 3 + 3, 3 + 3, and the last one
		{6, 3, 8, 6, 2},  // 3 + 3, and three more
		{3, 1, 8, 3, 3},
	} {
		r := playing(t, scene(t, chain(1, 1, 1), c.frames, time.Hour, func(n *mesh.Net) { n.Slots.Block = c.block }), 3, 1)
		if r.Arrivals[c.arrives] != 3 || r.Stations[0].Value != float64(c.sent) || r.Stations[1].Value != float64(c.acks) {
			t.Errorf("%d frames in blocks of %d: %v, %v, %v", c.frames, c.block, r.Arrivals[:20], r.Stations[0], r.Stations[1])
		}
	}
}

// TestReply: two frames come back, with rounds and hops of their own, once the
// last sender has read; they count as airtime.
func TestReply(t *testing.T) {
	s := scene(t, chain(2, 1, 1), 3, time.Hour, nil)
	s.Confirm = true
	r := playing(t, s, 5, 1)
	// There: 6 slots a hop, delivered in slot 8. Back: 5 slots a hop from 12 on.
	if r.Arrivals[8] != 5 || r.Confirmations[18] != 5 {
		t.Errorf("delivered %v, confirmed %v", r.Arrivals[:20], r.Confirmations[:20])
	}
	for i, want := range []float64{3 + 1, 1 + 3 + 2 + 1, 1 + 2} {
		if r.Stations[i].Value != want {
			t.Errorf("station %d keyed %v frames, not %v", i, r.Stations[i], want)
		}
	}
	const p, q = 0.8, 0.7
	s = scene(t, chain(1, p, q), 1, time.Hour, func(n *mesh.Net) { n.Slots.Rounds = 1 })
	s.Confirm = true
	r = playing(t, s, 40_000, 1)
	within(t, "delivered", r.Delivered, p)
	within(t, "confirmed", r.Confirmed, p*q*q*q)
	within(t, "frames of the origin", r.Stations[0], 1+p*q*(1-(1-q)*(1-q)))
	within(t, "frames of the destination", r.Stations[1], p+p*q*2)
	if r.Confirmations[5] != r.Confirmed.Count { // frame, G, A, G, two frames
		t.Error("confirmed in the wrong slot")
	}
}

// TestReplyOrder: the reply's first hop is the last one of the way there.
func TestReplyOrder(t *testing.T) {
	s := scene(t, "A-B:1/0.5 B-C:1/1", 1, time.Hour, func(n *mesh.Net) { n.Slots.Rounds = 1 })
	s.Confirm = true
	r := playing(t, s, 10_000, 1)
	within(t, "confirmed", r.Confirmed, 0.25)
	within(t, "frames of A", r.Stations[0], 1+0.75)
	for i, want := range map[int]float64{1: 1 + 1 + 1 + 2, 2: 1 + 2} {
		if r.Stations[i].Value != want {
			t.Errorf("station %d keyed %v frames, not %v", i, r.Stations[i], want)
		}
	}
}

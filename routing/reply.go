package routing

import (
	"time"

	"farhop/mesh/link"
	"farhop/routing/delivery"
)

// replyFrames is the length of a reply that confirms a message.
const replyFrames = 2

// replies evaluates replies over the chains of a scene, reversed. It serves one
// goroutine at a time.
type replies struct {
	eval *delivery.Evaluator
	legs map[int]delivery.LegID // by the hop that is reversed
}

// plan is what the scene's evaluator is made from, for a message of so many
// frames.
func (s *scene) plan(frames int) delivery.Plan {
	n := s.net
	return delivery.Plan{
		Protocol: delivery.Protocol{
			Frames: frames, Ack: n.Slots.Ack, Turnaround: n.Slots.Turnaround,
			Rounds: n.Slots.Rounds, Block: n.Slots.Block, Busy: n.Slots.Busy,
		},
		Slot:     n.Slots.Length,
		Offset:   time.Duration(s.clock.first-s.start) * time.Second,
		Deadline: time.Duration(s.deadline) * time.Second,
		Common:   s.share,
	}
}

// reply is the reply's way back to the origin after a message over some hops.
func (s *scene) reply(r *delivery.Result, hops []int) *delivery.Result {
	s.replying.Lock()
	defer s.replying.Unlock()
	if s.replies == nil {
		eval, err := delivery.NewEvaluator(s.plan(replyFrames))
		if err != nil {
			return &delivery.Result{Frames: make([]float64, len(hops)+1)} // the message's plan would have failed before
		}
		s.replies = &replies{eval, map[int]delivery.LegID{}}
	}
	back := s.replies
	var legs []delivery.LegID
	for i := len(hops) - 1; i >= 0; i-- {
		leg, ok := back.legs[hops[i]]
		if !ok {
			there := s.legOf(hops[i])
			leg = back.eval.NewLeg(delivery.Leg{Open: there.Open, Hours: there.Hours, Directions: func(quarter int) (forward, reverse link.Direction) {
				reverse, forward = there.Directions(quarter)
				return forward, reverse
			}})
			back.legs[hops[i]] = leg
		}
		legs = append(legs, leg)
	}
	return back.eval.ChainFrom(r.Reply(back.eval), legs...)
}

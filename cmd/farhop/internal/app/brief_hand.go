package app

import (
	"math"
	"slices"
	"time"

	"farhop/cmd/farhop/internal/view"
	"farhop/mesh"
	"farhop/mesh/link"
	"farhop/routing"
	"farhop/routing/delivery"
)

// handover works out single hops of one message from one start.
type handover struct {
	s     *Session
	q     routing.Request
	first int64
	eval  *delivery.Evaluator
}

func (s *Session) newHandover(q routing.Request) (*handover, error) {
	h := &handover{s: s, q: q, first: s.net.Slots.Start(q.Start)}
	common := 0.0
	for from := range s.net.Stations {
		for to := range s.net.Stations {
			for ch := range s.net.Channels {
				common = max(common, delivery.Share(h.direction(from, to, ch, 0)))
			}
		}
	}
	var err error
	h.eval, err = s.evaluator(q.Frames, time.Duration(h.first-q.Start)*time.Second, q.Deadline, common)
	return h, err
}

// direction is what a hop may count on, closed where it isn't to be used.
func (h *handover) direction(from, to, channel, quarter int) link.Direction {
	e, ok := mesh.Underway(h.s.links, h.s.net.Slots, h.q.Frames, from, to, channel, h.q.Start+int64(quarter)*int64(mesh.StateStep/time.Second))
	if !ok || !h.s.usable(&e) {
		return link.Direction{}
	}
	return e.Through(h.s.net.Slots, h.q.Frames)
}

// giveUp is how many minutes after the first frame 95 % of what ever gets across
// has, NaN when nothing does.
func (h *handover) giveUp(from, to, channel int) float64 {
	n := h.s.net
	id := h.eval.NewLeg(delivery.Leg{
		Open: func(slot int) bool { return n.OpenSlot(from, to, channel, h.first+int64(slot)*n.Slots.Seconds()) },
		Directions: func(quarter int) (forward, reverse link.Direction) {
			return h.direction(from, to, channel, quarter), h.direction(to, from, channel, quarter)
		},
	})
	r := h.eval.Chain(id)
	last := r.Hops[0].GiveUpAt
	if last < 0 {
		return math.NaN()
	}
	return float64(last+1-h.eval.FirstOpen(id, 0)) * n.Slots.Length.Minutes()
}

// Bounds of the table for choosing by hand.
const (
	handAbove, handBelow = 20, 6 // dB about the half-decode SNR
	handStep             = 2     // dB
	handDeadline         = 12 * time.Hour
)

// handCharacters are the lengths of the table for choosing by hand.
var handCharacters = []int{20, 50, 100, 150, 200, 300}

// hand is the table for choosing by hand: a hop whose two directions are alike, at
// each SNR, with the uncertainty that the link filter leaves a quarter of an hour
// after a single report, in slots that are all open. No net-wide deviation: it is in
// the SNR seen.
func (s *Session) hand() (view.Hand, error) {
	model, err := link.NewModel(s.net.Link)
	if err != nil {
		return view.Hand{}, err
	}
	state := model.NewState()
	model.Report(state, s.at.Unix()-900, s.net.Slots.HalfDecodeDB, true)
	fresh := model.Forecast(state, s.at.Unix())
	v := view.Hand{SDDB: fresh.SD, Characters: handCharacters}
	top := int(math.Round(s.net.Slots.HalfDecodeDB))
	for snr := top + handAbove; snr >= top-handBelow; snr -= handStep {
		v.SNRDB = append(v.SNRDB, snr)
		v.Minutes = append(v.Minutes, make([]*float64, len(handCharacters)))
	}
	for c, characters := range handCharacters {
		eval, err := s.evaluator(s.net.Slots.Frames(characters), 0, handDeadline, 0)
		if err != nil {
			return v, err
		}
		for i, snr := range v.SNRDB {
			f := fresh
			f.SNR = float64(snr)
			v.Minutes[i][c] = s.alone(eval, model.Direction(f, 0))
		}
	}
	trimHand(&v)
	return v, nil
}

// trimHand drops the rows at the top that are no better than the next, and all but
// one of those at the bottom that nobody should try.
func trimHand(v *view.Hand) {
	same := func(a, b []*float64) bool {
		return slices.EqualFunc(a, b, func(x, y *float64) bool { return x == y || x != nil && y != nil && *x == *y })
	}
	hopeless := func(row []*float64) bool { return !slices.ContainsFunc(row, func(m *float64) bool { return m != nil }) }
	low, high := 0, len(v.Minutes)
	for low+1 < high && same(v.Minutes[low], v.Minutes[low+1]) {
		low++
	}
	for high > low+1 && hopeless(v.Minutes[high-2]) {
		high--
	}
	v.SNRDB, v.Minutes = v.SNRDB[low:high], v.Minutes[low:high]
}

// alone is in how many minutes 8 of 10 messages are across a hop alike both ways,
// nil when that share never is.
func (s *Session) alone(eval *delivery.Evaluator, d link.Direction) *float64 {
	r := eval.Chain(eval.NewLeg(delivery.Leg{
		Open:       func(int) bool { return true },
		Directions: func(int) (forward, reverse link.Direction) { return d, d },
	}))
	slot := r.Quantile(0.8)
	if slot < 0 {
		return nil
	}
	return figure(eval.After(slot).Minutes())
}

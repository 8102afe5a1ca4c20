package backtest

import (
	"context"
	"errors"
	"math"
	"time"

	"gonum.org/v1/gonum/mathext"

	"farhop/mesh"
	"farhop/mesh/link"
)

// The ways of foretelling a delivery, in the order of DeliveryHorizon.Models.
const (
	Shared      = iota // the exact arrival distribution: one deviate for the whole hop
	Independent        // the model's decode chance, every slot a draw of its own
	HourlySlots        // the same with the link's share of decodes in this UTC hour
	DeliveryCount
)

// DeliveryNames are what they are called.
var DeliveryNames = [DeliveryCount]string{"farhop", "independent slots", "hour of day"}

// DeliveryOptions say which messages to replay.
type DeliveryOptions struct {
	Options
	Frames int           // frames of the message, ≥ 1
	Within time.Duration // by when they must be through, in whole seconds, > 0
}

// Delivery is how the messages went.
type Delivery struct {
	Links    int // links on which messages were tried
	TooShort int // tries left out because fewer slots than frames were recorded in time
	Horizons []DeliveryHorizon
}

// DeliveryHorizon is the scores of what was said so far ahead of the tries.
type DeliveryHorizon struct {
	Ahead       time.Duration
	Tries       int
	Slots       float64 // mean of the recorded slots a try
	Delivered   float64 // share that was through in time
	Models      [DeliveryCount]Score
	Differences [DeliveryCount]Interval // the model's Brier score less the others'
}

// Deliver replays messages over the recorded slots of every link with enough
// reports: each opportunity stands for a slot, and a frame passes if it
// decoded. A try starts at an opportunity and has the slots recorded within
// the time allowed; the next try of the link starts after that time. The sender
// knows after every slot what is missing, so a message of F frames is through with
// the F-th decode: what acknowledgments cost is left out, as the log says nothing
// of them. The forecast is made from what was known so far ahead of the start; for
// the model it is, with n slots,
//
//	E[P(Binomial(n, p(ζ)) ≥ F)],  p(ζ) = Direction.Frame(ζ, 0)
//
// for one standard normal ζ a try, as the planner has it: by the link's state at the middle of
// the time allowed, with less of its deviation the same in all slots than it is at one moment
// (link.Direction.Over). The planner, whose hops have no fixed time, takes that of mesh.Slots.Midway.
func Deliver(ctx context.Context, n *mesh.Net, h *mesh.History, o DeliveryOptions) (*Delivery, error) {
	model, err := link.NewModel(n.Link)
	if err != nil {
		return nil, err
	}
	if o.Frames < 1 || o.Within < time.Second {
		return nil, errors.New("backtest: a message needs at least one frame and one second")
	}
	var count Result
	jobs := deal(h, count.count(h, o.MinReports), len(o.Horizons))
	sums := make([]*tries, len(jobs))
	err = each(ctx, len(jobs), o.Progress, func(i int) {
		s := newTries(h, &o)
		for _, l := range jobs[i].links {
			s.link(model, h.Links[l], int64(o.Horizons[jobs[i].horizon]/time.Second))
		}
		sums[i] = s
	})
	if err != nil {
		return nil, err
	}
	d := &Delivery{Links: count.Links}
	for k, ahead := range o.Horizons {
		all := newTries(h, &o)
		for i := range jobs {
			if jobs[i].horizon == k {
				all.add(sums[i])
			}
		}
		d.TooShort = all.short
		d.Horizons = append(d.Horizons, all.horizon(ahead, uint64(k)))
	}
	return d, nil
}

// tries sums the tries of some links at one horizon.
type tries struct {
	o     *DeliveryOptions
	bins  [DeliveryCount]bins
	first int64
	days  []part // scores by UTC day of the start, in the first DeliveryCount places
	slots int
	short int
}

func newTries(h *mesh.History, o *DeliveryOptions) *tries {
	s := newSums(h, o.ScoreFrom)
	return &tries{o: o, first: s.firstDay, days: s.days}
}

// link replays messages on one link.
func (s *tries) link(m *link.Model, entries []mesh.Entry, ahead int64) {
	state := m.NewState()
	var t tally
	next := 0
	list := toScore(entries, s.o.ScoreFrom)
	within := int64(s.o.Within / time.Second)
	for i := 0; i < len(list); {
		start := &entries[list[i]]
		slots, decoded := 0, 0
		for ; i < len(list) && entries[list[i]].Unix < start.Unix+within; i++ {
			slots++
			if entries[list[i]].Kind == mesh.EventReport {
				decoded++
			}
		}
		if slots < s.o.Frames {
			s.short++
			continue
		}
		until := min(start.Unix-ahead, start.Unix-1)
		for ; next < len(entries) && entries[next].Told <= until; next++ {
			absorb(m, state, &t, &entries[next])
		}
		f := m.Forecast(state, start.Unix+within/2)
		d := m.Direction(f, 0).Over(f.Fading, float64(within))
		d.Margin -= float64(start.Raise)
		var rules [ModelCount]float64
		t.forecast(&rules, start.Unix, ahead)
		s.score(start.Unix, slots, decoded >= s.o.Frames, &[DeliveryCount]float64{
			Through(d, slots, s.o.Frames), atLeast(slots, s.o.Frames, d.Mean()), atLeast(slots, s.o.Frames, rules[HourOfDay]),
		})
	}
}

// score enters one try.
func (s *tries) score(unix int64, slots int, through bool, chances *[DeliveryCount]float64) {
	one := part{n: 1}
	hit := 0.0
	if through {
		hit, one.seen = 1, 1
	}
	for m, p := range chances {
		p = clip(p, chanceClip)
		s.bins[m].take(p, one.seen)
		one.brier[m] = (p - hit) * (p - hit)
		one.log[m] = -math.Log(math.Abs(1 - hit - p))
	}
	s.slots += slots
	s.days[dayOf(unix)-s.first].add(&one)
}

func (s *tries) add(o *tries) {
	for m := range s.bins {
		s.bins[m].add(&o.bins[m])
	}
	for i := range s.days {
		s.days[i].add(&o.days[i])
	}
	s.slots += o.slots
	s.short += o.short
}

func (s *tries) horizon(ahead time.Duration, stream uint64) DeliveryHorizon {
	var all part
	for i := range s.days {
		all.add(&s.days[i])
	}
	h := DeliveryHorizon{Ahead: ahead, Tries: all.n}
	if all.n == 0 {
		return h
	}
	g := all.group()
	h.Delivered, h.Slots = g.Seen, float64(s.slots)/float64(all.n)
	gaps := differences(s.days, s.o.Resamples, s.o.Seed, stream)
	for m := range h.Models {
		h.Models[m] = Score{Brier: g.Brier[m], LogLoss: g.LogLoss[m], Bins: s.bins[m].list()}
		h.Models[m].CalibrationError = calibrationError(h.Models[m].Bins)
		h.Differences[m] = gaps[m]
	}
	return h
}

// The rule by which ζ is integrated: equally spaced points over ±zetaReach.
const (
	zetaPoints = 64
	zetaReach  = 5.5
)

// zeta are the points, with weights that add up to 1. Nothing writes to them
// after start.
var zeta = func() (rule [zetaPoints]struct{ at, weight float64 }) {
	total := 0.0
	for i := range rule {
		z := zetaReach * (2*float64(i)/(zetaPoints-1) - 1)
		rule[i].at, rule[i].weight = z, math.Exp(-z*z/2)
		total += rule[i].weight
	}
	for i := range rule {
		rule[i].weight /= total
	}
	return rule
}()

// Through is the chance that at least so many frames decode in so many slots of one
// hop, whose deviation is one normal draw.
func Through(d link.Direction, slots, frames int) float64 {
	if d.Kind != link.Gaussian || d.SD == 0 {
		return atLeast(slots, frames, d.Mean())
	}
	d.Common = 0 // one draw with all of the deviation
	sum := 0.0
	for i := range zeta {
		sum += zeta[i].weight * atLeast(slots, frames, d.Frame(zeta[i].at, 0))
	}
	return sum
}

// atLeast is the chance of at least k successes in n independent draws of chance p.
func atLeast(n, k int, p float64) float64 {
	switch {
	case k <= 0:
		return 1
	case k > n || !(p > 0):
		return 0
	case p >= 1:
		return 1
	case p < 1e-12: // what is left is below what anything here resolves
		return 0
	}
	return mathext.RegIncBeta(float64(k), float64(n-k+1), p)
}

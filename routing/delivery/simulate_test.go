package delivery

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"farhop/mesh/link"
)

// player plays the exchange slot by slot with random numbers. It shares nothing
// with the package but the types of its question.
type player struct {
	rng      *rand.Rand
	plan     Plan
	horizon  int
	eta      float64
	slot     int // the next slot
	frames   []float64
	p, q     float64
	open     func(int) bool
	from, to int // stations of the hop
}

// use waits for the next usable slot and lets it pass; false at the horizon.
func (s *player) use() bool {
	for ; s.slot < s.horizon; s.slot++ {
		if s.open(s.slot) && s.rng.Float64() >= s.plan.Protocol.Busy {
			s.slot++
			return true
		}
	}
	return false
}

func (s *player) uses(n int) {
	for range n {
		s.use()
	}
}

// arrive puts the player at the start of a hop.
func (s *player) arrive(l Leg, from, to int) bool {
	first := s.slot
	for first < s.horizon && !l.Open(first) {
		first++
	}
	if first >= s.horizon {
		return false
	}
	minutes := (s.plan.Offset + time.Duration(first)*s.plan.Slot) / (15 * time.Minute)
	f, r := l.Directions(int(minutes))
	zeta := s.rng.NormFloat64()
	s.p, s.q, s.open, s.from, s.to = f.Frame(zeta, s.eta), r.Frame(zeta, s.eta), l.Open, from, to
	return true
}

// answered plays the slots after a round's frames: whether the sender read.
func (s *player) answered(heard bool) (read bool, readAt int) {
	pr := s.plan.Protocol
	s.uses(pr.Turnaround)
	read = heard
	for range pr.Ack {
		s.use()
		if heard {
			s.frames[s.to]++
			read = s.rng.Float64() < s.q && read
		}
	}
	readAt = s.slot - 1
	s.uses(pr.Turnaround)
	return read, readAt
}

// block plays one block. has is the slot in which the receiver had it, −1 if it
// never had; read the one in which the sender had read that, −1 likewise.
func (s *player) block(frames int, relayLast bool) (has, read int) {
	has = -1
	missing, knows := frames, true
	for range s.plan.Protocol.Rounds {
		heard := false
		if knows {
			left := missing
			for range missing {
				s.use()
				s.frames[s.from]++
				if s.rng.Float64() < s.p {
					heard = true
					left--
				}
			}
			missing = left
			if missing == 0 {
				has = s.slot - 1
			}
		} else {
			s.use()
			s.frames[s.from]++
			heard = s.rng.Float64() < s.p
		}
		var at int
		knows, at = s.answered(heard)
		if missing == 0 && (relayLast || knows) {
			if !knows {
				at = -1
			}
			return has, at
		}
	}
	return has, -1
}

// hop plays one hop.
func (s *player) hop(last bool) (has, read int) {
	pr := s.plan.Protocol
	left := pr.Frames
	if pr.Block > 0 {
		for ; left > pr.Block; left -= pr.Block {
			if _, read := s.block(pr.Block, false); read < 0 {
				return -1, -1
			}
		}
	}
	return s.block(left, !last)
}

// played sums runs up.
type played struct {
	runs                 int
	has, read            []int // by slot up to the deadline
	givenUp              int
	sum, square          []float64 // frames by station
	late                 int
	second, replied      int // by the deadline: second chain after giving up; reply
	replyAir, replyAirSq float64
}

type scenario struct {
	name   string
	plan   Plan
	legs   []Leg
	second []Leg
	back   []Leg // reply of two frames
}

func (c *scenario) play(runs int, seed uint64) *played {
	slots := int((c.plan.Deadline - c.plan.Offset) / c.plan.Slot)
	n := len(c.legs) + 1
	r := &played{runs: runs, has: make([]int, slots), read: make([]int, slots), sum: make([]float64, n), square: make([]float64, n)}
	s := &player{rng: rand.New(rand.NewPCG(seed, 1)), plan: c.plan, horizon: slots + int(7*24*time.Hour/c.plan.Slot)}
	for range runs {
		s.eta = s.rng.NormFloat64()
		s.frames = make([]float64, n)
		has, read, failed := s.chain(c.legs)
		for i, f := range s.frames {
			r.sum[i] += f
			r.square[i] += f * f
		}
		switch {
		case has >= 0 && has < slots:
			r.has[has]++
		case failed >= 0:
			r.givenUp++
		default:
			r.late++
		}
		if read >= 0 && read < slots {
			r.read[read]++
		}
		if failed == 0 && c.second != nil {
			s.frames = make([]float64, len(c.second)+1)
			if has, _, _ := s.chain(c.second); has >= 0 && has < slots {
				r.second++
			}
		}
		if read >= 0 && c.back != nil {
			plan := s.plan
			s.plan.Protocol.Frames = 2
			s.frames = make([]float64, len(c.back)+1)
			if has, _, _ := s.chain(c.back); has >= 0 && has < slots {
				r.replied++
			}
			air := total(s.frames)
			r.replyAir += air
			r.replyAirSq += air * air
			s.plan = plan
		}
		s.slot = 0
	}
	return r
}

// chain plays hops from the current slot on. failed is the hop given up, or −1.
func (s *player) chain(legs []Leg) (has, read, failed int) {
	for i, l := range legs {
		if !s.arrive(l, i, i+1) {
			return -1, -1, -1
		}
		has, read = s.hop(i == len(legs)-1)
		if has < 0 {
			return -1, -1, i
		}
	}
	return has, read, -1
}

// within reports whether got is within 3 standard errors of want.
func (r *played) share(t *testing.T, what string, got float64, count int) {
	t.Helper()
	p := float64(count) / float64(r.runs)
	se := math.Sqrt(max(p*(1-p), 1/float64(r.runs)) / float64(r.runs))
	near(t, what, got, p, 3*se)
}

func (r *played) mean(t *testing.T, what string, got, sum, square float64) {
	t.Helper()
	n := float64(r.runs)
	m := sum / n
	near(t, what, got, m, 3*math.Sqrt(max(square/n-m*m, 1/n)/n))
}

// quantile checks a time by the simulated shares at it and at the slot before.
func (r *played) quantile(t *testing.T, level float64, at int) {
	t.Helper()
	sum := 0
	if at < 0 {
		at = len(r.has)
	}
	for _, n := range r.has[:at] {
		sum += n
	}
	n := float64(r.runs)
	se := math.Sqrt(level * (1 - level) / n)
	if before := float64(sum) / n; before > level+3*se {
		t.Errorf("%g: before slot %d the simulated share is %g", level, at, before)
	}
	if at < len(r.has) {
		if by := float64(sum+r.has[at]) / n; by < level-3*se {
			t.Errorf("%g: by slot %d the simulated share is %g", level, at, by)
		}
	}
}

// hours is open from the first to before the second hour of every day.
func hours(from, to float64) func(int) bool {
	return func(s int) bool {
		h := math.Mod(float64(s)*slot.Hours(), 24)
		return h >= from && h < to
	}
}

func scenarios() []scenario {
	pr := Protocol{Frames: 9, Ack: 1, Turnaround: 1, Rounds: 6, Busy: 0.1}
	with := func(change func(p *Plan)) Plan {
		p := Plan{Protocol: pr, Slot: slot, Deadline: 2 * time.Hour}
		change(&p)
		return p
	}
	good, fair := gaussian(4, 4, 0, 2.5), gaussian(1.5, 6, 0, 2.5)
	weather, weaker := gaussian(3, 6, 3, 3), gaussian(2, 5, 3, 4)
	fading := func(q int) (f, r link.Direction) {
		f, r = weather, weaker
		f.Margin -= 0.8 * float64(q)
		r.Margin -= 0.5 * float64(q)
		return f, r
	}
	return []scenario{
		{name: "fixed", plan: with(func(p *Plan) { p.Deadline = time.Hour }), legs: []Leg{fixedLeg(0.83, 0.8), fixedLeg(0.7, 0.6)}, second: []Leg{fixedLeg(0.9, 0.9)}},
		{name: "weak", plan: with(func(p *Plan) { p.Protocol.Rounds = 4; p.Protocol.Busy = 0.3 }), legs: []Leg{fixedLeg(0.45, 0.7)}, second: []Leg{fixedLeg(0.6, 0.7), fixedLeg(0.8, 0.5)}, back: []Leg{fixedLeg(0.7, 0.45)}},
		{name: "blocks", plan: with(func(p *Plan) { p.Protocol.Frames = 23; p.Protocol.Block = 10 }), legs: []Leg{fixedLeg(0.8, 0.7), fixedLeg(0.9, 0.5)}, second: []Leg{fixedLeg(0.7, 0.7)}},
		{name: "gaussian", plan: with(func(p *Plan) {}), legs: []Leg{steady(good, fair), steady(fair, good), steady(good, good)}, second: []Leg{steady(good, fair)}, back: []Leg{steady(good, good), steady(good, fair), steady(fair, good)}},
		{name: "blocks gaussian", plan: with(func(p *Plan) { p.Protocol.Frames = 12; p.Protocol.Block = 5; p.Protocol.Ack = 2 }), legs: []Leg{steady(good, fair), steady(good, good)}},
		{name: "windows", plan: with(func(p *Plan) { p.Deadline, p.Offset = 6*time.Hour, 25*time.Second }), legs: []Leg{
			{Open: hours(0.1, 0.8), Directions: steady(good, fair).Directions},
			{Open: hours(0.5, 1.5), Directions: steady(fair, good).Directions},
			{Open: hours(4, 5), Directions: steady(good, good).Directions},
		}},
		{name: "one-way", plan: with(func(p *Plan) {}), legs: []Leg{steady(good, link.Direction{}), fixedLeg(0.9, 0)}},
		{name: "net-wide", plan: with(func(p *Plan) { p.Common = Share(weaker) }), legs: []Leg{
			{Open: always, Directions: fading},
			steady(weather, weaker),
			{Open: hours(0, 1.2), Directions: fading},
		}, second: []Leg{steady(weaker, weather)}, back: []Leg{steady(weather, weather), steady(weather, weaker), steady(weaker, weather)}},
	}
}

func TestChainsAgainstPlay(t *testing.T) {
	const runs = 25000
	for i, c := range scenarios() {
		t.Run(c.name, func(t *testing.T) {
			sim := c.play(runs, uint64(500+i))
			e, ids := evaluator(t, c.plan, append(append([]Leg(nil), c.legs...), c.second...)...)
			first, second := ids[:len(c.legs)], ids[len(c.legs):]
			r := e.Chain(first...)
			sum := func(of []int) (n int) {
				for _, v := range of {
					n += v
				}
				return n
			}
			sim.share(t, "delivered", r.Chance(), sum(sim.has))
			sim.share(t, "confirmed", r.ConfirmedChance(), sum(sim.read))
			sim.share(t, "given up", r.GivenUp, sim.givenUp)
			sim.share(t, "late", r.Late, sim.late)
			half := len(r.Delivered) / 2
			sim.share(t, "delivered by half the time", r.Delivered[half], sum(sim.has[:half+1]))
			sim.share(t, "confirmed by half the time", r.Confirmed[half], sum(sim.read[:half+1]))
			for j := range r.Frames {
				sim.mean(t, fmt.Sprint("frames of station ", j), r.Frames[j], sim.sum[j], sim.square[j])
			}
			for _, level := range []float64{0.5, 0.8, 0.9, 0.95} {
				sim.quantile(t, level, r.Quantile(level))
			}
			if c.second != nil {
				both := e.Pair(first, second, false)
				sim.share(t, "second after giving up", both-r.Chance(), sim.second)
			}
			if c.back != nil {
				checkReply(t, sim, c, r)
			}
		})
	}
}

func checkReply(t *testing.T, sim *played, c scenario, r *Result) {
	plan := c.plan
	plan.Protocol.Frames = 2
	reply, back := evaluator(t, plan, c.back...)
	answer := reply.ChainFrom(r.Reply(reply), back...)
	sim.share(t, "reply", answer.Chance(), sim.replied)
	sim.mean(t, "frames of the reply", answer.Airtime(), sim.replyAir, sim.replyAirSq)
}

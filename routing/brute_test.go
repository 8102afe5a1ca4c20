package routing

import (
	"context"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
	"farhop/routing/delivery"
)

// oracle evaluates chains one by one, whole, from the net itself.
type oracle struct {
	net   *mesh.Net
	links Source
	r     Request
	eval  *delivery.Evaluator
	legs  map[[3]int]delivery.LegID
	clock clock
	back  *oracle // of replies, when they count
}

func newOracle(t testing.TB, n *mesh.Net, links Source, r Request, share float64) *oracle {
	t.Helper()
	o := &oracle{net: n, links: links, r: r, legs: map[[3]int]delivery.LegID{}, clock: newClock(r.Start, r.Deadline, n.Slots)}
	s := n.Slots
	plan := delivery.Plan{
		Protocol: delivery.Protocol{Frames: r.Frames, Ack: s.Ack, Turnaround: s.Turnaround, Rounds: s.Rounds, Block: s.Block, Busy: s.Busy},
		Slot:     s.Length, Offset: time.Duration(s.Start(r.Start)-r.Start) * time.Second, Deadline: r.Deadline, Common: share,
	}
	var err error
	if o.eval, err = delivery.NewEvaluator(plan); err != nil {
		t.Fatal(err)
	}
	if r.Confirm {
		plan.Protocol.Frames = 2
		o.back = &oracle{net: n, links: links, r: r, legs: map[[3]int]delivery.LegID{}, clock: o.clock}
		if o.back.eval, err = delivery.NewEvaluator(plan); err != nil {
			t.Fatal(err)
		}
	}
	return o
}

func (o *oracle) direction(from, to, channel, quarter int) link.Direction {
	e, ok := mesh.Underway(o.links, o.net.Slots, o.r.Frames, from, to, channel, o.r.Start+900*int64(quarter))
	if !ok || !e.Fixed && !e.Known && !o.r.Unknown || e.Inferred && !o.r.Inferred {
		return link.Direction{}
	}
	return e.Through(o.net.Slots, o.r.Frames)
}

func (o *oracle) leg(from, to, channel int) delivery.LegID {
	id := [3]int{from, to, channel}
	leg, ok := o.legs[id]
	if !ok {
		leg = o.eval.NewLeg(delivery.Leg{
			Open: func(slot int) bool { return o.net.OpenSlot(from, to, channel, o.clock.unix(slot)) },
			Directions: func(q int) (link.Direction, link.Direction) {
				return o.direction(from, to, channel, q), o.direction(to, from, channel, q)
			},
		})
		o.legs[id] = leg
	}
	return leg
}

// all evaluates every simple chain on every choice of channels.
func (o *oracle) all() []*judged {
	var list []*judged
	var walk func(stations, channels []int)
	walk = func(stations, channels []int) {
		at := stations[len(stations)-1]
		if at == o.r.To {
			if j := o.judge(stations, channels); j.result.Chance() >= leastChance {
				list = append(list, j)
			}
			return
		}
		if len(channels) > max(o.r.Relays, 0) {
			return
		}
		for to := range o.net.Stations {
			for c := range o.net.Channels {
				if _, ok := o.links.Edge(at, to, c, o.r.Start); ok && !slices.Contains(stations, to) {
					walk(append(slices.Clone(stations), to), append(slices.Clone(channels), c))
				}
			}
		}
	}
	walk([]int{o.r.From}, nil)
	return list
}

// judged is a chain with the figures that the oracle gives it.
type judged struct {
	key
	legs    []delivery.LegID
	result  *delivery.Result
	airtime float64
}

func (o *oracle) judge(stations, channels []int) *judged {
	j := &judged{}
	for i, c := range channels {
		j.legs = append(j.legs, o.leg(stations[i], stations[i+1], c))
	}
	j.result = o.eval.Chain(j.legs...)
	half := j.result.Quantile(0.5)
	if half < 0 {
		half = never
	}
	chance := j.result.Chance()
	j.airtime = j.result.Airtime()
	if o.back != nil {
		var back []delivery.LegID
		for i := len(channels) - 1; i >= 0; i-- {
			back = append(back, o.back.leg(stations[i+1], stations[i], channels[i]))
		}
		j.airtime += o.back.eval.ChainFrom(j.result.Reply(o.back.eval), back...).Airtime()
	}
	j.key = key{
		chance: int(math.Round(chance * 1000)), time: half, air: perDelivery(j.airtime, chance),
		hops: len(channels), stations: stations, channels: channels,
	}
	return j
}

// near reports whether a figure sits so close to a rounding edge that two sound
// sums may round differently.
func near(x float64) bool {
	_, frac := math.Modf(x)
	return math.Abs(frac-0.5) < 1e-5
}

func (j *judged) onEdge() bool {
	chance := j.result.Chance()
	if near(chance*1000) || near(j.airtime/chance) {
		return true
	}
	return slices.ContainsFunc(j.result.Delivered, func(x float64) bool { return math.Abs(x-0.5) < 1e-7 })
}

func caseRequest(r *rand.Rand, stations int) Request {
	deadline := time.Duration(20+r.IntN(140)) * time.Minute
	if r.IntN(6) == 0 {
		deadline *= 6 // windows and links come and go
	}
	return Request{
		From: 0, To: 1 + r.IntN(stations-1), Frames: 1 + r.IntN(8), Start: noon + int64(r.IntN(3)*613),
		Deadline: deadline, Order: Order(r.IntN(3)),
		Chains: 1 + r.IntN(5), Relays: 1 + r.IntN(4), Both: r.IntN(2) == 0, Confirm: r.IntN(4) == 0,
	}
}

func sameChain(c Chain, k key) bool {
	channels := make([]int, 0, len(c.Hops))
	for _, h := range c.Hops {
		channels = append(channels, h.Channel)
	}
	return slices.Equal(c.Stations, k.stations) && slices.Equal(channels, k.channels)
}

// howMany is the number of cases to try: CASES in the environment sets another.
func howMany(t *testing.T, cases int) int {
	if s := os.Getenv("CASES"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	if testing.Short() {
		return cases / 5
	}
	return cases
}

// The answer's chains, the unbeaten set and the backup pair are those of
// enumeration over every simple chain and every choice of channels.
func TestRouteEqualsEnumeration(t *testing.T) {
	chains, pairs := 0, 0
	cases := howMany(t, 250)
	for seed := range uint64(cases) {
		r := rand.New(rand.NewPCG(seed, 4))
		stations := 3 + r.IntN(4)
		if seed%20 == 19 {
			stations = 7 + r.IntN(3)
		}
		n, links := randomCase(t, r, stations)
		req := caseRequest(r, stations)
		p := New(n, links)
		if seed%2 == 0 {
			p.spent = 1 << 30 // tables from the first hop on
		}
		a, err := p.Route(context.Background(), req)
		if err != nil {
			t.Fatal(err)
		}
		o := newOracle(t, n, links, req, p.scenes[req.filled().terms()].share)
		all := o.all()
		if slices.ContainsFunc(all, (*judged).onEdge) {
			continue
		}
		slices.SortFunc(all, func(x, y *judged) int { return req.Order.compare(x.key, y.key) })
		chains += len(all)
		compareBest(t, seed, a, all, req)
		compareUnbeaten(t, seed, a, all)
		if o.comparePair(t, seed, a, all) {
			pairs++
		}
		if t.Failed() {
			t.Fatalf("seed %d: %+v", seed, req)
		}
	}
	t.Logf("%d cases, %d chains, %d pairs", cases, chains, pairs)
	if chains < 3*cases || pairs < cases/10 {
		t.Fatalf("too little was compared: %d chains, %d pairs", chains, pairs)
	}
}

func compareBest(t *testing.T, seed uint64, a *Answer, all []*judged, req Request) {
	if !a.Proven {
		t.Errorf("seed %d: not proven", seed)
	}
	want := all[:min(req.Chains, len(all))]
	if a.Best != len(want) {
		t.Errorf("seed %d: %d best chains, enumeration has %d", seed, a.Best, len(want))
		return
	}
	for i, w := range want {
		c := a.Chains[i]
		if !sameChain(c, w.key) {
			t.Errorf("seed %d: chain %d is %v (%.4f), enumeration says %v %v (%.4f)", seed, i, c.Stations, c.Delivered, w.stations, w.channels, w.result.Chance())
		} else if math.Abs(c.Delivered-w.result.Chance()) > 1e-9 {
			t.Errorf("seed %d: chain %d delivers %.12f, enumeration says %.12f", seed, i, c.Delivered, w.result.Chance())
		}
	}
}

func compareUnbeaten(t *testing.T, seed uint64, a *Answer, all []*judged) {
	want := 0
	for _, j := range all {
		if slices.ContainsFunc(all, func(o *judged) bool { return o.beats(j.key) }) {
			continue
		}
		want++
		if !slices.ContainsFunc(a.Unbeaten, func(i int) bool { return sameChain(a.Chains[i], j.key) }) {
			t.Errorf("seed %d: %v %v is unbeaten and missing", seed, j.stations, j.channels)
		}
	}
	if len(a.Unbeaten) != want {
		t.Errorf("seed %d: %d unbeaten, enumeration has %d", seed, len(a.Unbeaten), want)
	}
}

// comparePair checks the backup pair against every pair of chains without a
// common relay.
func (o *oracle) comparePair(t *testing.T, seed uint64, a *Answer, all []*judged) bool {
	var lead, follow *judged
	top, exact := -1, 0.0
	for _, x := range all {
		y, joint, ok := o.second(x, all)
		if !ok {
			return false
		}
		if c := tenths(joint); y != nil && c > top {
			lead, follow, top, exact = x, y, c, joint
		}
	}
	if (lead != nil) != (a.Backup != nil) {
		t.Errorf("seed %d: backup pair %v, enumeration %v", seed, a.Backup != nil, lead != nil)
	}
	if lead == nil || a.Backup == nil {
		return false
	}
	if !sameChain(a.Chains[a.Backup.Chains[0]], lead.key) || !sameChain(a.Chains[a.Backup.Chains[1]], follow.key) {
		t.Errorf("seed %d: pair %v and %v at %.5f, enumeration says %v %v and %v %v at %.5f", seed, a.Chains[a.Backup.Chains[0]].Stations,
			a.Chains[a.Backup.Chains[1]].Stations, a.Backup.Delivered, lead.stations, lead.channels, follow.stations, follow.channels, exact)
	}
	if math.Abs(a.Backup.Delivered-exact) > 1e-9 {
		t.Errorf("seed %d: pair delivers %.12f, enumeration says %.12f", seed, a.Backup.Delivered, exact)
	}
	return true
}

func shareRelay(a, b key) bool {
	for _, v := range a.stations[1 : len(a.stations)-1] {
		if slices.Contains(b.stations[1:len(b.stations)-1], v) {
			return true
		}
	}
	return false
}

// second is the best second chain for a first: the surest pair in tenths of a
// point, then fewer relays, stations and channels, or, where none adds a tenth, the
// first in order. It fails when a sum sits on a rounding edge.
func (o *oracle) second(x *judged, all []*judged) (best *judged, exact float64, ok bool) {
	var merits *judged
	for _, y := range all {
		if x == y || shareRelay(x.key, y.key) || x.hops == 1 && y.hops == 1 && x.channels[0] == y.channels[0] {
			continue
		}
		if merits == nil {
			merits = y
		}
		joint := o.joint(x, y)
		if near(joint * 1000) {
			return nil, 0, false
		}
		c := tenths(joint)
		if best == nil || c > tenths(exact) || c == tenths(exact) && compareChains(y.key, best.key) < 0 {
			best, exact = y, joint
		}
	}
	if best != nil && tenths(exact) == x.chance {
		best, exact = merits, o.joint(x, merits)
	}
	return best, exact, true
}

func (o *oracle) joint(x, y *judged) float64 {
	if o.r.Both {
		return o.eval.AtLeastOne(x.result.ByDeviate, y.result.ByDeviate)
	}
	after := o.eval.GivenUp(o.eval.Start(), x.legs[0])
	return x.result.Chance() + o.eval.ChainFrom(after, y.legs...).Chance()
}

package simulate_test

import (
	"context"
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
	"farhop/mesh/meshtest"
	"farhop/routing"
	"farhop/routing/delivery"
	"farhop/routing/simulate"
)

// compare allows four standard errors between the exact figures and those
// counted, three where quantiles differ by more than a slot.
func (c tried) compare(t *testing.T, seed uint64) {
	s := c.scenario(t)
	want := computed(t, s)
	runs := c.runs
	if runs == 0 {
		runs = 100_000
	}
	r, err := simulate.Run(context.Background(), s, simulate.Options{Runs: runs, Seed: seed, Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	within(t, "delivered", r.Delivered, want.there.Chance())
	within(t, "given up", r.GivenUp, want.there.GivenUp)
	within(t, "late", r.Late, want.there.Late)
	within(t, "confirmed", r.Confirmed, last(want.confirmed))
	within(t, "airtime", r.Airtime, sum(want.frames))
	for i, m := range r.Stations {
		within(t, "frames of "+s.Net.Stations[i].Call, m, want.frames[i])
	}
	for i, h := range r.Hops {
		within(t, fmt.Sprintf("hop %d begun", i), h.Begun, want.there.Hops[i].Started)
		within(t, fmt.Sprintf("hop %d done", i), h.Done, want.there.Hops[i].Done)
	}
	curves(t, "arrived", r.Arrivals, want.there.Delivered, runs)
	curves(t, "confirmed", r.Confirmations, want.confirmed, runs)
	for _, level := range []float64{0.5, 0.8, 0.9} {
		if slot := want.there.Quantile(level); !r.Agrees(level, slot, 3) {
			t.Errorf("%v of all tries: played slot %d, exact slot %d", level, r.Quantile(level), slot)
		}
	}
}

func within(t *testing.T, what string, counted interface{ Away(float64) float64 }, want float64) {
	t.Helper()
	if away := counted.Away(want); math.IsNaN(away) || math.Abs(away) > 4 {
		t.Errorf("%s: played %+v, exact %.6g: %.1f standard errors", what, counted, want, away)
	}
}

// curves compares the growth of a share over the slots. By the inequality of
// Dvoretzky, Kiefer and Wolfowitz with the constant of Massart (1990), from memory, the
// largest gap is above the bound once in a million.
func curves(t *testing.T, what string, counted []int, want []float64, runs int) {
	t.Helper()
	if len(counted) != len(want) {
		t.Fatalf("%s: %d slots are in time, %d computed", what, len(counted), len(want))
	}
	most, so := math.Sqrt(math.Log(2e6)/2/float64(runs)), 0
	for slot, n := range counted {
		so += n
		if share := float64(so) / float64(runs); math.Abs(share-want[slot]) > most {
			t.Errorf("%s by slot %d: played %.5f, exact %.5f", what, slot, share, want[slot])
			return
		}
	}
}

// exact is what the exact computation says.
type exact struct {
	there     *delivery.Result
	confirmed []float64
	frames    []float64 // by station, the reply included
}

// computed evaluates the chain and, where the scenario has one, the reply.
func computed(t *testing.T, s simulate.Scenario) exact {
	n := s.Net.Slots
	first := n.Start(s.Start)
	plan := delivery.Plan{
		Protocol: delivery.Protocol{Frames: s.Frames, Ack: n.Ack, Turnaround: n.Turnaround, Rounds: n.Rounds, Block: n.Block, Busy: n.Busy},
		Slot:     n.Length, Offset: time.Duration(first-s.Start) * time.Second, Deadline: s.Deadline,
	}
	side := func(from, to, quarter int) link.Direction {
		e, _ := s.Links.Edge(from, to, 0, s.Start+int64(quarter)*900+int64(n.Midway(s.Frames).Seconds()))
		return e.Through(n, s.Frames)
	}
	for i := range s.Channels {
		plan.Common = max(plan.Common, delivery.Share(side(i, i+1, 0)), delivery.Share(side(i+1, i, 0)))
	}
	leg := func(from, to int) delivery.Leg {
		return delivery.Leg{
			Open:       func(slot int) bool { return s.Net.OpenSlot(from, to, 0, first+int64(slot)*n.Seconds()) },
			Directions: func(q int) (forward, reverse link.Direction) { return side(from, to, q), side(to, from, q) },
		}
	}
	e, err := delivery.NewEvaluator(plan)
	if err != nil {
		t.Fatal(err)
	}
	var legs []delivery.LegID
	for i := range s.Channels {
		legs = append(legs, e.NewLeg(leg(i, i+1)))
	}
	there := e.Chain(legs...)
	x := exact{there, there.Confirmed, slices.Clone(there.Frames)}
	if !s.Confirm {
		return x
	}
	plan.Protocol.Frames = 2
	reply, err := delivery.NewEvaluator(plan)
	if err != nil {
		t.Fatal(err)
	}
	legs = nil
	for i := range s.Channels {
		legs = append([]delivery.LegID{reply.NewLeg(leg(i+1, i))}, legs...)
	}
	back := reply.ChainFrom(there.Reply(reply), legs...)
	for i, f := range back.Frames {
		x.frames[len(x.frames)-1-i] += f
	}
	x.confirmed = back.Delivered
	return x
}

func sum(all []float64) (s float64) {
	for _, v := range all {
		s += v
	}
	return s
}

// last is where a cumulative share ends, 0 without any slot.
func last(cumulative []float64) float64 {
	if len(cumulative) == 0 {
		return 0
	}
	return cumulative[len(cumulative)-1]
}

func (c tried) scenario(t *testing.T) simulate.Scenario {
	n := meshtest.Net(t, c.net)
	if c.change != nil {
		c.change(n)
	}
	if issues := n.Prepare(); len(issues) > 0 {
		t.Fatalf("%s: %s", issues[0].Path, issues[0].Message)
	}
	s := simulate.Scenario{Net: n, Links: c.links, Frames: c.frames, Start: evening + c.late, Deadline: c.deadline, Confirm: c.confirm}
	if s.Links == nil {
		links, err := mesh.Learn(context.Background(), n, nil, s.Start)
		if err != nil {
			t.Fatal(err)
		}
		s.Links = links
	}
	for i := range n.Stations {
		s.Stations = append(s.Stations, i)
	}
	s.Channels = make([]int, len(n.Stations)-1)
	return s
}

// asked is the exact answer for the chain.
func asked(t *testing.T, s simulate.Scenario) routing.Chain {
	answer, err := routing.New(s.Net, s.Links).Route(context.Background(), routing.Request{
		From: 0, To: len(s.Stations) - 1, Frames: s.Frames, Start: s.Start, Deadline: s.Deadline, Confirm: s.Confirm, Chains: 1,
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(answer.Chains) != 1 || !slices.Equal(answer.Chains[0].Stations, s.Stations) {
		t.Fatalf("not the one chain there is: %+v", answer.Chains)
	}
	return answer.Chains[0]
}

// drifting are estimated links between neighbours that share a net-wide
// deviation and fall by 0.6 dB each quarter of an hour.
type drifting struct{}

func (drifting) Edge(from, to, channel int, unix int64) (mesh.Edge, bool) {
	d := link.Direction{Kind: link.Gaussian, Margin: 4 - 0.6*float64(unix-evening)/900, SD: 5, Common: 3, Noise: 2}
	if from > to {
		d.Margin, d.SD = d.Margin-1, 6
	}
	e := mesh.Edge{From: from, To: to, Channel: channel, Known: true, HasSNR: true, Decode: d.Mean(), Direction: d}
	e.Fading = link.Fading{FastVar: 15, SlowVar: 5, FastRate: 1. / 3240, SlowRate: 1. / 48600}
	return e, from-to == 1 || to-from == 1
}

func busy(share float64) func(*mesh.Net) {
	return func(n *mesh.Net) { n.Slots.Busy = share }
}

// parsed parses windows that are right.
func parsed(list ...string) mesh.Windows {
	w, err := mesh.ParseWindows(list)
	if err != nil {
		panic(err)
	}
	return w
}

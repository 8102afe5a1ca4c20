package routing

import (
	"context"
	"fmt"

	"farhop/mesh/workers"
)

// turns finds what the senders of hops turn to once they give up: the best chain
// without that hop and without stations that have had the message before. Chains
// that begin alike share it.
type turns struct {
	*question
	asked []int          // indexes into list, in the order of asking
	known map[string]int // the same by what decides
	list  []turn
	given int // of asked
}

// turn is one such question and its answer.
type turn struct {
	stations []int // up to the sender
	hop      int
	giveUp   int     // slot by whose end the sender gives up, −1 = it never has the message
	then     *Branch // nil when nothing is left
	err      error
}

// ask notes hop i of a chain.
func (t *turns) ask(f *found, i, giveUp int) {
	decides := fmt.Sprint(giveUp, f.hops[:i+1])
	at, ok := t.known[decides]
	if !ok {
		at = len(t.list)
		t.known[decides] = at
		t.list = append(t.list, turn{stations: f.stations[:i+1], hop: f.hops[i], giveUp: giveUp})
	}
	t.asked = append(t.asked, at)
}

// next is the answer to the first of those asked that has not been given yet.
func (t *turns) next() *Branch {
	t.given++
	return t.list[t.asked[t.given-1]].then
}

// lanes is how many of the questions are worked on at the same time. It doesn't
// depend on the processors, so that neither does what a search has learnt.
const lanes = 2

// run answers. Each lane goes on with bounds of its own from where the question's
// are, so that none depends on another.
func (t *turns) run(ctx context.Context) error {
	err := workers.Run(ctx, lanes, func() (func(int), func()) {
		return func(lane int) {
			b := t.bounds.apart()
			for i := lane; i < len(t.list); i += lanes {
				t.list[i].err = t.single(ctx, b, &t.list[i])
			}
		}, nil
	})
	for i := range t.list {
		err = cmpErr(err, t.list[i].err)
	}
	return err
}

// single answers one.
func (t *turns) single(ctx context.Context, b *bounds, a *turn) error {
	s := t.scene
	if a.giveUp < 0 || a.giveUp+1 >= s.clock.slots {
		return nil
	}
	g := &best{order: t.Order, k: 1}
	last := len(a.stations) - 1
	own := t.search(a.stations[last], g)
	own.bounds = b
	for _, v := range a.stations[:last] {
		own.barred[v] = true
	}
	own.avoid = a.hop
	if _, err := own.run(ctx, own.root(s.eval.StartAt(a.giveUp+1))); err != nil || len(g.list) == 0 {
		return err
	}
	n := g.list[0]
	a.then = &Branch{Stations: n.stations, Channels: n.channels, Delivered: n.arrival.Chance()}
	return nil
}

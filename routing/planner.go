package routing

import (
	"context"

	"farhop/mesh"
)

// Planner answers questions about one net. It keeps what it has worked out, so
// that questions about the same moment, deadline and message length share it.
// It is not safe for concurrent use.
type Planner struct {
	net     *mesh.Net
	links   Source
	watches *watches
	scenes  map[terms]*scene
	effort  int
	spent   int // hops that searches count as tried to begin with, see bounds.tabled and sharpen
}

// defaultEffort is how many hops a search may try before it settles for the
// best of what it has seen. Searches end long before on any net of ordinary
// size; the limit keeps a hostile one from running for hours.
const defaultEffort = 100_000

// New returns a planner over a prepared net and its links.
func New(n *mesh.Net, links Source) *Planner {
	return &Planner{net: n, links: links, watches: newWatches(n), scenes: map[terms]*scene{}, effort: defaultEffort}
}

// Route finds the best chains for a message. An answer without chains is not an
// error; a request that makes no sense and a cancelled context are.
func (p *Planner) Route(ctx context.Context, r Request) (*Answer, error) {
	q, err := p.question(r)
	if err != nil {
		return nil, err
	}
	a, _, err := q.answer(ctx)
	return a, err
}

// question checks a request and puts it on its scene.
func (p *Planner) question(r Request) (*question, error) {
	r = r.filled()
	if err := r.check(p.net); err != nil {
		return nil, err
	}
	s, err := p.scene(r.terms())
	if err != nil {
		return nil, err
	}
	q := &question{Request: r, planner: p, scene: s, bounds: newBounds(s, r.From, r.To, r.Relays+1, r.Blind, &arena{})}
	q.bounds.spent = p.spent
	return q, nil
}

// RouteAll finds the best chains to each of several destinations, in their
// order. Request.To is not used.
func (p *Planner) RouteAll(ctx context.Context, r Request, to []int) ([]*Answer, error) {
	list := make([]*Answer, len(to))
	for i, v := range to {
		r.To = v
		a, err := p.Route(ctx, r)
		if err != nil {
			return nil, err
		}
		list[i] = a
	}
	return list, nil
}

// question is a request on its scene.
type question struct {
	Request
	planner *Planner
	scene   *scene
	bounds  *bounds
	depart  int // slot from which the message may leave
	start   *stem
}

// root is the origin with the message.
func (q *question) root() *stem {
	if q.start == nil || q.start.prefix.Earliest() != q.depart {
		q.start = &stem{prefix: q.scene.eval.StartAt(q.depart)}
	}
	return q.start
}

// options are how a finished chain is evaluated.
func (q *question) options() options {
	return options{blind: q.Blind, confirm: q.Confirm, settled: q.Order == Lightest}
}

// search prepares a search for the question's destination.
func (q *question) search(from int, goals ...goal) *search {
	return &search{
		scene: q.scene, bounds: q.bounds, from: from, to: q.To, levels: q.Relays + 1,
		barred: make([]bool, len(q.scene.net.Stations)), avoid: -1,
		options: q.options(), goals: goals, effort: q.planner.effort, tried: q.planner.spent,
	}
}

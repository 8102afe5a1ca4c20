package routing

import (
	"context"
	"slices"
)

// answer searches, and puts together what was found. The list holds the chains of
// the answer as the search found them.
func (q *question) answer(ctx context.Context) (*Answer, []*found, error) {
	s := q.scene
	a := &Answer{
		Request: q.Request, First: s.clock.first, Slot: q.planner.net.Slots.Length,
		Slots: s.clock.slots, Proven: true,
	}
	if s.clock.slots == 0 {
		a.Warnings = append(a.Warnings, Warning{Code: WarnNoSlots, Message: "no slot ends by the deadline"})
		return a, nil, nil
	}
	list, err := q.find(ctx, a)
	if err != nil {
		return nil, nil, err
	}
	if a.Chains, err = q.details(ctx, list); err != nil {
		return nil, nil, err
	}
	a.AnyRelay = anyRelay(s.hearers(), q.From, q.To)
	a.Warnings = append(a.Warnings, q.warnings(a)...)
	return a, list, nil
}

// find searches from the moment asked for or, if that was asked and pays, from a
// better one.
func (q *question) find(ctx context.Context, a *Answer) ([]*found, error) {
	list, err := q.look(ctx, a)
	if err != nil {
		return nil, err
	}
	var now *found
	if a.Best > 0 {
		now = list[0]
	}
	hold, slot, err := q.hold(ctx, now)
	if a.Hold = hold; err != nil || hold == nil || q.Depart == DepartNow {
		return list, err
	}
	q.depart = slot
	a.Unbeaten, a.Backup, a.Shared = nil, nil, nil
	return q.look(ctx, a)
}

// look searches from the question's departure.
func (q *question) look(ctx context.Context, a *Answer) ([]*found, error) {
	start := q.root()
	firsts, all := &best{order: q.Order, k: q.Chains}, &unbeaten{}
	two := q.pairing(ctx, start)
	goals := []goal{firsts, all, two}
	if a.Shared = q.shared(); len(a.Shared) > 0 || !q.paired() {
		goals = goals[:2] // no pair without a common relay
	}
	seeds, err := q.seeds(ctx)
	if err != nil {
		return nil, err
	}
	for _, f := range seeds {
		for _, g := range goals {
			g.offer(f)
		}
	}
	complete, err := q.search(q.From, goals...).run(ctx, start)
	if err = cmpErr(err, two.err); err != nil {
		return nil, err
	}
	a.Proven = complete && !two.cut
	return q.assemble(a, start, firsts.list, all.list, two), nil
}

func cmpErr(a, b error) error {
	if a != nil {
		return a
	}
	return b
}

// pairing prepares the goal of a backup pair.
func (q *question) pairing(ctx context.Context, start *stem) *pair {
	g := &pair{ctx: ctx, order: q.Order, both: q.Both, start: start, given: map[int]*second{}}
	g.partner = func(m goal) *search { return q.search(q.From, m) }
	return g
}

// assemble lists the chains to be shown, in order, and says which are what.
func (q *question) assemble(a *Answer, start *stem, firsts, unbeaten []*found, two *pair) []*found {
	list := slices.Clone(firsts)
	a.Best = len(firsts)
	var rest []*found
	add := func(f *found) {
		same := func(o *found) bool { return slices.Equal(o.hops, f.hops) }
		if !slices.ContainsFunc(list, same) && !slices.ContainsFunc(rest, same) {
			rest = append(rest, f)
		}
	}
	for _, f := range unbeaten {
		add(f)
	}
	if two.lead != nil {
		two.follow = q.scene.evaluate(start, two.follow.hops, q.options())
		add(two.lead)
		add(two.follow)
	}
	slices.SortFunc(rest, func(x, y *found) int { return q.Order.compare(x.key, y.key) })
	list = append(list, rest...)
	index := func(f *found) int {
		return slices.IndexFunc(list, func(o *found) bool { return slices.Equal(o.hops, f.hops) })
	}
	for _, f := range unbeaten {
		a.Unbeaten = append(a.Unbeaten, index(f))
	}
	slices.Sort(a.Unbeaten)
	if two.lead != nil {
		a.Backup = &Backup{Chains: [2]int{index(two.lead), index(two.follow)}, Delivered: two.exact, Both: q.Both}
		if !q.Both {
			a.Backup.SwitchAt = q.switchAt(two.after(two.lead.hops[0]).start)
		}
	}
	return list
}

// switchAt is when the first chain of a pair is usually given up at its origin.
func (q *question) switchAt(second *stem) int64 {
	if second.prefix.Chance() < leastChance {
		return 0
	}
	return q.scene.clock.unix(q.scene.usual(second.prefix))
}

// shared lists the relays without which no chain of the hops allowed is left;
// none when even with all of them there is no chain.
func (q *question) shared() []int {
	s := q.search(q.From)
	if !s.linked() {
		return nil
	}
	var list []int
	for v := range s.barred {
		if v == q.From || v == q.To {
			continue
		}
		if s.barred[v] = true; !s.linked() {
			list = append(list, v)
		}
		s.barred[v] = false
	}
	return list
}

// hearers lists who may hear whom, with the chance at the first slot open to
// each hop.
func (s *scene) hearers() hearers {
	heard := make(hearers, len(s.net.Stations))
	for v := range heard {
		heard[v] = make([][]ear, len(s.net.Channels))
	}
	for i := range s.hops {
		h := &s.hops[i]
		if e, ok := s.edge(h.from, h.to, h.channel, s.eval.Quarter(int(h.tally.slots[0]))); ok && s.allowed(e) {
			heard[h.from][h.channel] = append(heard[h.from][h.channel], ear{h.to, e.Decode})
		}
	}
	return heard
}

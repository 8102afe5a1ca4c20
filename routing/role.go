package routing

import (
	"context"
	"slices"
)

// RoleAnswer is the best way to any station with a role.
type RoleAnswer struct {
	Stations []int     // with the role, the origin left out
	Answers  []*Answer // one for each of them with a chain, the best first
	Backup   *RoleBackup
}

// RoleBackup is a second chain, to another station with the role, for when the
// best one is given up at its origin (or at once, if so asked). It shares no relay
// with it.
type RoleBackup struct {
	Chain     Chain   // its figures are for leaving at the moment asked for
	Delivered float64 // chance that at least one of the two delivers by the deadline
	SwitchAt  int64   // see Backup
}

// RouteRole finds the best chains to any station with a role and, through a
// different one, the backup. Request.To is not used.
func (p *Planner) RouteRole(ctx context.Context, r Request, role string) (*RoleAnswer, error) {
	a := &RoleAnswer{}
	for v := range p.net.Stations {
		if v != r.From && slices.Contains(p.net.Stations[v].Roles, role) {
			a.Stations = append(a.Stations, v)
		}
	}
	var firsts []*found
	for _, v := range a.Stations {
		r.To = v
		q, err := p.question(r)
		if err != nil {
			return nil, err
		}
		answer, list, err := q.answer(ctx)
		if err != nil {
			return nil, err
		}
		if len(list) == 0 {
			continue
		}
		i, _ := slices.BinarySearchFunc(firsts, list[0], func(x, y *found) int { return r.Order.compare(x.key, y.key) })
		firsts = slices.Insert(firsts, i, list[0])
		a.Answers = slices.Insert(a.Answers, i, answer)
	}
	if len(firsts) < 2 {
		return a, nil
	}
	return a, p.roleBackup(ctx, r, a, firsts)
}

// roleBackup looks for the second chain to go with the best first one: that which
// adds most or, where none adds anything that shows, the best there is.
func (p *Planner) roleBackup(ctx context.Context, r Request, a *RoleAnswer, firsts []*found) error {
	lead := firsts[0]
	adds := &mate{lead: lead, weights: lead.scene.eval.Weights(), both: r.Both, floor: lead.chance + 1}
	merits := &best{order: r.Order, k: 1}
	for _, f := range firsts[1:] {
		r.To = f.destination()
		q, err := p.question(r)
		if err != nil {
			return err
		}
		after := q.after(ctx, lead)
		for _, look := range []struct {
			goal  goal
			start *stem
		}{{adds, after}, {merits, q.root()}} {
			s := apart(q.search(q.From, look.goal), lead)
			s.barred[lead.destination()] = true
			if _, err := s.run(ctx, look.start); err != nil {
				return err
			}
		}
	}
	second := adds.found
	if second == nil {
		if second = merits.top(); second == nil {
			return nil
		}
	}
	r.To = second.destination()
	q, err := p.question(r)
	if err != nil {
		return err
	}
	after := q.after(ctx, lead)
	a.Backup = &RoleBackup{Delivered: adds.joint(q.scene.evaluate(after, second.hops, q.options()).arrival.ByDeviate)}
	if !r.Both {
		a.Backup.SwitchAt = q.switchAt(after)
	}
	chains, err := q.details(ctx, []*found{q.scene.evaluate(q.root(), second.hops, q.options())})
	if err != nil {
		return err
	}
	a.Backup.Chain = chains[0]
	return nil
}

// after is where a second chain starts when the first is the given one.
func (q *question) after(ctx context.Context, lead *found) *stem {
	g := q.pairing(ctx, q.root())
	return g.after(lead.hops[0]).start
}

// destination is the chain's last station.
func (f *found) destination() int { return f.stations[len(f.stations)-1] }

// top is the first of the chains kept, nil when there is none.
func (g *best) top() *found {
	if len(g.list) == 0 {
		return nil
	}
	return g.list[0]
}

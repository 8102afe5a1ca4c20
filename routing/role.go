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

// roleBackup looks for the second chain to go with the best first one.
func (p *Planner) roleBackup(ctx context.Context, r Request, a *RoleAnswer, firsts []*found) error {
	lead := firsts[0]
	top := &mate{lead: lead, weights: lead.scene.eval.Weights(), both: r.Both}
	var of *question
	var g *pair
	for _, f := range firsts[1:] {
		r.To = f.stations[len(f.stations)-1]
		q, err := p.question(r)
		if err != nil {
			return err
		}
		if g == nil {
			g = q.pairing(ctx, q.root())
		}
		before := top.found
		s := apart(q.search(q.From, top), lead)
		s.barred[lead.stations[len(lead.stations)-1]] = true
		g.run(s, g.after(s, lead.hops[0]).start)
		if top.found != before {
			of = q
		}
	}
	if g.err != nil || top.found == nil {
		return g.err
	}
	f := of.scene.evaluate(of.root(), top.found.hops, of.options())
	c, err := of.detail(ctx, f)
	if err != nil {
		return err
	}
	a.Backup = &RoleBackup{Chain: c, Delivered: top.exact}
	if !r.Both {
		a.Backup.SwitchAt = of.switchAt(g.after(of.search(of.From), lead.hops[0]))
	}
	return nil
}

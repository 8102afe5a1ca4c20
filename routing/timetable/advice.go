package timetable

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"farhop/mesh"
)

// adviser finds out what would make messages fit that don't: it makes one change at a
// time, plans again by the same rules, and tells the change where the message then
// fits.
type adviser struct {
	*planner
	outcomes map[int]outcome
	left     int // placements that may still be tried
	cost     int // of planning everything
}

// adviceTrials bounds how many placements are tried for advice. Changes of one message are
// tried for as many messages as it lasts, the most pressing first.
const adviceTrials = 6000

// allShare is the share of what is left that planning everything anew may cost.
const allShare = 8

func (p *planner) adviser(outcomes map[int]outcome) *adviser {
	return &adviser{planner: p, outcomes: outcomes, left: adviceTrials, cost: p.placed}
}

// affords reports whether everything may be planned anew.
func (a *adviser) affords() bool { return a.cost*allShare <= adviceTrials && a.left > 0 }

// general is a change of the rules for all messages.
type general struct {
	name string
	make func(o *Options)
}

// give fills in the changes of each message that doesn't fit.
func (a *adviser) give(ctx context.Context, t *Timetable) error {
	var unfit []int
	for _, m := range t.Order {
		if !t.Messages[m].Fits {
			unfit = append(unfit, m)
		}
	}
	if len(unfit) == 0 {
		return nil
	}
	for _, m := range unfit {
		v := &t.Messages[m]
		if v.Untried = a.left <= 0; v.Untried {
			continue
		}
		if err := a.particular(ctx, m, v); err != nil {
			return err
		}
	}
	return a.generals(ctx, t, unfit)
}

// counted has work done and its placements taken off what is left.
func (a *adviser) counted(work func() error) error {
	before := a.placed
	err := work()
	a.left -= a.placed - before
	return err
}

// particular tries changes of a single message: of its deadline, its length and
// its precedence. Those of higher precedence stay as they are, and of the others only
// the message's own precedence is planned anew: what is below it can't delay it.
func (a *adviser) particular(ctx context.Context, m int, v *Planned) error {
	later := a.later
	if a.messages[m].To == mesh.EveryMember {
		later = a.allLater
	}
	if err := later(ctx, m, v); err != nil {
		return err
	}
	if j := a.job(m); j.limit <= j.ready {
		return nil
	}
	if half := (a.messages[m].Characters + 1) / 2; half < a.messages[m].Characters {
		o, err := a.changed(ctx, m, func(msg *mesh.Message) { msg.Characters = half })
		if err != nil {
			return err
		}
		a.advise(v, o, fmt.Sprintf("half the length, %d characters", half))
	}
	for level := a.messages[m].Precedence; level > mesh.Emergency; {
		level--
		o, err := a.changed(ctx, m, func(msg *mesh.Message) { msg.Precedence = level })
		if err != nil {
			return err
		}
		if a.advise(v, o, "precedence "+level.String()) {
			break
		}
	}
	return nil
}

// later looks for a deadline that the message would keep, within the horizon or
// with a longer one.
func (a *adviser) later(ctx context.Context, m int, v *Planned) error {
	j := a.job(m)
	j.limit = a.total
	found, t, err := a.find(j, a.opt.Margin)
	if err != nil || t.kind != fine {
		return err
	}
	arrival := found[len(found)-1].end()
	due := func(msg *mesh.Message) { msg.Deadline = time.Unix(a.unix(arrival), 0) }
	name := "a deadline of " + a.clock(arrival) + " or later"
	var o outcome
	if arrival <= a.slots {
		o, err = a.changed(ctx, m, due)
	} else if v.Untried = !a.affords(); v.Untried {
		return nil
	} else {
		hours := time.Duration(a.unix(arrival)-a.start+3599) / 3600
		opt := a.opt
		if opt.Horizon = hours * time.Hour; opt.Horizon > mostHorizon {
			return nil
		}
		name += fmt.Sprintf(" and a horizon of %d h", hours)
		if a.messages[m].Deadline.IsZero() {
			name = fmt.Sprintf("a horizon of %d h", hours)
		}
		o, err = a.planAll(ctx, m, due, opt)
	}
	if err == nil {
		a.advise(v, o, name)
	}
	return err
}

// advise adds a change if the message fits with it or, to all, reaches more members:
// then the change names those still left out.
func (a *adviser) advise(v *Planned, o outcome, change string) bool {
	switch {
	case o.trouble.kind == fine:
	case o.trouble.kind == uncovered && len(o.missing) < len(v.Missing):
		var names []string
		for _, s := range o.missing {
			names = append(names, a.net.Stations[s].Call)
		}
		change += " (all but " + strings.Join(names, ", ") + ")"
	default:
		return false
	}
	v.Changes = append(v.Changes, change)
	return true
}

// allLater finds out whether a message to all would reach more with more time, up to the
// end of the horizon, and by when.
func (a *adviser) allLater(ctx context.Context, m int, v *Planned) error {
	if a.job(m).limit >= a.slots {
		return nil
	}
	o, err := a.changed(ctx, m, func(msg *mesh.Message) { msg.Deadline = time.Time{} })
	if err == nil {
		a.advise(v, o, "a deadline of "+a.clock(o.arrival)+" or later")
	}
	return err
}

// with is the list of messages with one of them changed.
func (a *adviser) with(m int, change func(*mesh.Message)) []mesh.Message {
	messages := slices.Clone(a.messages)
	change(&messages[m])
	return messages
}

// changed plans the precedence of a message anew with the message changed.
func (a *adviser) changed(ctx context.Context, m int, change func(*mesh.Message)) (o outcome, err error) {
	q := a.again(a.with(m, change), a.opt)
	level := q.messages[m].Precedence
	for _, e := range a.book.entries {
		if a.messages[e.message].Precedence < level {
			q.book.add(e)
		}
	}
	err = a.counted(func() error {
		c, err := q.arrange(ctx, q.class(level))
		if err == nil {
			o = c.outcomes[m]
		}
		return err
	})
	return o, err
}

// planAll plans everything anew with a message changed.
func (a *adviser) planAll(ctx context.Context, m int, change func(*mesh.Message), opt Options) (o outcome, err error) {
	q := a.again(a.with(m, change), opt)
	err = a.counted(func() error {
		_, outcomes, err := q.all(ctx)
		o = outcomes[m]
		return err
	})
	return o, err
}

// generals tries changes of the rules, each for all messages at once.
func (a *adviser) generals(ctx context.Context, t *Timetable, unfit []int) error {
	helped := map[int]bool{} // by a smaller margin
	for _, g := range a.choices() {
		if !a.affords() {
			for _, m := range unfit {
				t.Messages[m].Untried = true
			}
			return nil
		}
		o := a.opt
		g.make(&o)
		var outcomes map[int]outcome
		err := a.counted(func() (err error) {
			_, outcomes, err = a.again(a.messages, o).all(ctx)
			return err
		})
		if err != nil {
			return err
		}
		for _, m := range unfit {
			if helped[m] && o.Margin < a.opt.Margin {
				continue
			}
			if a.advise(&t.Messages[m], outcomes[m], g.name) {
				helped[m] = helped[m] || o.Margin < a.opt.Margin && outcomes[m].trouble.kind == fine
			}
		}
	}
	return nil
}

// choices are the changes of the rules worth trying.
func (a *adviser) choices() (list []general) {
	for _, margin := range []float64{0.7, 0.6, 0.5} {
		if margin < a.opt.Margin {
			list = append(list, general{fmt.Sprintf("a margin of %.1f", margin), func(o *Options) { o.Margin = margin }})
		}
	}
	if a.opt.CatchUp > 0 {
		list = append(list, general{"no catch-up blocks", func(o *Options) { o.CatchUp = 0 }})
	}
	quiet := !a.net.Limits.Quiet.Empty()
	for v := range a.net.Stations {
		quiet = quiet || !a.net.Stations[v].Quiet.Empty()
	}
	if quiet && !a.opt.AnyHour {
		list = append(list, general{"no quiet hours", func(o *Options) { o.AnyHour = true }})
	}
	if a.duty != nil {
		list = append(list, general{"no duty limits", func(o *Options) { o.AnyDuty = true }})
	}
	return list
}

package timetable

import (
	"cmp"
	"context"
	"slices"

	"farhop/mesh"
)

// outcome is a message while the timetable is being made.
type outcome struct {
	chain   []int
	arrival int // slots until it is through, 0 = not reserved
	late    bool
	missing []int
	fewest  bool // for every member: no fewer transmissions reach the same
	trouble trouble
}

// job is a message in slots.
type job struct {
	message int
	ready   int // first slot it may use
	limit   int // slots that end by its deadline
	frames  int
}

func (p *planner) job(m int) job {
	msg := &p.messages[m]
	j := job{message: m, limit: p.slots, frames: p.net.Slots.Frames(msg.Characters)}
	if !msg.Ready.IsZero() {
		j.ready = p.from(msg.Ready.Unix())
	}
	if !msg.Deadline.IsZero() {
		j.limit = min(p.before(msg.Deadline.Unix()), p.slots)
	}
	return j
}

// class is the messages of one precedence and how they were placed.
type class struct {
	order    []int
	outcomes map[int]outcome
	late     int // slots after the deadlines, where messages are reserved late
	unfit    int // messages not through by their deadlines
}

// worse compares the lateness; where nothing is reserved late, how many miss
// their deadlines.
func (c *class) worse(than *class) bool {
	return cmp.Or(cmp.Compare(c.late, than.late), cmp.Compare(c.unfit, than.unfit)) > 0
}

// all places all messages, precedence by precedence.
func (p *planner) all(ctx context.Context) (order []int, outcomes map[int]outcome, err error) {
	outcomes = map[int]outcome{}
	for level := mesh.Emergency; level <= mesh.Routine; level++ {
		c, err := p.arrange(ctx, p.class(level))
		if err != nil {
			return nil, nil, err
		}
		order = append(order, c.order...)
		for m, o := range c.outcomes {
			outcomes[m] = o
		}
	}
	return order, outcomes, nil
}

// class is the messages of a precedence, the most pressing first.
func (p *planner) class(level mesh.Precedence) (list []int) {
	for m := range p.messages {
		if p.messages[m].Precedence == level {
			list = append(list, m)
		}
	}
	slices.SortStableFunc(list, p.compare)
	return list
}

// compare puts the earlier deadline first, then the earlier time of being ready,
// then the shorter message, then the plan's order.
func (p *planner) compare(a, b int) int {
	x, y := p.job(a), p.job(b)
	return cmp.Or(cmp.Compare(x.limit, y.limit), cmp.Compare(x.ready, y.ready), cmp.Compare(x.frames, y.frames))
}

// trials bounds how many placements are tried to improve the order within a
// precedence.
const trials = 800

// everyMemberCost is how many of them one message to every member counts as.
const everyMemberCost = 80

// arrange books the messages of one precedence: by deadline, and when some then
// miss theirs that could keep it, in the best of other orders tried, each message
// moved to each place in turn, those that miss theirs first.
func (p *planner) arrange(ctx context.Context, list []int) (*class, error) {
	mark := len(p.book.entries)
	best, err := p.run(ctx, list, nil, nil)
	if err != nil || len(list) < 2 || best.unfit == 0 && best.late == 0 {
		return best, err
	}
	p.book.back(mark)
	hopeless, err := p.hopeless(best)
	if err != nil {
		return nil, err
	}
	stop := p.placed + trials
	for improved := true; improved && (best.unfit > len(hopeless) || best.late > 0); {
		improved = false
		for _, m := range best.unfitFirst(hopeless) {
			for k := 0; k < len(list) && p.placed < stop; k++ {
				order := moved(best.order, m, k)
				c, err := p.run(ctx, order, hopeless, best)
				if err != nil {
					return nil, err
				}
				if c != nil {
					best, improved = c, true
				}
				p.book.back(mark)
			}
		}
	}
	return p.run(ctx, best.order, hopeless, nil)
}

// hopeless is what becomes of messages that miss their deadline even when they
// are placed before all others of their precedence: no order helps them.
func (p *planner) hopeless(c *class) (map[int]outcome, error) {
	list := map[int]outcome{}
	if p.opt.Late {
		return list, nil // how late they are does hang on the order
	}
	mark := len(p.book.entries)
	for _, m := range c.order {
		if c.outcomes[m].missed() {
			o, err := p.book1(p.job(m))
			if err != nil {
				return nil, err
			}
			if o.missed() {
				list[m] = o
			}
			p.book.back(mark)
		}
	}
	return list, nil
}

// missed reports whether the deadline is missed, or would be.
func (o outcome) missed() bool { return o.trouble.kind != fine && o.trouble.kind != uncovered }

// unfitFirst lists messages, those that miss their deadlines first, without the
// hopeless ones.
func (c *class) unfitFirst(hopeless map[int]outcome) (list []int) {
	var others []int
	for _, m := range c.order {
		o := c.outcomes[m]
		switch _, none := hopeless[m]; {
		case none:
		case o.missed():
			list = append(list, m)
		default:
			others = append(others, m)
		}
	}
	return append(list, others...)
}

// moved is an order with a message moved to a place.
func moved(order []int, message, place int) []int {
	i := slices.Index(order, message)
	return slices.Insert(slices.Delete(slices.Clone(order), i, i+1), place, message)
}

// run books messages in the given order, each so that it arrives in time or,
// where that is asked for, late. Hopeless ones are passed over. With another class to
// beat it gives up, and returns nil, when it can't.
func (p *planner) run(ctx context.Context, order []int, hopeless map[int]outcome, beat *class) (*class, error) {
	c := &class{order: order, outcomes: map[int]outcome{}, unfit: len(hopeless)}
	for _, m := range order {
		if beat != nil && !beat.worse(c) {
			return nil, nil
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if o, ok := hopeless[m]; ok {
			c.outcomes[m] = o
			continue
		}
		j := p.job(m)
		o, err := p.book1(j)
		if err != nil {
			return nil, err
		}
		if o.missed() {
			c.unfit++
			if o, err = p.bookLate(c, j, o); err != nil {
				return nil, err
			}
		}
		c.outcomes[m] = o
	}
	if beat != nil && !beat.worse(c) {
		return nil, nil
	}
	return c, nil
}

// bookLate books a message that misses its deadline, where asked for; else, or
// when there is no room at all, the outcome stays as it is.
func (p *planner) bookLate(c *class, j job, o outcome) (outcome, error) {
	if !p.opt.Late {
		return o, nil
	}
	due := j.limit
	j.limit = p.slots
	late, err := p.book1(j)
	if err != nil || late.arrival == 0 {
		c.late += p.slots
		return o, err
	}
	c.late += late.arrival - due
	late.late, late.trouble = true, trouble{kind: tooLate, arrival: late.arrival}
	return late, nil
}

// book1 books one message by its limit, or says why it can't.
func (p *planner) book1(j job) (outcome, error) {
	p.placed++
	if j.limit <= j.ready {
		return outcome{trouble: trouble{kind: tooEarly}}, nil
	}
	if p.messages[j.message].To == mesh.EveryMember {
		p.placed += everyMemberCost
		return p.everyMember(j)
	}
	list, t, err := p.find(j, p.opt.Margin)
	if err != nil || t.kind != fine {
		return outcome{trouble: t}, err
	}
	o := outcome{chain: []int{list[0].from}}
	for _, e := range list {
		p.book.add(e)
		o.chain = append(o.chain, e.to...)
		o.arrival = e.end()
	}
	return o, nil
}

// How much earlier a message must be through for a less sure chain to be taken.
const (
	worthUrgentSeconds = 15 * 60 // EMERGENCY and PRIORITY
	worthSeconds       = 60 * 60
)

// find looks for a chain that can be placed by the limit. In the hour in which
// the message is ready, then in every other hour after it, the chains that look surest
// then are tried in turn. The first that fits is taken, and gives way only to one
// that is through much earlier. Stations to spare relay only what fits no other way.
func (p *planner) find(j job, margin float64) (best []entry, t trouble, err error) {
	if p.spare != nil {
		if best, t, err = p.findBy(j, margin, true); err != nil || t.kind == fine {
			return best, t, err
		}
	}
	return p.findBy(j, margin, false)
}

func (p *planner) findBy(j job, margin float64, spare bool) (best []entry, t trouble, err error) {
	msg := &p.messages[j.message]
	worth := int(worthSeconds / p.seconds)
	if msg.Precedence <= mesh.Priority {
		worth = int(worthUrgentSeconds / p.seconds)
	}
	worst := trouble{kind: noChain}
	step := max(int(2*3600/p.seconds), 1)
	limit := j.limit
	for slot := j.ready; slot < limit; slot += step {
		chains, err := p.candidates(request{msg.From, msg.To, margin, spare}, j.frames, slot)
		if err != nil {
			return nil, trouble{}, err
		}
		for _, c := range chains {
			list, t, err := p.place(j.message, c, j.frames, slot, limit, margin)
			switch {
			case err != nil:
				return nil, trouble{}, err
			case t.kind == fine:
				best = list
				limit = list[len(list)-1].end() - worth
			default:
				worst = t.tellingThan(worst)
			}
		}
	}
	if best != nil {
		return best, trouble{}, nil
	}
	return nil, worst, nil
}

// tellingThan is the more telling of two troubles: what comes nearest to a plan.
func (t trouble) tellingThan(other trouble) trouble {
	rank := func(t trouble) int {
		return slices.Index([]troubleKind{noChain, noisy, unsure, stretch, hushed, full, limited}, t.kind)
	}
	if d := rank(t) - rank(other); d > 0 || d == 0 && t.kind == unsure && t.chance > other.chance {
		return t
	}
	return other
}

package delivery

// Prefix is a chain begun: when the station that holds the message may send it
// on, for each node of the net-wide deviate. It does not change once made, so
// any number of chains may go on from it.
type Prefix struct {
	e        *Evaluator
	by       arrivals  // slots with which the next hop may start at the earliest
	fail     []float64 // by node: chance that a sender has given up; nil if within
	sent     []float64 // [node][station]: mean frames keyed so far; nil if within
	stations int
	within   bool // what can't start by the deadline is dropped
}

// Start is the origin with the message at the beginning of slot 0.
func (e *Evaluator) Start() *Prefix { return e.StartAt(0) }

// StartAt is the origin that sends from the given slot on.
func (e *Evaluator) StartAt(slot int) *Prefix {
	n := len(e.rule.nodes)
	p := &Prefix{e: e, fail: make([]float64, n), sent: make([]float64, n), stations: 1}
	p.by = arrivals{first: max(slot, 0), n: 1, of: make([]float64, n), beyond: make([]float64, n)}
	for i := range p.by.of {
		p.by.of[i] = 1
	}
	return p
}

// Within returns the prefix for a search that asks about nothing but arrivals by
// the deadline, which are as exact: what could begin or end only after it is left
// out, and so are airtime, giving up and being late.
func (p *Prefix) Within() *Prefix {
	q := *p
	q.within, q.fail, q.sent = true, nil, nil
	q.by.beyond = make([]float64, len(p.by.beyond))
	return &q
}

// ByDeviate returns, for each node of the net-wide deviate, the chance that the
// next hop may start before the deadline.
func (p *Prefix) ByDeviate() []float64 { return p.by.before(p.e.slots) }

// Chance returns the chance that the next hop may start before the deadline:
// no chain that goes on from here is delivered with a larger one.
func (p *Prefix) Chance() float64 { return p.e.mean(p.ByDeviate()) }

// Frames returns the mean number of frames keyed so far by all stations, 0 within
// the deadline.
func (p *Prefix) Frames() float64 {
	total := 0.0
	for i, v := range p.sent {
		total += p.e.rule.weights[i/p.stations] * v
	}
	return total
}

// Row returns the chances that the next hop may start with slot 0, 1, … and no
// earlier, at a node of the net-wide deviate.
func (p *Prefix) Row(node int) []float64 {
	row := make([]float64, p.by.first+p.by.n)
	copy(row[p.by.first:], p.by.node(node))
	return row
}

// Earliest returns the first slot with which the next hop may start, or −1 if
// it never may.
func (p *Prefix) Earliest() int {
	if p.by.n == 0 {
		return -1
	}
	return p.by.first
}

// arrivals are chances by slot, for each node of the net-wide deviate.
type arrivals struct {
	first, n int
	of       []float64 // [node][slot − first]
	beyond   []float64 // by node: chance of a slot beyond what is looked at
}

func (a *arrivals) node(j int) []float64 { return a.of[j*a.n : (j+1)*a.n] }

// before returns the chance of the slots below the given one, by node.
func (a *arrivals) before(slot int) []float64 {
	out := make([]float64, len(a.beyond))
	n := min(max(slot-a.first, 0), a.n)
	for j := range out {
		for _, v := range a.node(j)[:n] {
			out[j] += v
		}
	}
	return out
}

// Extend adds a relay hop.
func (e *Evaluator) Extend(p *Prefix, id LegID) *Prefix {
	w, d := e.walk(p, id), e.desk()
	defer e.desks.Put(d)
	return w.extend(p, w.after(d, (*hop).arriving, e.busy.tail(e.blocks.gap()), e.blocks.shortest()))
}

// extend makes the prefix after the walk, done at the given open slots, which it
// uses up and which end with a tail for the gap.
func (w *walk) extend(p *Prefix, done spans) *Prefix {
	e := w.e
	q := &Prefix{e: e, stations: p.stations + 1, within: p.within}
	q.by = w.arrive(e.busy.later(done, e.blocks.gap()), 1, nil)
	if q.within {
		return q
	}
	for j, v := range w.idle {
		q.by.beyond[j] += v
	}
	q.fail = w.fails(p)
	q.sent = w.keyed(p, false)
	return q
}

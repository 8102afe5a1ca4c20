package delivery

// GivenUp returns the prefix of a second try by the station that a prefix has
// come to, once its first one over the leg is given up: when the rounds are used
// up without success. What succeeds is not in it, so that the chance of what is
// built on it adds to that of the first try. Frames count from there.
func (e *Evaluator) GivenUp(p *Prefix, id LegID) *Prefix {
	w := e.walk(p, id)
	q := &Prefix{e: e, stations: 1, within: p.within}
	d := e.desk()
	defer e.desks.Put(d)
	q.by = w.arrive(w.after(d, (*hop).ceasing, 0, 1), 1, nil)
	if !q.within {
		q.fail, q.sent = make([]float64, len(w.idle)), make([]float64, len(w.idle))
	}
	return q
}

// AtLeastOne returns the chance that at least one of two tries, made at the same
// time over chains that share nothing but the net-wide deviate, delivers. The
// arguments are Result.ByDeviate.
func (e *Evaluator) AtLeastOne(a, b []float64) (sum float64) {
	for i, w := range e.rule.weights {
		sum += w * (1 - (1-a[i])*(1-b[i]))
	}
	return sum
}

// Pair returns the chance that at least one of two chains delivers by the
// deadline, the second sent at the same time or else when the first is given up
// at its origin.
func (e *Evaluator) Pair(first, second []LegID, atOnce bool) float64 {
	a := e.Chain(first...)
	if atOnce {
		return e.AtLeastOne(a.ByDeviate, e.Chain(second...).ByDeviate)
	}
	return a.Chance() + e.ChainFrom(e.GivenUp(e.Start(), first[0]), second...).Chance()
}

// Reply returns the prefix from which a reply goes back over a chain that Chain
// evaluated: it may start when the round is over in which the last sender has
// read that the message is there. The evaluator is that of the reply: a plan
// with the reply's frames and otherwise the same one. Frames count from there.
func (r *Result) Reply(reply *Evaluator) *Prefix {
	w := r.last
	q := &Prefix{e: reply, stations: 1}
	d, more := w.e.desk(), w.e.plan.Protocol.Turnaround
	defer w.e.desks.Put(d)
	q.by = w.arrive(w.e.busy.later(w.after(d, (*hop).ending, w.e.busy.tail(more), 1), more), 1, nil)
	q.fail, q.sent = make([]float64, len(w.idle)), make([]float64, len(w.idle))
	return q
}

package delivery

// Result is what becomes of a message on one chain. For a chain from the start
// Chance() + GivenUp + Late = 1.
type Result struct {
	Delivered []float64   // [i]: chance that the message is there by the end of slot i, up to the deadline
	Confirmed []float64   // [i]: chance that the last sender has read an acknowledgment by the end of slot i
	Mean      float64     // slots from the beginning of slot 0 to the end of that of arrival, given delivery by the deadline; 0 if there is none
	GivenUp   float64     // chance that a sender gives up
	Late      float64     // chance of arrival after the deadline
	Frames    []float64   // mean frames keyed by each station of the chain, origin first, over the whole try
	Hops      []HopResult // in order
	ByDeviate []float64   // chance of delivery by the deadline, by node of the net-wide deviate

	last *walk
}

// HopResult is what becomes of one hop of a chain.
type HopResult struct {
	Started  float64 // chance that the hop is begun at all
	Done     float64 // chance that its receiver gets the message at all, after the deadline included
	GiveUpAt int     // slot by whose end 95 % of those arrivals that come at all have come; −1 if none comes
}

// quantileSlack keeps rounding from moving a time.
const quantileSlack = 1e-12

// Chance returns the chance of delivery by the deadline.
func (r *Result) Chance() float64 { return last(r.Delivered) }

// ConfirmedChance returns the chance that by the deadline the last sender has
// read an acknowledgment.
func (r *Result) ConfirmedChance() float64 { return last(r.Confirmed) }

// Airtime returns the mean number of frames keyed by all stations.
func (r *Result) Airtime() (sum float64) {
	for _, v := range r.Frames {
		sum += v
	}
	return sum
}

// Quantile returns the first slot by whose end the message is there with at
// least this chance, −1 if that is not reached by the deadline.
func (r *Result) Quantile(level float64) int { return Quantile(r.Delivered, level) }

// Quantile returns the first index at which a cumulative distribution reaches
// the level, but for rounding, or −1.
func Quantile(cumulative []float64, level float64) int {
	for i, v := range cumulative {
		if v >= level-quantileSlack {
			return i
		}
	}
	return -1
}

func last(cumulative []float64) float64 {
	if len(cumulative) == 0 {
		return 0
	}
	return cumulative[len(cumulative)-1]
}

// Chain evaluates a whole chain. It must have a leg.
func (e *Evaluator) Chain(legs ...LegID) *Result { return e.ChainFrom(e.Start(), legs...) }

// ChainFrom evaluates a chain that goes on from a prefix. It must have a leg.
func (e *Evaluator) ChainFrom(p *Prefix, legs ...LegID) *Result {
	r, d := &Result{}, e.desk()
	defer e.desks.Put(d)
	for i, id := range legs {
		w := e.walk(p, id)
		by := w.after(d, (*hop).arriving, e.busy.tail(e.blocks.gap()), e.blocks.shortest())
		a := w.arrive(by, 0, d)
		r.Hops = append(r.Hops, w.result(&a))
		if i < len(legs)-1 {
			p = w.extend(p, by)
			continue
		}
		w.finish(p, &a, r)
		read := w.arrive(w.after(d, (*hop).ending, 0, 1), 0, d)
		r.Confirmed, _ = read.curve(e)
	}
	return r
}

// Finish evaluates the last hop of a chain: Chain without Confirmed and Hops,
// for a search; from a prefix within the deadline also without Frames, GivenUp
// and Late.
func (e *Evaluator) Finish(p *Prefix, id LegID) *Result {
	r, w, d := &Result{}, e.walk(p, id), e.desk()
	defer e.desks.Put(d)
	a := w.arrive(w.after(d, (*hop).arriving, 0, e.blocks.shortest()), 0, d)
	w.finish(p, &a, r)
	return r
}

func (w *walk) finish(p *Prefix, a *arrivals, r *Result) {
	e := w.e
	r.ByDeviate = a.before(e.slots)
	r.Delivered, r.Mean = a.curve(e)
	r.last = w
	if p.within {
		return
	}
	n := p.stations + 1
	r.Frames = make([]float64, n)
	sent := w.keyed(p, true)
	for i, v := range sent {
		r.Frames[i%n] += e.rule.weights[i/n] * v
	}
	fail := w.fails(p)
	r.GivenUp = e.mean(fail)
	r.Late = max(0, a.total(e)-r.Chance()+e.mean(w.idle))
}

// curve returns the cumulative chance by slot up to the deadline, and the mean
// number of slots given that.
func (a *arrivals) curve(e *Evaluator) (by []float64, mean float64) {
	by = make([]float64, e.slots)
	if n := min(max(e.slots-a.first, 0), a.n); n > 0 {
		for j, w := range e.rule.weights {
			addScaled(by[a.first:a.first+n], w, a.node(j)[:n])
		}
	}
	sum := 0.0
	for i, v := range by {
		mean += v * float64(i+1)
		sum += v
		by[i] = sum
	}
	if sum > 0 {
		mean /= sum
	}
	return by, mean
}

func (a *arrivals) total(e *Evaluator) (sum float64) {
	for j, w := range e.rule.weights {
		for _, v := range a.node(j) {
			sum += w * v
		}
		sum += w * a.beyond[j]
	}
	return sum
}

// result sums the hop up, given when its receiver has the message.
func (w *walk) result(a *arrivals) HopResult {
	e := w.e
	r := HopResult{Done: a.total(e), GiveUpAt: -1}
	for j, weight := range e.rule.weights {
		for _, v := range w.of[j*w.n : (j+1)*w.n] {
			r.Started += weight * v
		}
	}
	sum := 0.0
	for i := range a.n {
		for j, weight := range e.rule.weights {
			sum += weight * a.of[j*a.n+i]
		}
		if sum >= 0.95*r.Done-quantileSlack {
			r.GiveUpAt = a.first + i
			break
		}
	}
	return r
}

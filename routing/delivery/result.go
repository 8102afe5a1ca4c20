package delivery

// Result is what becomes of a message on one chain.
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
func (r *Result) Quantile(level float64) int { return quantile(r.Delivered, level) }

func last(cumulative []float64) float64 {
	if len(cumulative) == 0 {
		return 0
	}
	return cumulative[len(cumulative)-1]
}

func quantile(cumulative []float64, level float64) int {
	for i, v := range cumulative {
		if v >= level-quantileSlack {
			return i
		}
	}
	return -1
}

// Chain evaluates a whole chain. It must have a leg.
func (e *Evaluator) Chain(legs ...LegID) *Result { return e.ChainFrom(e.Start(), legs...) }

// ChainFrom evaluates a chain that goes on from a prefix.
func (e *Evaluator) ChainFrom(p *Prefix, legs ...LegID) *Result {
	r := &Result{}
	for _, id := range legs[:len(legs)-1] {
		var h HopResult
		p, h = e.extend(p, id, true)
		r.Hops = append(r.Hops, h)
	}
	e.finish(p, legs[len(legs)-1], r)
	return r
}

func (e *Evaluator) finish(p *Prefix, id LegID, r *Result) {
	nodes := len(p.past)
	past, fail := make([]float64, nodes), append([]float64(nil), p.fail...)
	w := e.walk(p, id, past)
	sent := w.key(p, true, fail)
	a := e.arrivals(&w, nodes)
	r.Hops = append(r.Hops, a.hop(e))
	r.Frames = make([]float64, len(sent[0]))
	for j, by := range sent {
		for i, v := range by {
			r.Frames[i] += e.rule.weights[j] * v
		}
	}
	r.GivenUp, r.ByDeviate = e.mean(fail), a.byDeadline(e.slots)
	r.Delivered = a.curve(e)
	for i, v := range r.Delivered {
		r.Mean += v * float64(i+1)
		if i > 0 {
			r.Delivered[i] += r.Delivered[i-1]
		}
	}
	if r.Chance() > 0 {
		r.Mean /= r.Chance()
	}
	r.Late = a.total(e) - r.Chance() + e.mean(past)
	read := e.reads(&w, nodes)
	r.Confirmed = read.curve(e)
	for i := 1; i < len(r.Confirmed); i++ {
		r.Confirmed[i] += r.Confirmed[i-1]
	}
}

// arrivals are chances by slot, for each node of the net-wide deviate.
type arrivals struct {
	first, n int
	of       []float64 // [node][slot − first]
	beyond   []float64 // by node: chance of a slot beyond what is looked at
}

// arrivals returns when the receiver of the walk has the message.
func (e *Evaluator) arrivals(w *walk, nodes int) (a arrivals) {
	a.beyond = make([]float64, nodes)
	first, n, in := w.arrive(nodes, func(h *hop, j int) times { return h.done[j] })
	a.first, a.n, a.of = e.slotsOf(w, first, n, in, 0, a.beyond)
	return a
}

// reads returns when the sender of the walk has read that all is there.
func (e *Evaluator) reads(w *walk, nodes int) (a arrivals) {
	a.beyond = make([]float64, nodes)
	first, n, in := w.arrive(nodes, func(h *hop, j int) times { return h.read[j] })
	a.first, a.n, a.of = e.slotsOf(w, first, n, in, 0, a.beyond)
	return a
}

func (a *arrivals) node(j int) []float64 { return a.of[j*a.n : (j+1)*a.n] }

// byDeadline returns the chance of the slots below the given one, by node.
func (a *arrivals) byDeadline(slots int) []float64 {
	out := make([]float64, len(a.beyond))
	for j := range out {
		for _, v := range a.node(j)[:min(max(slots-a.first, 0), a.n)] {
			out[j] += v
		}
	}
	return out
}

// curve returns the chance by slot, up to the deadline.
func (a *arrivals) curve(e *Evaluator) []float64 {
	out := make([]float64, e.slots)
	if n := min(max(e.slots-a.first, 0), a.n); n > 0 {
		for j, w := range e.rule.weights {
			addScaled(out[a.first:a.first+n], w, a.node(j)[:n])
		}
	}
	return out
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

// hop sums the arrivals up.
func (a *arrivals) hop(e *Evaluator) HopResult {
	r := HopResult{Done: a.total(e), GiveUpAt: -1}
	if r.Done <= 0 {
		return r
	}
	sum := 0.0
	for i := range a.n {
		for j, w := range e.rule.weights {
			sum += w * a.node(j)[i]
		}
		if sum >= 0.95*r.Done-quantileSlack {
			r.GiveUpAt = a.first + i
			break
		}
	}
	return r
}

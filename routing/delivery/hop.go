package delivery

// hop is what one hop does when it starts in one state of its link, for each
// node of the net-wide deviate. Times count open slots.
type hop struct {
	relay, done, read []times   // until a relay may send on, has it, the last sender has read
	fail              []float64 // chance that the rounds end before the receiver has it
	sent, answers     []float64 // mean frames of the sender, of the receiver, as a relay hop
	after             []float64 // mean polls that a last hop adds
	afterAnswers      []float64 // mean frames of the receiver that a last hop adds
}

// times is a distribution of slots: of[i] is the chance of first + i.
type times struct {
	first int
	of    []float64
}

// newHop integrates over the hop's own deviate.
func (e *Evaluator) newHop(d pair) *hop {
	n := len(e.rule.nodes)
	h := &hop{
		relay: make([]times, n), done: make([]times, n), read: make([]times, n),
		fail: make([]float64, n), sent: make([]float64, n), answers: make([]float64, n),
		after: make([]float64, n), afterAnswers: make([]float64, n),
	}
	var w bench
	for i, eta := range e.rule.nodes {
		var sum outcome
		e.blocks.average(&w, lineOf(d.forward, eta), lineOf(d.reverse, eta), &sum)
		pr := &e.plan.Protocol
		k := 2*pr.Turnaround + pr.Ack
		h.fail[i], h.sent[i], h.answers[i] = sum.fail, sum.sent, sum.answers*float64(pr.Ack)
		h.after[i], h.afterAnswers[i] = sum.after, sum.p*float64(pr.Ack)
		h.done[i] = e.open(sum.first, sum.has)
		h.relay[i] = e.open(sum.first+k, sum.has)
		h.read[i] = e.open(sum.first+pr.Turnaround+pr.Ack, sum.read)
	}
	return h
}

func (e *Evaluator) open(first int, pmf []float64) times {
	first, pmf = trim(first, pmf)
	first, pmf = e.busy.spread(first, pmf)
	return times{first, pmf}
}

// average integrates outcomes over the hop's own deviate, node by node. In the
// sum, p is the mean number of acknowledged polls after the receiver has it.
func (b *blocks) average(w *bench, f, r line, sum *outcome) {
	rule := deviates{[]float64{0}, []float64{1}}
	if !f.fixed && f.slope > 0 || !r.fixed && r.slope > 0 {
		rule = equallySpaced(b.step(f, r), 5.5)
	}
	sum.first = b.shortest()
	for i, zeta := range rule.nodes {
		p, miss := f.hit(zeta)
		sum.add(rule.weights[i], b.at(w, p, miss, r.read(zeta, b.pr.Ack)))
	}
}

func (o *outcome) add(weight float64, x *outcome) {
	o.fail += weight * x.fail
	o.sent += weight * x.sent
	o.answers += weight * x.answers
	o.after += weight * x.after
	o.p += weight * x.after * x.p
	o.has = addAt(o.has, x.first-o.first, weight, x.has)
	o.read = addAt(o.read, x.first-o.first, weight, x.read)
}

// addAt adds a·x to dst from index at on, making dst longer where needed.
func addAt(dst []float64, at int, a float64, x []float64) []float64 {
	for len(dst) < at+len(x) {
		dst = append(dst, 0)
	}
	addScaled(dst[at:at+len(x)], a, x)
	return dst
}

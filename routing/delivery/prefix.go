package delivery

// Prefix is a chain begun: when the station that holds the message may send it
// on, for each node of the net-wide deviate. It does not change once made, so
// any number of chains may go on from it.
type Prefix struct {
	first int         // slot of entry 0
	n     int         // entries a node
	mass  []float64   // [node][slot − first]: chance that the next hop may start with the slot
	past  []float64   // by node: chance that it may start only beyond what is looked at
	fail  []float64   // by node: chance that a hop has failed
	sent  [][]float64 // by node: mean frames keyed by each station so far
	hops  []HopResult
	e     *Evaluator
}

// Start is the origin with the message at the beginning of slot 0.
func (e *Evaluator) Start() *Prefix { return e.StartAt(0) }

// StartAt is the origin that sends from the given slot on.
func (e *Evaluator) StartAt(slot int) *Prefix {
	n := len(e.rule.nodes)
	p := &Prefix{
		first: max(slot, 0), n: 1, mass: make([]float64, n), past: make([]float64, n),
		fail: make([]float64, n), sent: make([][]float64, n), e: e,
	}
	for i := range p.mass {
		p.mass[i] = 1
		p.sent[i] = []float64{0}
	}
	return p
}

func (p *Prefix) node(i int) []float64 { return p.mass[i*p.n : (i+1)*p.n] }

// ByDeviate returns, for each node of the net-wide deviate, the chance that the
// next hop may start before the deadline.
func (p *Prefix) ByDeviate() []float64 {
	out := make([]float64, len(p.past))
	n := min(max(p.e.slots-p.first, 0), p.n)
	for i := range out {
		for _, v := range p.node(i)[:n] {
			out[i] += v
		}
	}
	return out
}

// Chance returns the chance that the next hop may start before the deadline:
// no chain that goes on from here is delivered with a larger one.
func (p *Prefix) Chance() float64 { return p.e.mean(p.ByDeviate()) }

// Frames returns the mean number of frames keyed so far by all stations.
func (p *Prefix) Frames() float64 {
	total := 0.0
	for i, by := range p.sent {
		for _, v := range by {
			total += p.e.rule.weights[i] * v
		}
	}
	return total
}

func (e *Evaluator) mean(byNode []float64) (sum float64) {
	for i, w := range e.rule.weights {
		sum += w * byNode[i]
	}
	return sum
}

// walk is one hop taken from a prefix, on the leg's own count of open slots.
type walk struct {
	l      *leg
	lo     int       // index of the first open slot of starts
	n      int       // starts a node
	starts []float64 // [node][open slot − lo]
	hops   []*hop    // by start
}

// walk maps the prefix onto the leg's open slots. What finds none is past.
func (e *Evaluator) walk(p *Prefix, id LegID, past []float64) (w walk) {
	w.l = e.leg(id)
	w.l.mu.Lock()
	defer w.l.mu.Unlock()
	copy(past, p.past)
	at := make([]int, p.n)
	w.lo = w.l.from(p.first, e.horizon)
	for i := range at {
		at[i] = w.l.from(p.first+i, e.horizon)
	}
	nodes := len(p.past)
	if p.n > 0 {
		w.n = min(at[p.n-1]+1, len(w.l.open)) - w.lo
	}
	if w.n <= 0 {
		w.n = 0
		for j := range nodes {
			for _, v := range p.node(j) {
				past[j] += v
			}
		}
		return w
	}
	w.starts = make([]float64, nodes*w.n)
	for j := range nodes {
		for i, v := range p.node(j) {
			if at[i] == len(w.l.open) {
				past[j] += v
			} else {
				w.starts[j*w.n+at[i]-w.lo] += v
			}
		}
	}
	w.hops = make([]*hop, w.n)
	for i := range w.hops {
		w.hops[i] = e.hop(w.l, e.Quarter(int(w.l.open[w.lo+i])))
	}
	return w
}

// arrive returns when the walk is over, on the count of open slots: entry i of
// a node is for the end of open slot first + i.
func (w *walk) arrive(nodes int, of func(h *hop, node int) times) (first, n int, out []float64) {
	lo, hi := -1, 0
	for i, h := range w.hops {
		for j := range nodes {
			t := of(h, j)
			if len(t.of) == 0 {
				continue
			}
			if a := w.lo + i + t.first - 1; lo < 0 || a < lo {
				lo = a
			}
			hi = max(hi, w.lo+i+t.first-1+len(t.of))
		}
	}
	if lo < 0 {
		return 0, 0, nil
	}
	n = hi - lo
	out = make([]float64, nodes*n)
	for j := range nodes {
		for i, h := range w.hops {
			if m := w.starts[j*w.n+i]; m > leastState {
				t := of(h, j)
				addScaled(out[j*n+w.lo+i+t.first-1-lo:][:len(t.of)], m, t.of)
			}
		}
	}
	return lo, n, out
}

// slots spreads what arrives at open slots over the plan's slots, shifted by
// shift; what lies beyond the horizon is past.
func (e *Evaluator) slotsOf(w *walk, first, n int, in []float64, shift int, past []float64) (lo, count int, out []float64) {
	w.l.mu.Lock()
	defer w.l.mu.Unlock()
	open := w.l.upTo(first+n, e.horizon)
	inside := min(max(len(open)-first, 0), n)
	if inside > 0 {
		lo = int(open[first]) + shift
		count = int(open[first+inside-1]) + shift - lo + 1
	}
	out = make([]float64, len(past)*count)
	for j := range past {
		for i, v := range in[j*n : (j+1)*n] {
			if i >= inside {
				past[j] += v
			} else {
				out[j*count+int(open[first+i])+shift-lo] += v
			}
		}
	}
	return lo, count, out
}

// Extend adds a relay hop.
func (e *Evaluator) Extend(p *Prefix, id LegID) *Prefix {
	next, _ := e.extend(p, id, false)
	return next
}

func (e *Evaluator) extend(p *Prefix, id LegID, detail bool) (*Prefix, HopResult) {
	nodes := len(p.past)
	q := &Prefix{past: make([]float64, nodes), fail: append([]float64(nil), p.fail...), e: e}
	w := e.walk(p, id, q.past)
	q.sent = w.key(p, false, q.fail)
	first, n, in := w.arrive(nodes, func(h *hop, j int) times { return h.relay[j] })
	q.first, q.n, q.mass = e.slotsOf(&w, first, n, in, 1, q.past)
	var r HopResult
	if detail {
		a := e.arrivals(&w, nodes)
		r = a.hop(e)
	}
	return q, r
}

// key adds the frames keyed in the walk and the chances that it fails.
func (w *walk) key(p *Prefix, last bool, fail []float64) [][]float64 {
	sent := make([][]float64, len(p.past))
	for j := range sent {
		by := append(append([]float64(nil), p.sent[j]...), 0)
		s := len(by) - 2
		for i, h := range w.hops {
			m := w.starts[j*w.n+i]
			by[s] += m * h.sent[j]
			by[s+1] += m * h.answers[j]
			if last {
				by[s] += m * h.after[j]
				by[s+1] += m * h.afterAnswers[j]
			}
			fail[j] += m * h.fail[j]
		}
		sent[j] = by
	}
	return sent
}

package delivery

// walk is one hop taken from a prefix, on the leg's own count of open slots.
type walk struct {
	e     *Evaluator
	l     *leg
	lo    int       // index of the first open slot that starts[…][0] is for
	n     int       // starts a node
	of    []float64 // [node][open slot − lo]: chance that the hop starts with it
	idle  []float64 // by node: chance that it finds no open slot at all
	parts []part
}

// part is a run of starts in one quarter of an hour, so with one state of the link.
type part struct {
	from, to int // starts
	h        *hop
}

// walk maps a prefix onto the open slots of a leg: the hop starts with the first
// open slot, which also decides on the state of its link.
func (e *Evaluator) walk(p *Prefix, id LegID) *walk {
	w := &walk{e: e, l: e.leg(id), idle: append([]float64(nil), p.by.beyond...)}
	open := w.opens(p)
	if len(open) == 0 {
		for j := range w.idle {
			for _, v := range p.by.node(j) {
				w.idle[j] += v
			}
		}
		return w
	}
	w.n = len(open)
	w.of = make([]float64, len(w.idle)*w.n)
	if int(open[0]) == p.by.first && int(open[w.n-1]) == p.by.first+p.by.n-1 && w.n == p.by.n {
		copy(w.of, p.by.of)
	} else {
		w.place(p, open)
	}
	for i := 0; i < w.n; {
		quarter := e.Quarter(int(open[i]))
		k := i + 1
		for k < w.n && e.Quarter(int(open[k])) == quarter {
			k++
		}
		w.parts = append(w.parts, part{i, k, e.hop(w.l, quarter)})
		i = k
	}
	return w
}

// opens returns the open slots with which the hop may start, and sets w.lo.
func (w *walk) opens(p *Prefix) []int32 {
	if p.by.n == 0 {
		return nil
	}
	w.l.mu.Lock()
	defer w.l.mu.Unlock()
	horizon := w.e.horizon
	if p.within {
		horizon = w.e.slots
	}
	w.lo = w.l.from(p.by.first, horizon)
	hi := w.l.from(p.by.first+p.by.n-1, horizon)
	open := w.l.open[:min(hi+1, len(w.l.open))]
	for len(open) > 0 && int(open[len(open)-1]) >= horizon {
		open = open[:len(open)-1]
	}
	if w.lo >= len(open) {
		return nil
	}
	return open[w.lo:]
}

// place moves every chance of the prefix to the first open slot there is.
func (w *walk) place(p *Prefix, open []int32) {
	at := 0
	for i := range p.by.n {
		for at < w.n && int(open[at]) < p.by.first+i {
			at++
		}
		for j := range w.idle {
			v := p.by.of[j*p.by.n+i]
			if at < w.n {
				w.of[j*w.n+at] += v
			} else {
				w.idle[j] += v
			}
		}
	}
}

// arrive returns the slots at whose end the walk is over, later by so many, when
// it takes the open slots that times tells for a hop.
func (w *walk) arrive(later int, times func(*hop, *Evaluator) *spans) arrivals {
	nodes := len(w.idle)
	a := arrivals{beyond: make([]float64, nodes)}
	lo, hi := -1, 0
	for _, part := range w.parts {
		if s := times(part.h, w.e); s.n > 0 {
			if first := part.from + s.first - 1; lo < 0 || first < lo {
				lo = first
			}
			hi = max(hi, part.to-1+s.first-1+s.n)
		}
	}
	if lo < 0 {
		return a
	}
	n := hi - lo
	by := make([]float64, nodes*n)
	for _, part := range w.parts {
		if s := times(part.h, w.e); s.n > 0 {
			for j := range nodes {
				starts := w.of[j*w.n+part.from : j*w.n+part.to]
				addConvolved(by[j*n+part.from+s.first-1-lo:(j+1)*n], starts, s.node(j))
			}
		}
	}
	w.spread(&a, by, w.lo+lo, n, later)
	return a
}

// spread sets a from chances by open slot, from index first on.
func (w *walk) spread(a *arrivals, by []float64, first, n, later int) {
	w.l.mu.Lock()
	open := w.l.upTo(first+n, w.e.horizon)
	w.l.mu.Unlock()
	inside := min(max(len(open)-first, 0), n)
	if inside > 0 {
		open = open[first : first+inside]
		a.first = int(open[0]) + later
		a.n = int(open[inside-1]) + later - a.first + 1
	}
	if inside == n && a.n == n {
		a.of = by
		return
	}
	a.of = make([]float64, len(a.beyond)*a.n)
	for j := range a.beyond {
		row := by[j*n : (j+1)*n]
		for i, slot := range open[:inside] {
			a.of[j*a.n+int(slot)+later-a.first] = row[i]
		}
		for _, v := range row[inside:] {
			a.beyond[j] += v
		}
	}
}

// fails returns the chances that a sender has given up by the end of the walk.
func (w *walk) fails(p *Prefix) []float64 {
	fail := append([]float64(nil), p.fail...)
	for _, part := range w.parts {
		of := part.h.begin(w.e).figures[figureFail]
		for j := range fail {
			fail[j] += w.begun(part, j) * of[j]
		}
	}
	return fail
}

// begun is the chance that the hop starts in the part.
func (w *walk) begun(p part, node int) (sum float64) {
	for _, v := range w.of[node*w.n+p.from : node*w.n+p.to] {
		sum += v
	}
	return sum
}

// keyed returns the mean frames keyed by the end of the walk.
func (w *walk) keyed(p *Prefix, last bool) []float64 {
	nodes, n := len(w.idle), p.stations+1
	sent := make([]float64, nodes*n)
	for j := range nodes {
		copy(sent[j*n:], p.sent[j*p.stations:(j+1)*p.stations])
	}
	for _, part := range w.parts {
		f := &part.h.begin(w.e).figures
		if last {
			part.h.ending(w.e)
		}
		for j := range nodes {
			m := w.begun(part, j)
			sender, receiver := f[figureSent][j], f[figureAnswers][j]
			if last {
				sender += f[figureAfter][j]
				receiver += f[figureHeard][j]
			}
			sent[j*n+n-2] += m * sender
			sent[j*n+n-1] += m * receiver
		}
	}
	return sent
}

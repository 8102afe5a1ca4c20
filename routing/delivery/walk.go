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
	if int(open[0]) == p.by.first && int(open[w.n-1]) == p.by.first+p.by.n-1 && w.n == p.by.n {
		w.of = p.by.of // neither changes once made
	} else {
		w.of = make([]float64, len(w.idle)*w.n)
		w.place(p, open)
	}
	w.divide(open)
	return w
}

// leastPart is the chance below which a quarter of an hour of starts takes the
// state of the link from the quarter before, or else after.
const leastPart = 1e-10

// divide sets the parts.
func (w *walk) divide(open []int32) {
	var light []int
	for i := 0; i < w.n; {
		quarter := w.e.Quarter(int(open[i]))
		k := i + 1
		for k < w.n && w.e.Quarter(int(open[k])) == quarter {
			k++
		}
		p := part{from: i, to: k}
		if w.most(p) >= leastPart || k == w.n && len(light) == len(w.parts) {
			p.h = w.e.hop(w.l, quarter)
		} else {
			light = append(light, len(w.parts))
		}
		w.parts = append(w.parts, p)
		i = k
	}
	for _, i := range light {
		if i > 0 && w.parts[i-1].h != nil {
			w.parts[i].h = w.parts[i-1].h
		}
	}
	for i := len(w.parts) - 2; i >= 0; i-- {
		if w.parts[i].h == nil {
			w.parts[i].h = w.parts[i+1].h
		}
	}
}

// most is the largest chance, over the nodes, that the hop starts in the part.
func (w *walk) most(p part) (most float64) {
	for j := range w.idle {
		most = max(most, w.begun(p, j))
	}
	return most
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

// after returns the open slots, by their number on the leg's count, at whose end
// the walk is over when it takes as many as times tells for a hop.
func (w *walk) after(times func(*hop, *Evaluator) *spans) spans {
	nodes := len(w.idle)
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
		return spans{}
	}
	by := spans{first: w.lo + lo, n: hi - lo, of: make([]float64, nodes*(hi-lo))}
	for _, part := range w.parts {
		if s := times(part.h, w.e); s.n > 0 {
			for j := range nodes {
				starts := w.of[j*w.n+part.from : j*w.n+part.to]
				addConvolved(by.node(j)[part.from+s.first-1-lo:], starts, s.node(j))
			}
		}
	}
	return by
}

// arrive turns open slots by number into slots of the plan, later by so many.
func (w *walk) arrive(by spans, later int) arrivals {
	a := arrivals{beyond: make([]float64, len(w.idle))}
	w.l.mu.Lock()
	open := w.l.upTo(by.first+by.n, w.e.horizon)
	w.l.mu.Unlock()
	inside := min(max(len(open)-by.first, 0), by.n)
	if inside > 0 {
		open = open[by.first : by.first+inside]
		a.first = int(open[0]) + later
		a.n = int(open[inside-1]) + later - a.first + 1
	}
	if inside == by.n && a.n == by.n {
		a.of = by.of
		return a
	}
	a.of = make([]float64, len(a.beyond)*a.n)
	for j := range a.beyond {
		row := by.node(j)
		for i, slot := range open[:inside] {
			a.of[j*a.n+int(slot)+later-a.first] = row[i]
		}
		for _, v := range row[inside:] {
			a.beyond[j] += v
		}
	}
	return a
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

package delivery

import "sort"

// walk is one hop taken from a prefix, on the leg's own count of open slots.
type walk struct {
	e     *Evaluator
	l     *leg
	lo    int       // index of the first open slot that starts[…][0] is for
	n     int       // starts a node
	of    []float64 // [node][open slot − lo]: chance that the hop starts with it
	idle  []float64 // by node: chance that it finds no open slot at all
	parts []part

	within bool // see Prefix.Within
	open   int  // open slots by the deadline, if within
}

// part is a run of starts in one quarter of an hour, so with one state of the link.
type part struct {
	from, to int // starts
	h        *hop
}

// walk maps a prefix onto the open slots of a leg: the hop starts with the first
// open slot, which also decides on the state of its link.
func (e *Evaluator) walk(p *Prefix, id LegID) *walk {
	w := &walk{e: e, l: e.leg(id), idle: append([]float64(nil), p.by.beyond...), within: p.within}
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
		w.open = w.l.from(horizon, horizon)
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

// desk is room for what a walk works out on the way to its result.
type desk struct{ after, arrive []float64 }

func (e *Evaluator) desk() *desk { return e.desks.Get().(*desk) }

// after returns the open slots, by their number on the leg's count, at whose end
// the walk is over when it takes as many as times tells for a hop, at least so many.
// They end with a tail of zeros and are good until the next call with the same desk.
func (w *walk) after(d *desk, times func(*hop, *Evaluator) *spans, tail, least int) spans {
	nodes := len(w.idle)
	if w.within { // starts too late to end in time aren't worked out
		for len(w.parts) > 0 && w.lo+w.parts[len(w.parts)-1].from+least > w.open {
			w.parts = w.parts[:len(w.parts)-1]
		}
	}
	lo, hi := -1, 0
	for _, part := range w.parts {
		if s := times(part.h, w.e); s.n > 0 {
			if first := part.from + s.first - 1; lo < 0 || first < lo {
				lo = first
			}
			hi = max(hi, part.to-1+s.first-1+s.n)
		}
	}
	if w.within {
		hi = min(hi, w.open-w.lo)
	}
	if lo < 0 || hi <= lo {
		return spans{}
	}
	n := hi - lo
	d.after = sized(d.after, nodes*(n+tail))
	by := spans{first: w.lo + lo, n: n + tail, of: d.after}
	for _, part := range w.parts {
		s := times(part.h, w.e)
		if s.n == 0 {
			continue
		}
		for j := range nodes {
			first, starts := trim(part.from+s.first-1-lo, w.of[j*w.n+part.from:j*w.n+part.to])
			if row := by.node(j)[:n]; len(starts) > 0 && first < n {
				skip, of := trim(0, s.node(j))
				addConvolved(row[min(first+skip, n):], starts, of)
			}
		}
	}
	return by
}

// arrive turns open slots by number into slots of the plan, later by so many, on
// the desk if there is one. What is too small to matter at either end is dropped.
func (w *walk) arrive(by spans, later int, d *desk) arrivals {
	a := arrivals{beyond: make([]float64, len(w.idle))}
	if by.n == 0 {
		return a
	}
	lo, hi := by.bulk()
	w.l.mu.Lock()
	open := w.l.upTo(by.first+hi, w.e.horizon)
	w.l.mu.Unlock()
	if w.within {
		open = open[:sort.Search(len(open), func(i int) bool { return int(open[i])+later >= w.e.slots })]
	}
	inside := min(max(len(open)-by.first, lo), hi)
	if lo < inside {
		open = open[by.first+lo : by.first+inside]
		a.first = int(open[0]) + later
		a.n = int(open[len(open)-1]) + later - a.first + 1
	}
	a.of = d.room(len(a.beyond) * a.n)
	for j := range a.beyond {
		row, to := by.node(j), a.node(j)
		if a.n == inside-lo {
			copy(to, row[lo:inside])
		} else {
			for i, slot := range open {
				to[int(slot)+later-a.first] = row[lo+i]
			}
		}
		if !w.within {
			for _, v := range row[inside:hi] {
				a.beyond[j] += v
			}
		}
	}
	return a
}

// room is n zeros, on the desk if there is one.
func (d *desk) room(n int) []float64 {
	if d == nil {
		return make([]float64, n)
	}
	d.arrive = sized(d.arrive, n)
	return d.arrive
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

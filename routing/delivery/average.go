package delivery

import (
	"math"
	"sync"
)

// average integrates over the hop's own deviate, for each node of the net-wide
// one. It returns the times of a kind, in usable slots, and sets the figures that
// belong to it: those of a last hop for kindRead, none for kindLost, otherwise the
// others.
func (e *Evaluator) average(d pair, k kind, figures *[figureCount][]float64) spans {
	w := e.room.Get().(*averager)
	defer e.room.Put(w)
	return w.average(e, d, k, figures).packed()
}

// opened is average in open slots.
func (e *Evaluator) opened(d pair, k kind, figures *[figureCount][]float64) spans {
	w := e.room.Get().(*averager)
	defer e.room.Put(w)
	return e.busy.spread(&w.spread, w.average(e, d, k, figures)).packed()
}

// average returns times in the averager's own room. Those of long messages are worked
// out by two, each for every other node of the net-wide deviate.
func (w *averager) average(e *Evaluator, d pair, k kind, figures *[figureCount][]float64) spans {
	w.begin(e, k)
	if !e.direct && w.nodes > 1 && e.grid.points().near {
		o := e.room.Get().(*averager)
		defer e.room.Put(o)
		o.begin(e, k)
		var other sync.WaitGroup
		other.Go(func() { o.every(d, 1, 2) })
		w.every(d, 0, 2)
		other.Wait()
		w.join(o, 1, 2)
	} else {
		w.every(d, 0, 1)
	}
	return w.take(figures)
}

// join takes over every so many nodes, from one on, from another averager.
func (w *averager) join(o *averager, from, stride int) {
	if o.out.n > w.out.n {
		w.lengthen(o.out.n)
	}
	for j := from; j < w.nodes; j += stride {
		copy(w.out.of[j*w.out.n:], o.out.of[j*o.out.n:(j+1)*o.out.n])
		for f := w.from; f < w.to; f++ {
			w.figures[f][j] = o.figures[f][j]
		}
	}
}

// every averages for every so many nodes of the net-wide deviate, from one on.
func (w *averager) every(d pair, from, stride int) {
	e := w.e
	for j := from; j < w.nodes; j += stride {
		eta := e.rule.nodes[j]
		f, r := lineOf(d.forward, eta), lineOf(d.reverse, eta)
		step := e.blocks.spacing(f, r)
		switch level := e.grid.level(step * f.slope); {
		case e.direct || !f.varies() && !r.varies() || f.varies() && level < 0:
			w.own(j, f, r, step)
		case !f.varies():
			w.still(j, f, r, step)
		default:
			w.shared(j, f, r, level)
		}
	}
}

// averager is the working room for one average.
type averager struct {
	e       *Evaluator
	kind    kind
	nodes   int
	from    int // first figure wanted
	to      int
	figures [figureCount][]float64
	out     spans // of is [node][slot − first]
	spread  []float64
	weights []float64
	term    []float64
	bench   bench
}

func (w *averager) begin(e *Evaluator, k kind) {
	w.e, w.kind, w.nodes = e, k, len(e.rule.nodes)
	switch k {
	case kindRead:
		w.from, w.to = figureAfter, figureCount
	case kindLost:
		w.from, w.to = 0, 0
	default:
		w.from, w.to = 0, figureAfter
	}
	for f := w.from; f < w.to; f++ {
		w.figures[f] = sized(w.figures[f], w.nodes)
	}
	clear(w.out.of)
	w.out.first = 1
	if k != kindLost {
		w.out.first = e.blocks.shortest()
	}
}

// widen makes room for n entries a node.
func (w *averager) widen(n int) {
	if n > w.out.n {
		w.lengthen(max(n, 2*w.out.n))
	}
}

// lengthen makes it n entries a node, more than there are.
func (w *averager) lengthen(n int) {
	wide := make([]float64, w.nodes*n)
	for j := range w.nodes {
		copy(wide[j*n:], w.out.of[j*w.out.n:(j+1)*w.out.n])
	}
	w.out.n, w.out.of = n, wide
}

// entries returns n entries of node j from slot first on.
func (w *averager) entries(j, first, n int) []float64 {
	w.widen(first + n - w.out.first)
	return w.out.of[j*w.out.n+first-w.out.first:][:n]
}

// own averages on nodes of its own.
func (w *averager) own(j int, f, r line, step float64) {
	rule := deviates{[]float64{0}, []float64{1}}
	if f.varies() || r.varies() {
		rule = equallySpaced(step, ruleReach)
	}
	b := &w.e.blocks
	for i, zeta := range rule.nodes {
		p, miss := f.hit(zeta)
		b.set(&w.bench, p, miss, w.kind)
		first, of := b.answer(&w.bench, r.read(zeta, b.pr.Ack), w.kind)
		all := w.bench.now.figures()
		for k := w.from; k < w.to; k++ {
			w.figures[k][j] += rule.weights[i] * all[k]
		}
		if len(of) > 0 {
			addScaled(w.entries(j, first, len(of)), rule.weights[i], of)
		}
	}
}

// still averages where the forward chance does not vary.
func (w *averager) still(j int, f, r line, step float64) {
	p, _ := f.hit(0)
	c, nd := w.e.grid.points(), w.e.grid.given(&w.bench, p)
	rule := equallySpaced(step, ruleReach)
	w.term = sized(w.term, len(c.points))
	w.weights = sized(w.weights, len(w.term))
	for i, zeta := range rule.nodes {
		c.weigh(w.term, r.read(zeta, w.e.blocks.pr.Ack))
		addScaled(w.weights, rule.weights[i], w.term)
	}
	w.add(j, nd, w.weights)
}

// shared averages on the common grid.
func (w *averager) shared(j int, f, r line, level int) {
	g := w.e.grid
	stride := finest >> level
	h := g.step / float64(int(1)<<level)
	k0 := int(math.Ceil((f.at - ruleReach*f.slope) / h))
	k1 := int(math.Floor((f.at + ruleReach*f.slope) / h))
	low, high := -floorDiv(-g.lo, stride)-1, floorDiv(g.hi, stride)+1 // beyond the nodes
	lo, hi := min(max(k0, low), high), max(min(k1, high), low)
	w.term = sized(w.term, len(g.points().points))
	width, total := len(w.term), 0.0
	w.weights = sized(w.weights, (hi-lo+1)*width)
	g.points().weigh(w.term, r.read(0, g.b.pr.Ack))
	plain := w.kind == kindDone || w.kind == kindNone
	bell := newBell(f, h, k0)
	for k := k0; k <= k1; k++ {
		weight := bell.next()
		total += weight
		at := w.weights[(min(max(k, lo), hi)-lo)*width:][:width]
		if plain && (k <= low || k >= high) && g.at(&w.bench, k*stride).plain {
			at[0] += weight
			continue
		}
		if r.varies() {
			g.points().weigh(w.term, r.read((float64(k)*h-f.at)/f.slope, g.b.pr.Ack))
		}
		addScaled(at, weight, w.term)
	}
	for k := lo; k <= hi; k++ {
		at := w.weights[(k-lo)*width:][:width]
		for m := range at {
			at[m] /= total
		}
		w.add(j, g.at(&w.bench, k*stride), at)
	}
}

// bell is the normal density, but for a factor, at equally spaced points, by two
// products each.
type bell struct{ value, ratio, bend float64 }

// newBell starts at u = k·h on the line.
func newBell(l line, h float64, k int) bell {
	x, dx := (float64(k)*h-l.at)/l.slope, h/l.slope
	return bell{math.Exp(-x * x / 2), math.Exp(-dx * (x + dx/2)), math.Exp(-dx * dx)}
}

func (b *bell) next() float64 {
	v := b.value
	b.value *= b.ratio
	b.ratio *= b.bend
	return v
}

// add adds a node with the given weights of its points or Chebyshev terms.
func (w *averager) add(j int, nd *node, weights []float64) {
	from, to := 0, len(weights)
	for to > 0 && weights[to-1] == 0 {
		to--
	}
	for from < to && weights[from] == 0 {
		from++
	}
	for k := w.from; k < w.to; k++ {
		of := nd.figures[k]
		for m := from; m < min(to, len(of)); m++ {
			w.figures[k][j] += weights[m] * of[m]
		}
	}
	of := nd.times(&w.e.blocks, w.e.grid.points(), &w.bench, w.kind)
	if to = min(to, of.count); of.n == 0 || from >= to {
		return
	}
	if lo, hi := of.bulk(from, to); lo < hi {
		of.addTo(w.entries(j, of.first+lo, hi-lo), weights, from, to, lo)
	}
}

// take hands out the sums. The times are good until the next call of begin.
func (w *averager) take(figures *[figureCount][]float64) spans {
	for k := w.from; k < w.to; k++ {
		figures[k] = append([]float64(nil), w.figures[k]...)
	}
	for j := range w.nodes {
		if w.out.n > 0 {
			positive(w.out.node(j))
		}
	}
	return w.out.shrink()
}

// positive takes away what rounding left less than nothing, and keeps the sum.
func positive(of []float64) {
	less, sum := 0.0, 0.0
	for i, v := range of {
		if v < 0 {
			less += v
			of[i] = 0
		} else {
			sum += v
		}
	}
	if less > -leastLess || sum+less <= 0 {
		return
	}
	for i := range of {
		of[i] *= (sum + less) / sum
	}
}

// leastLess is what may be taken away without notice.
const leastLess = 1e-12

// floorDiv is a/b rounded down, b > 0.
func floorDiv(a, b int) int {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

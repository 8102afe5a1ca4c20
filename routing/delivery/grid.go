package delivery

import (
	"math"
	"sync"
	"sync/atomic"

	"farhop/mesh/link"
)

// grid holds nodes at equally spaced values of u, p = Φ(u). The spacing follows
// from how sharply the outcome turns with p, so that nearly every hop, quarter
// and net-wide deviate can be averaged on the same nodes, whatever its mean and
// deviation: only the weights differ.
type grid struct {
	b      *blocks
	step   float64                // at level 0; each level halves it
	lo, hi int                    // nodes in steps of the finest level
	nodes  []atomic.Pointer[node] // from lo − 1 to hi + 1
	begin  sync.Once
	cheb   chebyshev
	making [8]sync.Mutex     // of nodes, by number
	mu     sync.Mutex        // for the next
	still  map[float64]*node // by p, of links whose chance is given
}

const (
	gridLevels = 3
	mostGiven  = 100 // nodes kept of links whose chance is given
	finest     = 1 << (gridLevels - 1)
	gridLow    = -4.8 // below this a frame is taken never to decode
	gridHigh   = 1e-8 // with fewer frames missed on average, a frame is taken never to be missed
	ruleReach  = 4.7  // nodes are within ± so many deviations
	ruleScale  = 1.35 // see spacing
	ruleWidest = 0.95 // in deviations
	readBlur   = 0.55 // the same as blur for the chance of an answering frame, for one block
)

// newGrid prepares the grid of a message; all tables are worked out when needed.
func newGrid(b *blocks) *grid {
	g := &grid{b: b, still: map[float64]*node{}}
	g.step = ruleScale / math.Sqrt(1+square(1/b.blur()))
	fine := g.step / finest
	high := 5.0
	for float64(b.pr.Frames)*link.Phi(-high) > gridHigh {
		high += 0.1
	}
	g.lo, g.hi = int(math.Floor(gridLow/fine)), int(math.Ceil(high/fine))
	g.nodes = make([]atomic.Pointer[node], g.hi-g.lo+3)
	return g
}

// points returns the points in q of the grid's nodes.
func (g *grid) points() *chebyshev {
	g.begin.Do(func() { g.cheb = newChebyshev(g.b.degree(), g.b.full > 0) })
	return &g.cheb
}

// blur is how far u has to move to turn an outcome: the chance to be there by a
// certain slot rises with u about like Φ(u/blur).
func (b *blocks) blur() float64 { return 1.08 / math.Sqrt(float64(b.pr.Frames)+3.5) }

// spacing returns how far apart nodes in ζ may be. The trapezoidal rule errs by
// about exp(−2π²s²/h²) where s is the deviation of the sharper of the outcome
// and the normal density, both taken together.
func (b *blocks) spacing(f, r line) float64 {
	sharp := max(f.slope/b.blur(), r.slope*math.Sqrt(float64(b.full+1))/readBlur)
	return min(ruleWidest, ruleScale/math.Sqrt(1+square(sharp)))
}

// level returns the level whose steps are at most the given one, or −1.
func (g *grid) level(step float64) int {
	for l := range gridLevels {
		if g.step/float64(int(1)<<l) <= step*(1+1e-9) {
			return l
		}
	}
	return -1
}

// at returns the node at so many steps of the finest level, worked out on the bench
// where it isn't known; beyond either end the frame decodes never or always.
func (g *grid) at(w *bench, i int) *node {
	i = min(max(i, g.lo-1), g.hi+1)
	slot := &g.nodes[i-g.lo+1]
	if n := slot.Load(); n != nil {
		return n
	}
	making := &g.making[(i-g.lo+1)%len(g.making)]
	making.Lock()
	defer making.Unlock()
	if n := slot.Load(); n != nil {
		return n
	}
	u := float64(i) * g.step / finest
	p, miss := link.Phi(u), link.Phi(-u)
	switch {
	case i < g.lo:
		p, miss = 0, 1
	case i > g.hi:
		p, miss = 1, 0
	}
	n := g.b.node(w, g.points(), p, miss)
	slot.Store(n)
	return n
}

// given returns the node of a link whose decode chance is given.
func (g *grid) given(w *bench, p float64) *node {
	g.mu.Lock()
	defer g.mu.Unlock()
	n := g.still[p]
	if n == nil {
		n = g.b.node(w, g.points(), p, 1-p)
		if len(g.still) < mostGiven {
			g.still[p] = n
		}
	}
	return n
}

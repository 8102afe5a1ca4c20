package delivery

import (
	"math"
	"sync"
)

// node is what a hop does at one decode chance p = 1 − miss, for every chance q
// that an acknowledgment is read: each figure and each entry of a distribution
// is a polynomial in q, held as its Chebyshev coefficients over 0…1.
type node struct {
	p, miss float64
	figures [figureCount][]float64
	done    rows // when the receiver has the message
	plain   bool // figures below figureAfter and done don't depend on q
	reads   sync.Once
	read    rows // when the sender has read so
	loses   sync.Once
	lost    rows // when the sender gives up
}

// kind is which times of a hop are wanted.
type kind uint8

const (
	kindDone kind = iota // until the receiver has the message
	kindRead             // until the sender has read so
	kindLost             // until the sender gives up
	kindNone             // none, only the figures
)

// The figures of a hop besides its times.
const (
	figureFail    = iota // chance that the rounds end before the receiver has it
	figureSent           // mean frames of the sender until then
	figureAnswers        // mean acknowledgments until then
	figureAfter          // mean polls a last hop adds
	figureHeard          // mean acknowledgments a last hop adds
	figureCount
)

// rows are the coefficients of a distribution: count rows of n, each entry for
// one more slot, from first. Where they are values, each row holds no more than what
// matters of it.
type rows struct {
	first, n, count int
	of              []float64
	bare            []bare // of each row; nil if all are full
}

// bare is the part of a row that matters: entries from…to−1, which begin at a place
// of rows.of.
type bare struct{ from, to, at int }

// bulk is where some of the rows have something that matters.
func (r *rows) bulk(from, to int) (lo, hi int) {
	if r.bare == nil {
		return 0, r.n
	}
	lo = r.n
	for _, e := range r.bare[from:to] {
		if e.from < e.to {
			lo, hi = min(lo, e.from), max(hi, e.to)
		}
	}
	return lo, hi
}

// addTo adds the rows from…to−1 with their weights to dst, whose first entry is that at
// lo.
func (r *rows) addTo(dst, weights []float64, from, to, lo int) {
	if r.bare == nil {
		addRows(dst, weights[from:to], r.of[from*r.n+lo:], r.n)
		return
	}
	for m := from; m < to; m++ {
		if e := r.bare[m]; weights[m] != 0 && e.from < e.to {
			addScaled(dst[e.from-lo:], weights[m], r.of[e.at:][:e.to-e.from])
		}
	}
}

// Coefficients below these are dropped.
const (
	leastFigure = 1e-14
	leastRow    = 1e-13
)

// degree is that of the polynomials. It is at most the number of rounds of all
// blocks together; for many rounds the coefficients vanish earlier, so that less
// serves to 1e-11. Where no acknowledgment has frames q is always 1.
func (b *blocks) degree() int {
	if b.pr.Ack == 0 {
		return 0
	}
	full := b.pr.Rounds * (b.full + 1)
	return min(full, 2+int(math.Ceil(4.7*math.Sqrt(float64(full)))))
}

// highDegree is from which degree on, with several blocks, figures are read off the
// points near the chance wanted, which are then closer together, instead of from
// all coefficients. That errs by less than 1e-9 in any figure.
const highDegree = 24

// chebyshev holds the points of a rule and the matrix from values to coefficients,
// or none if values are kept.
type chebyshev struct {
	points []float64 // q
	matrix []float64 // [coefficient][point]
	near   bool
}

func newChebyshev(degree int, several bool) chebyshev {
	n := degree + 1
	if n == 1 {
		return chebyshev{points: []float64{1}, matrix: []float64{1}}
	}
	near := several && degree >= highDegree
	if near {
		n += n * 3 / 4
	}
	c := chebyshev{points: make([]float64, n), near: near}
	for j := range n {
		c.points[j] = (1 + math.Cos(c.angle(j))) / 2
	}
	if c.near {
		return c
	}
	c.matrix = make([]float64, n*n)
	for j := range n {
		angle := c.angle(j)
		for m := range n {
			v := 2 / float64(n) * math.Cos(float64(m)*angle)
			if m == 0 {
				v = 1 / float64(n)
			}
			c.matrix[m*n+j] = v
		}
	}
	return c
}

// angle is that of a point, (1 + cos)/2.
func (c *chebyshev) angle(j int) float64 {
	return math.Pi * (float64(j) + 0.5) / float64(len(c.points))
}

// stencil is how many points are read off around a chance.
const stencil = 16

// weigh fills t with what the figures of the points, or the coefficients, are to be
// multiplied by for their value at q.
func (c *chebyshev) weigh(t []float64, q float64) {
	if !c.near {
		terms(t, q)
		return
	}
	// The polynomial through the nearest points, equally spaced as angles. Figures
	// are even about either end.
	clear(t)
	n := len(c.points)
	at := math.Acos(min(max(2*q-1, -1), 1))/math.Pi*float64(n) - 0.5
	first := int(math.Floor(at)) - stencil/2 + 1
	at -= float64(first)
	all := 1.0
	for i := range stencil {
		d := at - float64(i)
		if d == 0 {
			t[even(first+i, n)] = 1
			return
		}
		all *= d
	}
	for i := range stencil {
		t[even(first+i, n)] += all * barycentric[i] / (at - float64(i))
	}
}

// even is the point that stands for one beyond either end.
func even(j, n int) int {
	switch {
	case j < 0:
		return -1 - j
	case j >= n:
		return 2*n - 1 - j
	}
	return j
}

// barycentric are the products of 1/(i − k) over the other points.
var barycentric = func() (w [stencil]float64) {
	for i := range w {
		w[i] = 1
		for k := range w {
			if k != i {
				w[i] /= float64(i - k)
			}
		}
	}
	return w
}()

// terms fills t with the Chebyshev polynomials at q.
func terms(t []float64, q float64) {
	x := 2*q - 1
	a, b := 1.0, x
	for m := range t {
		t[m] = a
		a, b = b, 2*x*b-a
	}
}

// node works a node out, point by point.
func (b *blocks) node(w *bench, c *chebyshev, p, miss float64) *node {
	n := len(c.points)
	figures := make([]float64, figureCount*n)
	nd := &node{p: p, miss: miss, plain: true}
	nd.done = b.rows(w, c, nd, kindDone, func(j int) {
		for f, v := range w.now.figures() {
			figures[f*n+j] = v
		}
	})
	if c.near {
		for f := range nd.figures {
			nd.figures[f] = figures[f*n : (f+1)*n]
		}
		nd.plain = false
		return nd
	}
	room := make([]float64, figureCount*n)
	for f := range nd.figures {
		coef := room[f*n : (f+1)*n]
		for m := range coef {
			for j := range n {
				coef[m] += c.matrix[m*n+j] * figures[f*n+j]
			}
		}
		for len(coef) > 1 && math.Abs(coef[len(coef)-1]) < leastFigure {
			coef = coef[:len(coef)-1]
		}
		nd.figures[f] = coef
		nd.plain = nd.plain && (f >= figureAfter || len(coef) == 1)
	}
	nd.plain = nd.plain && nd.done.count <= 1
	return nd
}

// times returns the node's rows of a kind, worked out when first asked for.
func (nd *node) times(b *blocks, c *chebyshev, w *bench, k kind) *rows {
	switch k {
	case kindDone:
		return &nd.done
	case kindRead:
		nd.reads.Do(func() { nd.read = b.rows(w, c, nd, k, nil) })
		return &nd.read
	case kindLost:
		nd.loses.Do(func() { nd.lost = b.rows(w, c, nd, k, nil) })
		return &nd.lost
	}
	return &rows{}
}

// rows turns the times of a kind, taken at every point, into coefficients. also,
// if not nil, is called at each point.
func (b *blocks) rows(w *bench, c *chebyshev, nd *node, k kind, also func(j int)) (r rows) {
	n, last := len(c.points), 0
	r.first = math.MaxInt
	b.set(w, nd.p, nd.miss, k)
	for len(w.points) < n {
		w.points = append(w.points, times{})
	}
	for j, q := range c.points {
		t := &w.points[j]
		first, of := b.answer(w, q, k)
		t.first, t.of = first, append(t.of[:0], of...)
		if len(of) > 0 {
			r.first, last = min(r.first, first), max(last, first+len(of))
		}
		if also != nil {
			also(j)
		}
	}
	if last == 0 {
		return rows{}
	}
	width := last - r.first
	if c.near {
		return valuesOf(w.points[:n], r.first, width)
	}
	w.rows = sized(w.rows, n*width)
	for m := range n {
		row := w.rows[m*width : (m+1)*width]
		for j, t := range w.points[:n] {
			if len(t.of) > 0 {
				addScaled(row[t.first-r.first:], c.matrix[m*n+j], t.of)
			}
		}
	}
	return rows{first: r.first, n: width, count: n, of: w.rows}.trim()
}

// valuesOf are rows of values from first on, n long.
func valuesOf(points []times, first, n int) rows {
	r := rows{first: first, n: n, count: len(points), bare: make([]bare, len(points))}
	size := 0
	for m, t := range points {
		from, of := trim(t.first-first, t.of)
		r.bare[m] = bare{from, from + len(of), size}
		size += len(of)
	}
	r.of = make([]float64, 0, size)
	for m, t := range points {
		from := r.bare[m].from - (t.first - first)
		r.of = append(r.of, t.of[from:][:r.bare[m].to-r.bare[m].from]...)
	}
	return r
}

// trim drops the last rows, then the entries at either end that are too small.
func (r rows) trim() rows {
	size := func(m int) (sum float64) {
		for _, v := range r.of[m*r.n : (m+1)*r.n] {
			sum += math.Abs(v)
		}
		return sum
	}
	for r.count > 0 && size(r.count-1) < leastRow {
		r.count--
	}
	high := func(i int) (top float64) {
		for m := range r.count {
			top = max(top, math.Abs(r.of[m*r.n+i]))
		}
		return top
	}
	lo, hi := 0, r.n
	for hi > 0 && high(hi-1) < leastShare {
		hi--
	}
	for lo < hi && high(lo) < leastShare {
		lo++
	}
	t := rows{first: r.first + lo, n: hi - lo, count: r.count, of: make([]float64, 0, r.count*(hi-lo))}
	for m := range r.count {
		t.of = append(t.of, r.of[m*r.n+lo:m*r.n+hi]...)
	}
	return t
}

// figures lists the outcome's figures.
func (o *outcome) figures() [figureCount]float64 {
	return [...]float64{o.fail, o.sent, o.answers, o.after, o.after * o.p}
}

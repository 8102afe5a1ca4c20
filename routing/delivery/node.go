package delivery

import "math"

// node is what a hop does at one decode chance p, for every chance q that an
// acknowledgment is read: each figure and each entry of a distribution is a
// polynomial in q, held as its Chebyshev coefficients over 0…1.
type node struct {
	figures [figureCount][]float64
	done    rows // when the receiver has the message
	read    rows // when the sender has read so
	plain   bool // nothing but what a last hop adds depends on q
}

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
// one more slot, from first.
type rows struct {
	first, n, count int
	of              []float64
}

// Coefficients below these are dropped.
const (
	leastFigure = 1e-14
	leastRow    = 1e-13
)

// degree is that of the polynomials. A block's is at most its number of rounds;
// several blocks together need less than their sum.
func (b *blocks) degree() int {
	full := b.pr.Rounds * (b.full + 1)
	if b.full == 0 {
		return full
	}
	return min(full, 12+int(math.Ceil(float64(b.pr.Rounds)*math.Sqrt(float64(2*b.full+2)))))
}

// chebyshev holds the points of a rule and the matrix from values to coefficients.
type chebyshev struct {
	points []float64 // q
	matrix []float64 // [coefficient][point]
}

func newChebyshev(degree int) chebyshev {
	n := degree + 1
	c := chebyshev{make([]float64, n), make([]float64, n*n)}
	for j := range n {
		angle := math.Pi * (float64(j) + 0.5) / float64(n)
		c.points[j] = (1 + math.Cos(angle)) / 2
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
	done, read := make([]times, n), make([]times, n)
	figures := make([]float64, figureCount*n)
	b.set(w, p, miss)
	for j, q := range c.points {
		o := b.answer(w, q)
		done[j] = times{o.first, append([]float64(nil), o.has...)}
		read[j] = times{o.first, append([]float64(nil), o.read...)}
		for f, v := range o.figures() {
			figures[f*n+j] = v
		}
	}
	nd := &node{}
	nd.plain = true
	for f := range nd.figures {
		coef := make([]float64, n)
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
	nd.done, nd.read = c.rows(done), c.rows(read)
	nd.plain = nd.plain && nd.done.count <= 1
	return nd
}

// rows turns values at the points into coefficients.
func (c *chebyshev) rows(at []times) (r rows) {
	last := 0
	r.first = math.MaxInt
	for _, t := range at {
		if len(t.of) > 0 {
			r.first, last = min(r.first, t.first), max(last, t.first+len(t.of))
		}
	}
	if last == 0 {
		return rows{}
	}
	n, width := len(c.points), last-r.first
	of := make([]float64, n*width)
	for m := range n {
		row := of[m*width : (m+1)*width]
		for j, t := range at {
			if len(t.of) > 0 {
				addScaled(row[t.first-r.first:], c.matrix[m*n+j], t.of)
			}
		}
	}
	return rows{r.first, width, n, of}.trim()
}

// trim drops the rows, then the entries at either end, that are too small.
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
	t := rows{r.first + lo, hi - lo, r.count, make([]float64, 0, r.count*(hi-lo))}
	for m := range r.count {
		t.of = append(t.of, r.of[m*r.n+lo:m*r.n+hi]...)
	}
	return t
}

// figures lists the outcome's figures.
func (o *outcome) figures() [figureCount]float64 {
	return [...]float64{o.fail, o.sent, o.answers, o.after, o.after * o.p}
}

package routing

// bucketsPerTable is how many steps a table divides the time to its deadline
// into.
const bucketsPerTable = 32

// bound is an upper bound on the chance that a message that may leave a station
// from a slot on reaches the destination by the end of a slot:
//
//	V(j, v, t) = max over hops v → w of Σ P(hop done at s | started at t) · V(j−1, w, s)
//
// for each node of the net-wide deviate. It lets every station choose anew for
// every time and every node, and lets walks come back to where they were, so no
// chain does better. Times are taken in buckets of slots: a value is the largest
// of its bucket.
type bound struct {
	scene  *scene
	to     int
	begin  int        // the first slot that a search starts from
	slots  int        // arrivals count in slots before this one
	width  int        // slots a bucket
	count  int        // buckets
	nodes  int        // of the net-wide deviate
	levels int        // most hops
	blind  int        // a last hop without answer may be sent so many times
	value  [][]ahead  // V by level and station
	via    [][]*ahead // the same by level and first hop, nil for hops left out

	id      int64     // among the tables of the scene
	edges   []int     // first slots of the buckets, and the end
	chances []float64 // scratch: see per
	coarse  []float64 // scratch: see fold
	between []float64
}

// ahead is V for one level and station or first hop.
type ahead struct {
	of   []float64 // by node and bucket
	next []float64 // the larger of a bucket and the next
}

// newBound computes the bound for a destination: searches that start from slot
// begin on, arrivals in slots before slots, in at most so many hops. keep says
// which hops are not left out.
func newBound(s *scene, to, begin, slots, levels, blind int, keep func(hop int) bool) *bound {
	b := &bound{scene: s, to: to, begin: begin, slots: slots, levels: levels, blind: blind, nodes: len(s.eval.Weights())}
	b.width = max(1, (slots-begin+bucketsPerTable-1)/bucketsPerTable)
	b.count = max(0, (slots-begin+b.width-1)/b.width)
	b.id = s.tables.Add(1)
	for k := range b.count {
		b.edges = append(b.edges, b.start(k))
	}
	b.edges = append(b.edges, slots)
	b.value = make([][]ahead, levels+1)
	b.via = make([][]*ahead, levels+1)
	b.value[0] = make([]ahead, len(s.net.Stations))
	for j := 1; j <= levels; j++ {
		if j > 1 && s.least(j) > slots-begin {
			b.value[j], b.via[j] = b.value[j-1], b.via[j-1] // so many hops take longer
			continue
		}
		b.level(j, keep)
	}
	return b
}

// start is the first slot of a bucket.
func (b *bound) start(bucket int) int { return b.begin + bucket*b.width }

// level fills V(j, ·, ·) from V(j−1, ·, ·).
func (b *bound) level(j int, keep func(hop int) bool) {
	s := b.scene
	b.value[j] = make([]ahead, len(s.net.Stations))
	b.via[j] = make([]*ahead, len(s.hops))
	for v := range b.value[j] {
		if v == b.to {
			continue
		}
		a := &b.value[j][v]
		for _, i := range s.out[v] {
			h := &s.hops[i]
			switch {
			case h.to == b.to && j > 1:
				b.via[j][i] = b.via[1][i]
			case !keep(i) || h.to != b.to && b.value[j-1][h.to].of == nil:
			default:
				b.via[j][i] = &ahead{of: b.through(i, j)}
			}
			if via := b.via[j][i]; via != nil {
				a.raise(via.of)
			}
		}
		a.pair(b.count)
	}
}

// raise takes the larger, element by element.
func (a *ahead) raise(by []float64) {
	if a.of == nil {
		a.of = append([]float64(nil), by...)
		return
	}
	for i, x := range by {
		a.of[i] = max(a.of[i], x)
	}
}

// pair fills in next.
func (a *ahead) pair(count int) {
	a.next = make([]float64, len(a.of))
	for i, x := range a.of {
		if a.next[i] = x; (i+1)%count != 0 {
			a.next[i] = max(x, a.of[i+1])
		}
	}
}

// through is the bound by way of one hop with j hops left.
func (b *bound) through(hop, j int) []float64 {
	h := &b.scene.hops[hop]
	row := make([]float64, b.nodes*b.count)
	for k := 0; k < b.count; {
		first := b.start(k)
		if h.tally.before(first) == h.tally.before(b.slots) {
			break // no open slot is left
		}
		from, upto := b.quarters(h, k)
		n := k + 1
		for from == upto && n < b.count {
			if f, u := b.quarters(h, n); f != from || u != from {
				break
			}
			n++
		}
		for q := from; q <= upto; q++ {
			if h.to == b.to {
				b.last(h, q, k, n, row)
			} else {
				b.onward(h, q, k, n, &b.value[j-1][h.to], row)
			}
		}
		k = n
	}
	return row
}

// quarters is the first and the last quarter in which a hop can start that may
// do so in a bucket. A hop in one state knows only one.
func (b *bound) quarters(h *hop, bucket int) (from, upto int) {
	t := h.tally
	r := t.before(b.start(bucket))
	if r == t.before(b.slots) {
		return -1, -1
	}
	if h.steady() {
		return 0, 0
	}
	from = b.scene.eval.Quarter(int(t.slots[r]))
	if r = t.before(min(b.start(bucket+1), b.slots) - 1); r < t.before(b.slots) {
		return from, b.scene.eval.Quarter(int(t.slots[r]))
	}
	return from, from
}

// last raises buckets by the chance that the last hop, begun in them, is done in
// time.
func (b *bound) last(h *hop, quarter, from, upto int, row []float64) {
	for n := range b.nodes {
		first, pmf := b.scene.eval.Times(h.leg, quarter, n, false)
		sum, at := 0.0, 0
		for k := upto - 1; k >= from; k-- {
			room := min(int(h.tally.before(b.slots)-h.tally.before(b.start(k)))-first+1, len(pmf))
			for ; at < room; at++ {
				sum += pmf[at]
			}
			best := sum
			if h.unheard() && b.blind > 0 {
				best = 1
			}
			row[n*b.count+k] = max(row[n*b.count+k], best)
		}
	}
}

// onward raises buckets by Σ P(hop done at s) · V(s) for a hop begun in them, each
// V the largest that any slot of the bucket could meet.
func (b *bound) onward(h *hop, quarter, from, upto int, value *ahead, row []float64) {
	for n := range b.nodes {
		first, pmf := b.scene.eval.Times(h.leg, quarter, n, true)
		if len(pmf) == 0 {
			continue
		}
		b.fold(first, pmf)
		of, next := value.of[n*b.count:(n+1)*b.count], value.next[n*b.count:(n+1)*b.count]
		for k := from; k < upto; k++ {
			best := 0.0
			if b.open(h.tally, k, first+len(pmf)) {
				best = dot(b.coarse, of[k:]) + dot(b.between, next[k:])
			} else {
				best = b.gaps(h.tally, k, first, pmf, of)
			}
			row[n*b.count+k] = max(row[n*b.count+k], best)
		}
	}
}

// fold sums chances of first, first + 1, … slots by buckets: coarse where a whole
// bucket of starts ends in one bucket, between where it ends in one or the next.
func (b *bound) fold(first int, pmf []float64) {
	n := (first+len(pmf))/b.width + 1
	b.coarse, b.between = zeroed(b.coarse, n), zeroed(b.between, n)
	for i, p := range pmf {
		if m := first + i; m%b.width == 0 {
			b.coarse[m/b.width] += p
		} else {
			b.between[m/b.width] += p
		}
	}
}

// zeroed is a slice of n zeros, in the room of s where it fits.
func zeroed(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	s = s[:n]
	clear(s)
	return s
}

// dot is the product of as much as both have.
func dot(a, b []float64) float64 {
	n := min(len(a), len(b))
	a, b = a[:n], b[:n]
	sum := 0.0
	for i, x := range a {
		sum += x * b[i]
	}
	return sum
}

// open reports whether every slot is open that a hop begun in a bucket meets in
// so many slots, as far as the bound looks.
func (b *bound) open(t *tally, bucket, slots int) bool {
	from := b.start(bucket)
	upto := min(from+b.width+slots, b.slots)
	return int(t.before(upto)-t.before(from)) == upto-from
}

// gaps is onward for one bucket where some slots are closed.
func (b *bound) gaps(t *tally, bucket, first int, pmf, value []float64) float64 {
	from := b.start(bucket)
	upto := min(from+b.width, b.slots) - 1
	lo, hi := int(t.before(from))+first-1, int(t.before(upto))+first-1 // ordinals of the open slots that end the hop
	end := int(t.before(b.slots))
	sum := 0.0
	for i := 0; i < len(pmf) && lo+i < end; {
		k := (int(t.slots[lo+i]) + 1 - b.begin) / b.width
		if k >= b.count {
			break
		}
		// The run of counts over which both ends stay in their buckets.
		run := int(t.before(b.start(k+1)-1)) - lo - i
		m := b.count
		if hi+i < end {
			m = (int(t.slots[hi+i]) + 1 - b.begin) / b.width
			run = min(run, int(t.before(b.start(m+1)-1))-hi-i)
		}
		best := value[k]
		for x := k + 1; x <= m && x < b.count; x++ {
			best = max(best, value[x])
		}
		mass := 0.0
		for _, p := range pmf[i:min(i+run, len(pmf))] {
			mass += p
		}
		sum += mass * best
		i += run
	}
	return sum
}

// per is the bound by node of the deviate for a stem's mass. It holds until the
// next call.
func (b *bound) per(mass []float64, value *ahead) []float64 {
	b.chances = zeroed(b.chances, b.nodes)
	chance := b.chances
	if value == nil || value.of == nil {
		return chance
	}
	for n := range chance {
		chance[n] = dot(mass[n*b.count:(n+1)*b.count], value.of[n*b.count:(n+1)*b.count])
	}
	return chance
}

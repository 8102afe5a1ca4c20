package delivery

// ways is a table of chances by z, k and S − n (see histories), with what is
// needed to fill it by playing the rounds.
type ways struct {
	rounds, sums int
	known        bool
	by           [][][]float64 // [z][k], nil where nothing falls
	partly       [][][]float64 // the same for rounds k in which some frames decode, nil unless wanted
	nothing      [][][]float64 // the same for rounds k in which none does
	fate         binomial
	now, next    []layer // by z
}

// layer holds the chances of being about to fill, by frames sent and missing.
type layer struct {
	lo, n, width int       // frames sent: lo … lo+n−1; missing: 1 … width−1
	mass         []float64 // [sent − lo][missing]
}

func newWays(rounds, sums int, known bool) *ways {
	depth := (rounds-1)/2 + 1
	if known {
		depth = 1
	}
	w := &ways{rounds: rounds, sums: sums, known: known}
	w.by = make([][][]float64, depth)
	for z := range w.by {
		w.by[z] = make([][]float64, rounds-z+1)
	}
	w.now, w.next = make([]layer, depth), make([]layer, depth)
	return w
}

func (w *ways) get(z, k, i int) float64 {
	if row := w.by[z][k]; row != nil {
		return row[i]
	}
	return 0
}

func (w *ways) put(z, k, i int, v float64) {
	if w.by[z][k] == nil {
		if v == 0 {
			return
		}
		w.by[z][k] = make([]float64, w.sums)
	}
	w.by[z][k][i] = v
}

func (w *ways) total(i int) (sum float64) {
	for _, row := range w.by {
		for _, of := range row {
			if of != nil {
				sum += of[i]
			}
		}
	}
	return sum
}

// play fills the table for rounds drawn frame by frame in proportion to τ^t:
// the chance to decode in fill round i = 0…R−1 is then 1/(1 + τ + … + τ^(R−1−i)).
func (w *ways) play(frames int, tau float64) {
	hit := make([]float64, w.rounds)
	sum := 0.0
	for i := w.rounds - 1; i >= 0; i-- {
		sum = 1 + tau*sum
		hit[i] = 1 / sum
	}
	w.playWith(frames, hit)
}

// playWith fills the table for the given decode chances by fill round.
func (w *ways) playWith(frames int, hit []float64) {
	for _, row := range w.by {
		for _, of := range row {
			clear(of)
		}
	}
	for z := range w.now {
		w.now[z].n = 0
	}
	w.now[0].shape(0, 0, frames)
	w.now[0].mass[frames] = 1
	for i := range w.rounds {
		w.fate.set(frames, hit[i], 1-hit[i])
		w.fill(i, frames)
		w.now, w.next = w.next, w.now
	}
}

// shape makes the layer empty and able to hold sums lo…hi and up to most missing.
func (l *layer) shape(lo, hi, most int) {
	l.lo, l.n, l.width = lo, hi-lo+1, most+1
	if size := l.n * l.width; cap(l.mass) < size {
		l.mass = make([]float64, size)
	} else {
		l.mass = l.mass[:size]
		clear(l.mass)
	}
}

// fill plays fill round i (from 0) from every state of w.now into w.next.
func (w *ways) fill(i, frames int) {
	w.makeRoom(i)
	for z := range w.now {
		from := &w.now[z]
		for s := range from.n {
			row := from.mass[s*from.width:][:from.width]
			for o, m := range row {
				if m > leastState {
					w.send(i, z, from.lo+s+o, o, m, frames)
				}
			}
		}
	}
}

// send distributes one state: o frames missing, sum frames sent once these are.
func (w *ways) send(i, z, sum, o int, m float64, frames int) {
	lo, row := w.fate.lo[o], w.fate.rows[o]
	if w.partly != nil {
		all, none := w.fate.at(o, 0), w.fate.at(o, o)
		w.partly[z][i+1][sum-frames] += m * max(0, 1-all-none)
		w.nothing[z][i+1][sum-frames] += m * none
	}
	if lo == 0 {
		if w.by[z][i+1] == nil {
			w.by[z][i+1] = make([]float64, w.sums)
		}
		w.by[z][i+1][sum-frames] += m * row[0]
		lo, row = 1, row[1:]
	}
	if n := len(row); n > 0 && lo+n-1 == o { // nothing decodes
		none := m * row[n-1]
		row = row[:n-1]
		to := &w.next[0]
		if !w.known && z+1 < len(w.next) {
			to = &w.next[z+1]
		}
		if (w.known || z+1 < len(w.next)) && to.n > 0 && o < to.width {
			to.mass[(sum-to.lo)*to.width+o] += none
		}
	}
	if to := &w.next[z]; to.n > 0 && len(row) > 0 {
		addScaled(to.mass[(sum-to.lo)*to.width+lo:][:len(row)], m, row)
	}
}

// makeRoom shapes the layers that fill round i leads to. Layers from which the
// block can't get through within the rounds stay empty: a further fill round
// and a poll for each empty one must fit.
func (w *ways) makeRoom(i int) {
	type span struct{ lo, hi, most int }
	spans := make([]span, len(w.now))
	for z := range w.now {
		from, s := &w.now[z], span{lo: -1}
		for k := range from.n {
			for o, m := range from.mass[k*from.width:][:from.width] {
				if m <= leastState {
					continue
				}
				sum := from.lo + k + o
				if s.lo < 0 || sum < s.lo {
					s.lo = sum
				}
				s.hi, s.most = max(s.hi, sum), max(s.most, o)
			}
		}
		spans[z] = s
	}
	for z := range w.next {
		s := spans[z]
		if !w.known {
			s.most--
		}
		if !w.known && z > 0 && spans[z-1].lo >= 0 {
			b := spans[z-1]
			for b.most > 0 && w.fate.at(b.most, b.most) < leastState {
				b.most--
			}
			if s.lo < 0 {
				s = b
			} else if b.most > 0 {
				s = span{min(s.lo, b.lo), max(s.hi, b.hi), max(s.most, b.most)}
			}
		}
		w.next[z].n = 0
		if s.lo >= 0 && s.most > 0 && (w.known && i+2 <= w.rounds || i+2+z <= w.rounds) {
			w.next[z].shape(s.lo, s.hi, s.most)
		}
	}
}

package delivery

// giveUps works out when the rounds of a block end without success: without its
// being there, or, where it must be acknowledged, without that being read. The
// passage must have its failures set. See outcome.lost.
func (o *outcome) giveUps(pr *Protocol, known bool, frames int, s *passage, q float64, acknowledged bool) {
	most := 0
	for i := range s.steps {
		st := &s.steps[i]
		rest := pr.Rounds - 1 - st.before
		if n := len(st.partlyBy); n > 0 {
			most = max(most, st.failLo+n+rest)
		}
		if n := len(st.through); n > 0 {
			most = max(most, st.lo+n+rest)
		}
	}
	o.lost = sized(o.lost, most)
	visit := (*outcome).lose
	if acknowledged {
		visit = (*outcome).loseUnread
	}
	o.play(pr, known, frames, s, q, false, visit)
}

// lose adds the tries that end after the fill round of a step: whatever polls
// there were, they have sent its S frames and one in every other round.
func (o *outcome) lose(pr *Protocol, st *step, q float64, known bool) {
	partly, nothing := 0.0, 0.0
	for polls := 0; polls < pr.Rounds-st.before; polls++ {
		left := pr.Rounds - st.before - 1 - polls
		switch {
		case left == 0:
			partly += o.poll[polls]
			nothing += o.poll[polls]
		case !known:
			partly += o.poll[polls] * (1 - q) * o.unread[left-1]
			nothing += o.poll[polls] * o.unread[left-1]
		}
	}
	if n := len(st.partlyBy); n > 0 {
		dst := o.lost[st.failLo+pr.Rounds-1-st.before:]
		addScaled(dst, partly, st.partlyBy)
		addScaled(dst, nothing, st.nothingBy)
	}
}

// loseUnread adds to that the tries in which the block gets through unread.
func (o *outcome) loseUnread(pr *Protocol, st *step, q float64, known bool) {
	o.lose(pr, st, q, known)
	if len(st.through) == 0 {
		return
	}
	unread := 0.0
	for polls := 0; polls < pr.Rounds-st.before; polls++ {
		left := pr.Rounds - st.before - 1 - polls
		unread += o.poll[polls] * (1 - q) * o.unread[left]
	}
	addScaled(o.lost[st.lo+pr.Rounds-1-st.before:], unread, st.through)
}

// setFailures adds to the passage how many frames were sent by the end of each
// step in which something was still missing. Unlike the rest that has no
// shortcut: the rounds are played for this p, O(steps × sums × frames × width).
func (s *passage) setFailures(h *histories, known bool) {
	w := s.failures
	if w == nil || w.rounds != h.rounds || w.sums != h.frames*(h.rounds-1)+1 || w.known != known {
		w = newWays(h.rounds, h.frames*(h.rounds-1)+1, known)
		w.partly, w.nothing = w.blank(), w.blank()
		s.failures = w
	}
	for z := range w.partly {
		for k := range w.partly[z] {
			clear(w.partly[z][k])
			clear(w.nothing[z][k])
		}
	}
	hit := make([]float64, h.rounds)
	for i := range hit {
		hit[i] = s.p
	}
	w.playWith(h.frames, hit)
	for i := range s.steps {
		st := &s.steps[i]
		k := st.before + 1
		partly, nothing := w.partly[st.empty][k], w.nothing[st.empty][k]
		lo, hi := w.sums, 0
		for x := range w.sums {
			if partly[x]+nothing[x] > leastShare {
				lo, hi = min(lo, x), x+1
			}
		}
		if lo < hi {
			st.failLo, st.partlyBy, st.nothingBy = lo, partly[lo:hi], nothing[lo:hi]
		}
	}
}

// blank is a table like w.by with all rows there.
func (w *ways) blank() [][][]float64 {
	t := make([][][]float64, len(w.by))
	for z := range t {
		t[z] = make([][]float64, len(w.by[z]))
		for k := range t[z] {
			t[z][k] = make([]float64, w.sums)
		}
	}
	return t
}

// giveUp works out when the sender of the whole hop gives up.
func (b *blocks) giveUp(w *bench, each *passage, q float64) (first int, of []float64) {
	w.lastDone.giveUps(b.pr, b.known, b.last.frames, &w.last, q, false)
	if b.full == 0 {
		return b.last.frames + b.gap()*b.pr.Rounds, w.lastDone.lost
	}
	w.eachDone.giveUps(b.pr, b.known, b.each.frames, each, q, true)
	if b.full >= manyBlocks && len(w.eachDone.read) > 0 {
		return b.giveUpMany(w)
	}
	return b.giveUpFew(w)
}

// giveUpFew is giveUp for several blocks, given what becomes of a full one and of the
// last.
func (b *blocks) giveUpFew(w *bench) (first int, of []float64) {
	end := b.gap() * b.pr.Rounds
	// From the last block back: it is given up, or read and the next one begun.
	lost, spare := append(w.total.lost[:0], w.lastDone.lost...), w.spare
	first = b.last.frames + end
	for range b.full {
		spare = convolve(spare, w.eachDone.read, lost)
		first += w.eachDone.first + b.gap()
		first, spare = trim(first, spare)
		if own := b.each.frames + end; own < first || len(spare) == 0 {
			lost = addAt(append(lost[:0], w.eachDone.lost...), max(first-own, 0), 1, spare)
			first = own
		} else {
			lost = addAt(append(lost[:0], spare...), own-first, 1, w.eachDone.lost)
		}
	}
	w.total.lost, w.spare = lost, spare[:0]
	return first, lost
}

// addAt adds a·x to dst from index at on, making dst longer where needed.
func addAt(dst []float64, at int, a float64, x []float64) []float64 {
	for len(dst) < at+len(x) {
		dst = append(dst, 0)
	}
	addScaled(dst[at:], a, x)
	return dst
}

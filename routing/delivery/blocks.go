package delivery

// blocks is a message cut into blocks: so many full ones that must be
// acknowledged, and the last one.
type blocks struct {
	pr    *Protocol
	known bool // in tests: the sender always knows what is missing
	full  int  // blocks before the last
	each  *histories
	last  *histories
}

func newBlocks(pr *Protocol, known bool) blocks {
	b := blocks{pr: pr, known: known}
	last := pr.Frames
	if pr.Block > 0 && pr.Block < pr.Frames {
		b.full = (pr.Frames - 1) / pr.Block
		last -= b.full * pr.Block
		b.each = newHistories(pr.Block, pr.Rounds, known)
	}
	if b.each != nil && last == pr.Block {
		b.last = b.each
	} else {
		b.last = newHistories(last, pr.Rounds, known)
	}
	return b
}

// gap is the usable slots that pass after the frames of a round.
func (b *blocks) gap() int { return 2*b.pr.Turnaround + b.pr.Ack }

// shortest is the usable slots until the receiver has the message, at best.
func (b *blocks) shortest() int {
	n := b.last.frames
	if b.full > 0 {
		n += b.full * (b.each.frames + b.gap())
	}
	return n
}

// bench is the working room for one computation.
type bench struct {
	each, last         passage
	eachDone, lastDone outcome
	total              outcome
	now                *outcome // of the whole hop, after answer
	power              [3][]float64
	spare              []float64
	points             []times
	rows               []float64
	spectrum           spectrum
}

// set prepares the bench for the decode chance p = 1 − miss.
func (b *blocks) set(w *bench, p, miss float64, k kind) {
	w.last.set(b.last, p, miss, b.known)
	if k == kindLost {
		w.last.setFailures(b.last, b.known)
	}
	if b.full > 0 && b.each != b.last {
		w.each.set(b.each, p, miss, b.known)
		if k == kindLost {
			w.each.setFailures(b.each, b.known)
		}
	}
}

// answer works out the whole hop at the chance q that an acknowledgment is
// read, and returns the times of a kind: entry i is the chance of first + i
// usable slots. They are good until the next call.
func (b *blocks) answer(w *bench, q float64, k kind) (first int, of []float64) {
	reads := k == kindRead
	w.lastDone.exchange(b.pr, b.known, b.last.frames, &w.last, q, reads)
	w.now = &w.lastDone
	each := &w.each
	if b.each == b.last {
		each = &w.last
	}
	if b.full > 0 {
		w.eachDone.exchange(b.pr, b.known, b.each.frames, each, q, true)
		w.now = b.join(w, reads)
	}
	switch k {
	case kindDone:
		return w.now.first, w.now.has
	case kindRead:
		return w.now.first + b.pr.Turnaround + b.pr.Ack, w.now.read
	case kindLost:
		return b.giveUp(w, each, q)
	}
	return 0, nil
}

// join puts the blocks one after the other.
func (b *blocks) join(w *bench, reads bool) *outcome {
	e, l, t := &w.eachDone, &w.lastDone, &w.total
	passed, begun, number := 0.0, 1.0, 0.0
	for _, v := range e.read {
		passed += v
	}
	for range b.full {
		number += begun // mean number of full blocks begun
		begun *= passed
	}
	t.p = l.p
	t.fail = 1 - begun*(1-l.fail)
	t.sent = number*(e.sent+e.after) + begun*l.sent
	t.answers = number*(e.answers+e.p*e.after) + begun*l.answers
	t.after = begun * l.after
	if begun < leastShare {
		t.first, t.has, t.read = b.shortest(), t.has[:0], t.read[:0]
		return t
	}
	first, all := w.raise(e.first+b.gap(), e.read, b.full)
	t.first = first + l.first
	t.has = convolve(t.has, all, l.has)
	if reads {
		t.read = convolve(t.read, all, l.read)
	}
	return t
}

// raise returns the distribution of the sum of n times, by repeated squaring.
func (w *bench) raise(first int, of []float64, n int) (int, []float64) {
	at, sum := 0, append(w.power[0][:0], 1)
	first, square := trim(first, append(w.power[1][:0], of...))
	spare := w.power[2]
	for {
		if n&1 != 0 {
			spare = convolve(spare, sum, square)
			at += first
			sum, spare = spare, sum
			at, sum = trim(at, sum)
		}
		if n >>= 1; n == 0 {
			break
		}
		spare = convolve(spare, square, square)
		first *= 2
		square, spare = spare, square
		first, square = trim(first, square)
	}
	w.power = [3][]float64{sum, square, spare}
	return at, sum
}

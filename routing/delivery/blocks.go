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

// shortest is the usable slots from the first to the one in which the receiver
// has the message, at best.
func (b *blocks) shortest() int {
	n := b.last.frames
	if b.full > 0 {
		n += b.full * (b.each.frames + 2*b.pr.Turnaround + b.pr.Ack)
	}
	return n
}

// bench is the working room for one computation.
type bench struct {
	each, last         passage
	eachDone, lastDone outcome
	total              outcome
	one, two           []float64
}

// at works out the whole hop at one decode chance p = 1 − miss and one chance q
// that an acknowledgment is read. The outcome is good until the next call.
func (b *blocks) at(w *bench, p, miss, q float64) *outcome {
	w.last.set(b.last, p, miss, b.known)
	w.lastDone.exchange(b.pr, b.known, b.last.frames, &w.last, q)
	if b.full == 0 {
		return &w.lastDone
	}
	each := &w.last
	if b.each != b.last {
		each = &w.each
		each.set(b.each, p, miss, b.known)
	}
	w.eachDone.exchange(b.pr, b.known, b.each.frames, each, q)
	return b.join(w)
}

// join puts the blocks one after the other.
func (b *blocks) join(w *bench) *outcome {
	e, l, t := &w.eachDone, &w.lastDone, &w.total
	gap := 2*b.pr.Turnaround + b.pr.Ack // until the next block
	passed := 0.0
	for _, v := range e.read {
		passed += v
	}
	w.one = append(w.one[:0], 1)
	first, begun := 0, 1.0 // begun: chance that a block is begun at all
	t.fail, t.sent, t.answers = 0, 0, 0
	for range b.full {
		t.sent += begun * (e.sent + e.after)
		t.answers += begun * (e.answers + e.p*e.after)
		begun *= passed
		w.two = convolve(w.two, w.one, e.read)
		first += e.first + gap
		w.one, w.two = w.two, w.one
		first, w.one = trim(first, w.one)
	}
	t.p, t.first = l.p, first+l.first
	t.fail = 1 - begun*(1-l.fail)
	t.sent += begun * l.sent
	t.answers += begun * l.answers
	t.after = begun * l.after
	t.has = convolve(t.has, w.one, l.has)
	t.read = convolve(t.read, w.one, l.read)
	return t
}

// convolve puts the convolution of a and b into the room of dst.
func convolve(dst, a, b []float64) []float64 {
	if len(a) == 0 || len(b) == 0 {
		return dst[:0]
	}
	dst = sized(dst, len(a)+len(b)-1)
	for i, v := range a {
		if v != 0 {
			addScaled(dst[i:i+len(b)], v, b)
		}
	}
	return dst
}

// trim cuts what is too small to matter from both ends of pmf.
func trim(first int, pmf []float64) (int, []float64) {
	lo, hi := 0, len(pmf)
	for hi > 0 && pmf[hi-1] < leastShare {
		hi--
	}
	for lo < hi && pmf[lo] < leastShare {
		lo++
	}
	return first + lo, pmf[lo:hi]
}

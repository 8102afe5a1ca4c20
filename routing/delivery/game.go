package delivery

// game plays the exchange of one hop forward, round by round, at one decode
// chance p and one chance q that an acknowledgment is read.
type game struct {
	pr       *Protocol
	p, q     float64
	gap      int // usable slots after the frames of a round
	acts     acts
	decodes  binomial // of frames missed
	from, to stage
	least    float64 // chance below which a state is dropped
}

// stage is where a block may stand at the beginning of a round.
type stage struct {
	fills [][]float64 // [usable slot][frames the sender knows to be missing]
	polls [][]float64 // [usable slot][frames missing, 0 too]
}

// Chances below which a state of a game is dropped: of a short and a long message.
const (
	leastShort = 1e-7
	leastLong  = 1e-5
)

func newGame(pr *Protocol, p, q float64) *game {
	g := &game{pr: pr, p: p, q: q, gap: 2*pr.Turnaround + pr.Ack, least: leastShort}
	if pr.Frames >= longMessage {
		g.least = leastLong
	}
	return g
}

// play plays all blocks.
func (g *game) play(last bool) {
	begins, left := []float64{1}, g.pr.Frames
	block := g.pr.Block
	if block <= 0 {
		block = left
	}
	g.decodes.set(min(block, left), g.p, 1-g.p)
	for ; left > block; left -= block {
		begins = g.each(begins, block, true, true)
	}
	g.each(begins, left, false, last)
}

// each plays one block, which may begin at any of the usable slots, and returns
// when the next may. On a block that must be acknowledged, and on the last of a
// last hop, the sender polls on until it has read.
func (g *game) each(begins []float64, frames int, more, polling bool) (next []float64) {
	one := &game{pr: g.pr, p: g.p, q: g.q, gap: g.gap, decodes: g.decodes, least: g.least}
	ends := one.block(frames, polling)
	for at, chance := range begins {
		if chance < g.least {
			continue
		}
		g.acts.shifted(at, chance, &one.acts)
		if !more {
			continue
		}
		next = long(next, at+len(ends))
		addScaled(next[at:], chance, ends)
	}
	return next
}

// shifted adds acts that begin at a usable slot.
func (a *acts) shifted(at int, chance float64, b *acts) {
	a.sends, a.polls, a.answers = long(a.sends, at+len(b.sends)), long(a.polls, at+len(b.polls)), long(a.answers, at+len(b.answers))
	addScaled(a.sends[at:], chance, b.sends)
	addScaled(a.polls[at:], chance, b.polls)
	addScaled(a.answers[at:], chance, b.answers)
}

// long is s with n entries at least.
func long(s []float64, n int) []float64 {
	if n > len(s) {
		s = append(s, make([]float64, n-len(s))...)
	}
	return s
}

// block plays one block from usable slot 0. It returns when it is over with the
// sender knowing so.
func (g *game) block(frames int, polling bool) (ends []float64) {
	g.from = stage{}
	put(&g.from.fills, 0, frames, frames, 1)
	for range g.pr.Rounds {
		g.to = stage{}
		for at, row := range g.from.fills {
			for missing, chance := range row {
				if chance >= g.least {
					ends = g.fill(ends, at, missing, frames, chance, polling)
				}
			}
		}
		for at, row := range g.from.polls {
			for missing, chance := range row {
				if chance >= g.least {
					ends = g.poll(ends, at, missing, frames, chance)
				}
			}
		}
		g.from = g.to
	}
	return ends
}

// fill plays a round that sends what is known to be missing.
func (g *game) fill(ends []float64, at, missing, frames int, chance float64, polling bool) []float64 {
	g.acts.sends = long(g.acts.sends, at+missing)
	for i := range missing {
		g.acts.sends[at+i] += chance
	}
	none := g.decodes.at(missing, missing)
	g.answer(at+missing, chance*(1-none))
	end := at + missing + g.gap
	put(&g.to.polls, end, missing, frames, chance*none)
	for still := range missing {
		v := chance * g.decodes.at(missing, still)
		switch {
		case v == 0:
		case still == 0:
			ends = long(ends, end+1)
			ends[end] += v * g.q
			if polling {
				put(&g.to.polls, end, 0, frames, v*(1-g.q))
			}
		default:
			put(&g.to.fills, end, still, frames, v*g.q)
			put(&g.to.polls, end, still, frames, v*(1-g.q))
		}
	}
	return ends
}

// poll plays a round that asks for the acknowledgment.
func (g *game) poll(ends []float64, at, missing, frames int, chance float64) []float64 {
	g.acts.polls = long(g.acts.polls, at+1)
	g.acts.polls[at] += chance
	g.answer(at+1, chance*g.p)
	end := at + 1 + g.gap
	read := chance * g.p * g.q
	put(&g.to.polls, end, missing, frames, chance-read)
	if missing > 0 {
		put(&g.to.fills, end, missing, frames, read)
		return ends
	}
	ends = long(ends, end+1)
	ends[end] += read
	return ends
}

// answer keys an acknowledgment after the frames of a round.
func (g *game) answer(end int, chance float64) {
	from := end + g.pr.Turnaround
	g.acts.answers = long(g.acts.answers, from+g.pr.Ack)
	for i := range g.pr.Ack {
		g.acts.answers[from+i] += chance
	}
}

// put adds a chance to rows of so many frames.
func put(rows *[][]float64, at, missing, frames int, chance float64) {
	if chance == 0 {
		return
	}
	for len(*rows) <= at {
		*rows = append(*rows, nil)
	}
	if (*rows)[at] == nil {
		(*rows)[at] = make([]float64, frames+1)
	}
	(*rows)[at][missing] += chance
}

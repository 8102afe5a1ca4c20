package delivery

// outcome is what becomes of one block in its exchange at one pair of chances.
// Times count usable slots from the first of the block.
type outcome struct {
	first    int       // has[0] is for this many slots
	has      []float64 // chance that the receiver has the block at the end of the slot
	read     []float64 // read[i]: first + i + G + A slots: the sender has read that all is there, at the end of the slot
	fail     float64   // chance that the rounds end before the receiver has it
	sent     float64   // mean frames of the sender until the receiver has it, or the rounds end
	answers  float64   // mean acknowledgments of the receiver until then, that round's included
	after    float64   // mean polls from then on until an acknowledgment is read, or the rounds end
	p        float64
	lost     []float64 // lost[i]: chance that the rounds end without success, frames + K·R + i slots after the first
	span     int       // slots that has holds
	stride   int       // that of byRound
	byRound  []float64 // chance to have it, by rounds used and slots − first, or by slots alone
	sum      []float64 // backs has
	poll     []float64 // scratch: see exchange
	pollZ    []float64
	unread   []float64 // (1−r)^m
	expected []float64 // mean polls in up to m rounds
}

// exchange works out the outcome of a block at the passage's decode chance p
// and the chance q that an acknowledgment is read when it is sent; read only if
// it is wanted.
//
// Fill rounds that were neither empty nor read at once, and empty ones, are
// followed by polls, each of which succeeds with chance r = p·q. The polls
// before a step number G with chance [y^G] (q + (1−q)g)^(before−empty) g^empty,
// g = Σ r(1−r)^(m−1) y^m, and the step is reached if it begins within the rounds.
func (o *outcome) exchange(pr *Protocol, known bool, frames int, s *passage, q float64, reads bool) {
	o.play(pr, known, frames, s, q, reads, (*outcome).step)
	o.collect(pr, q, s.p*q, reads)
}

// play visits the steps with the polls before each in o.poll.
func (o *outcome) play(pr *Protocol, known bool, frames int, s *passage, q float64, reads bool, visit func(*outcome, *Protocol, *step, float64, bool)) {
	r := s.p * q
	o.prepare(pr, frames, s, r, reads)
	z, done := 0, 0 // what o.poll stands for: z empty rounds, done others
	for i := range s.steps {
		st := &s.steps[i]
		for ; z < st.empty; z++ {
			pollsOnce(o.pollZ, r)
			copy(o.poll, o.pollZ)
			done = 0
		}
		for ; done < st.before-st.empty && !known; done++ {
			pollsPerhaps(o.poll, r, q)
		}
		visit(o, pr, st, q, known)
	}
}

// pollsOnce multiplies the polynomial in place by g.
func pollsOnce(f []float64, r float64) {
	carry, h := 0.0, 0.0
	for i := range f {
		h = (1-r)*h + r*carry
		carry, f[i] = f[i], h
	}
}

// pollsPerhaps multiplies the polynomial in place by q + (1−q)g.
func pollsPerhaps(f []float64, r, q float64) {
	carry, h := 0.0, 0.0
	for i := range f {
		h = (1-r)*h + r*carry
		carry = f[i]
		f[i] = q*carry + (1-q)*h
	}
}

func (o *outcome) prepare(pr *Protocol, frames int, s *passage, r float64, reads bool) {
	rounds, k := pr.Rounds, 2*pr.Turnaround+pr.Ack
	o.first, o.p, o.span = frames, s.p, 0
	o.fail, o.sent, o.answers, o.after = 0, 0, 0, 0
	for i := range s.steps {
		st := &s.steps[i]
		if n := len(st.through); n > 0 {
			o.span = max(o.span, st.lo+n+k*st.before+(k+1)*(rounds-1-st.before))
		}
	}
	o.stride = 0
	if reads {
		o.stride = o.span
	}
	o.byRound = sized(o.byRound, rounds*o.stride+o.span)
	o.poll, o.pollZ = sized(o.poll, rounds), sized(o.pollZ, rounds)
	o.poll[0], o.pollZ[0] = 1, 1
	o.unread, o.expected = sized(o.unread, rounds+1), sized(o.expected, rounds+1)
	o.unread[0] = 1
	for m := 1; m <= rounds; m++ {
		o.unread[m] = o.unread[m-1] * (1 - r)
		o.expected[m] = o.expected[m-1] + o.unread[m-1]
	}
}

// step adds one fill round, reached with the polls in o.poll.
func (o *outcome) step(pr *Protocol, st *step, q float64, known bool) {
	k, begun := 2*pr.Turnaround+pr.Ack, 0.0
	for polls := 0; polls < pr.Rounds-st.before; polls++ {
		chance := o.poll[polls]
		if chance < leastShare {
			continue
		}
		begun += chance
		used := st.before + 1 + polls
		left := pr.Rounds - used
		if len(st.through) > 0 {
			at := used*o.stride + st.lo + k*st.before + (k+1)*polls
			addScaled(o.byRound[at:at+len(st.through)], chance, st.through)
			o.after += chance * st.all * (1 - q) * o.expected[left]
		}
		if known {
			if left == 0 {
				o.fail += chance * (st.partly + st.nothing)
			}
			continue
		}
		polled := chance * (st.partly*(1-q) + st.nothing)
		o.sent += polled * o.expected[left]
		o.answers += polled * o.expected[left] * o.p
		if left == 0 {
			o.fail += chance * (st.partly + st.nothing)
		} else {
			o.fail += polled * o.unread[left-1]
		}
	}
	o.sent += begun * st.missing
	o.answers += begun * (st.mass - st.nothing)
}

// collect adds up the rounds, and lets the sender poll on until it has read.
func (o *outcome) collect(pr *Protocol, q, r float64, reads bool) {
	if !reads {
		o.has, o.read = o.byRound, o.read[:0]
		return
	}
	rounds, k := pr.Rounds, 2*pr.Turnaround+pr.Ack
	o.sum, o.read = sized(o.sum, o.span), sized(o.read, o.span+(k+1)*rounds)
	for used := 1; used <= rounds; used++ {
		addScaled(o.sum, 1, o.byRound[used*o.span:][:o.span])
		// That now is the chance to have it within `used` rounds, which leaves
		// room for a poll in round used+1 … rounds, so for poll number left at most.
		if left := rounds - used; left > 0 {
			at := k + (k+1)*(left-1) + 1
			addScaled(o.read[at:at+o.span], (1-q)*r*o.unread[left-1], o.sum)
		}
	}
	addScaled(o.read[:o.span], q, o.sum)
	o.has = o.sum
}

package anyrelay

import (
	"context"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"farhop/mesh/link"
)

// batchRuns is how many runs have randomness of their own, whoever plays them.
const batchRuns = 250

// never is the slot of what doesn't happen.
const never = math.MaxInt

// tally counts whole numbers, so that its sum does not depend on its order.
type tally struct {
	runs                    int
	arrivals                []int
	frames, frames2         int
	duplicates, duplicates2 int
	needless, needless2     int
}

func (t *tally) add(o *tally) {
	t.runs += o.runs
	t.frames, t.frames2 = t.frames+o.frames, t.frames2+o.frames2
	t.duplicates, t.duplicates2 = t.duplicates+o.duplicates, t.duplicates2+o.duplicates2
	t.needless, t.needless2 = t.needless+o.needless, t.needless2+o.needless2
	for i, n := range o.arrivals {
		t.arrivals[i] += n
	}
}

// played plays the plan with dice.
func (c *course) played(ctx context.Context, o Options) (*Result, error) {
	batches := (o.Runs + batchRuns - 1) / batchRuns
	tallies := make([]tally, min(batches, runtime.GOMAXPROCS(0)))
	var next atomic.Int64
	var wait sync.WaitGroup
	for i := range tallies {
		t := &tallies[i]
		t.arrivals = make([]int, c.inTime)
		wait.Go(func() {
			p := c.newPlayer()
			for b := next.Add(1) - 1; b < int64(batches) && ctx.Err() == nil; b = next.Add(1) - 1 {
				p.pcg.Seed(o.Seed, uint64(b))
				for range min(batchRuns, o.Runs-int(b)*batchRuns) {
					p.play()
					p.count(t)
				}
			}
		})
	}
	wait.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	for i := range tallies[1:] {
		tallies[0].add(&tallies[i+1])
	}
	return c.counted(&tallies[0]), nil
}

// counted turns counts into estimates.
func (c *course) counted(t *tally) *Result {
	r := c.newResult()
	r.Runs = t.runs
	n := float64(t.runs)
	mean := func(sum, squares int) Estimate {
		m := float64(sum) / n
		return Estimate{m, math.Sqrt(max(0, float64(squares)/n-m*m) / max(1, n-1))}
	}
	sum := 0
	for i, k := range t.arrivals {
		sum += k
		r.Arrival[i] = float64(sum) / n
	}
	r.Delivered = mean(sum, sum)
	r.Low, r.High = wilson(sum, t.runs)
	r.Frames, r.Duplicates, r.Needless = mean(t.frames, t.frames2), mean(t.duplicates, t.duplicates2), mean(t.needless, t.needless2)
	return r
}

// job is a station keying: a sending, or an acknowledgment.
type job struct {
	active  bool
	sending int // index into player.sendings
	answer  bool
	frame   int // next
	frames  int
}

// sending is one of the message, while it is keyed and while the turns after it
// are waited for.
type sending struct {
	sender, begin int
	over          bool // the last frame is keyed
	waited        int  // usable slots since
	due           []duty
	heard         []bool // by station with a whole copy: it decoded a frame of it
}

// duty is what a station will do in its turn.
type duty uint8

const (
	nothing duty = iota
	takesOn
	answers
)

// member is one station in one run.
type member struct {
	lacks    []bool
	missing  int
	since    int  // slot from which its copy counts as whole, or never
	heard    bool // anyone nearer
	sent     int  // sendings begun
	deferred bool // would send, but still keys an acknowledgment
	again    bool // what it would send is a repetition
	first    int  // slot of its first frame, or never
	job      job
	decodes  []float64 // of its frames by station, under the deviates, for the job
}

// player plays one run after the other.
type player struct {
	*course
	pcg      *rand.PCG
	rng      *rand.Rand
	net      float64
	own      [][]float64 // by channel and pair: deviates, NaN = not drawn yet
	members  []member
	sendings []sending
	busy     []int8 // by channel in this slot: −1 not drawn, 0 free, 1 busy
	now      int

	arrived, frames, duplicates, needless int
}

func (c *course) newPlayer() *player {
	n := len(c.stations)
	p := &player{course: c, pcg: rand.NewPCG(0, 0), members: make([]member, n), own: make([][]float64, len(c.Net.Channels)), busy: make([]int8, len(c.Net.Channels))}
	p.rng = rand.New(p.pcg)
	for i := range p.members {
		p.members[i].lacks, p.members[i].decodes = make([]bool, c.Frames), make([]float64, n)
	}
	for ch := range p.own {
		p.own[ch] = make([]float64, n*n)
	}
	return p
}

// happens is true with the given chance: never for 0, always for 1.
func (p *player) happens(chance float64) bool {
	return float64(p.pcg.Uint64()>>11)*0x1p-53 < chance
}

// deviate is that of a pair on a channel.
func (p *player) deviate(a, b, channel int) float64 {
	z := &p.own[channel][min(a, b)*len(p.stations)+max(a, b)]
	if math.IsNaN(*z) {
		*z = p.rng.NormFloat64()
	}
	return *z
}

// reset forgets the last run; the origin has the message.
func (p *player) reset() {
	p.net, p.now, p.sendings = p.rng.NormFloat64(), 0, p.sendings[:0]
	p.arrived, p.frames, p.duplicates, p.needless = never, 0, 0, 0
	for ch := range p.own {
		for i := range p.own[ch] {
			p.own[ch][i] = math.NaN()
		}
	}
	for i := range p.members {
		m := &p.members[i]
		for f := range m.lacks {
			m.lacks[f] = true
		}
		m.missing, m.since, m.heard, m.sent, m.first = p.Frames, never, false, 0, never
		m.deferred, m.job = false, job{}
	}
	m := &p.members[p.from]
	m.missing, m.since = 0, 0
}

// play plays a run until every station is silent for good.
func (p *player) play() {
	p.reset()
	p.send(p.from)
	for p.advance() {
		for ch := range p.busy {
			p.busy[ch] = -1
		}
		p.turns()
		p.key()
		p.now++
	}
}

// advance goes to the next slot that is open to anyone who waits or keys; false
// when there is nobody.
func (p *player) advance() bool {
	next := never
	look := func(sender int) {
		if w := p.orders[sender].wait; w != nil {
			next = min(next, p.now+int(w[p.ofDay(p.now)]))
		}
	}
	for i := range p.members {
		if m := &p.members[i]; m.job.active {
			look(p.sendings[m.job.sending].sender)
		} else if m.deferred {
			look(i)
		}
	}
	for i := range p.sendings {
		if s := &p.sendings[i]; s.over && s.waited >= 0 {
			look(s.sender)
		}
	}
	if next == never {
		return false
	}
	p.now = next
	return true
}

// usable reports whether the slot is open to a sender and not busy.
func (p *player) usable(sender int) bool {
	o := &p.orders[sender]
	if o.wait == nil || o.wait[p.ofDay(p.now)] != 0 {
		return false
	}
	if p.busy[o.channel] < 0 {
		p.busy[o.channel] = 0
		if p.slots.Busy > 0 && p.happens(p.slots.Busy) {
			p.busy[o.channel] = 1
		}
	}
	return p.busy[o.channel] == 0
}

// turns lets those decide whose turn it is in this slot.
func (p *player) turns() {
	for i := range p.members {
		if m := &p.members[i]; m.deferred && !m.job.active {
			m.deferred = false
			p.decide(i, m.again)
		}
	}
	for i := 0; i < len(p.sendings); i++ {
		s := &p.sendings[i]
		if !s.over || s.waited < 0 || !p.usable(s.sender) {
			continue
		}
		s.waited++
		if s.waited%p.gap() != 0 {
			continue
		}
		o, place := &p.orders[s.sender], s.waited/p.gap()
		if place == o.turn() {
			s.waited = -1
			p.decide(s.sender, true)
			continue
		}
		w := o.by[place-1]
		switch s.due[place-1] {
		case takesOn:
			if w == 0 {
				p.acknowledge(w, i)
			} else {
				p.decide(w, false)
			}
		case answers:
			p.acknowledge(w, i)
		}
	}
}

// decide has a station send the message, for the first time or again, unless it
// heard anyone nearer.
func (p *player) decide(i int, again bool) {
	m := &p.members[i]
	switch {
	case m.heard || again && m.sent >= p.slots.Rounds:
	case m.job.active:
		m.deferred, m.again = true, again
	default:
		p.send(i)
	}
}

// send begins a sending.
func (p *player) send(i int) {
	nearer := slices.ContainsFunc(p.members[:i], func(o member) bool { return o.first < p.now })
	if nearer {
		p.needless++
		if i != p.from && p.members[i].sent == 0 {
			p.duplicates++
		}
	}
	p.members[i].sent++
	n := len(p.sendings)
	if n < cap(p.sendings) {
		p.sendings = p.sendings[:n+1]
	} else {
		p.sendings = append(p.sendings, sending{})
	}
	s := &p.sendings[n]
	s.sender, s.begin, s.over, s.waited = i, p.now, false, 0
	s.due = append(s.due[:0], make([]duty, len(p.orders[i].by))...)
	s.heard = append(s.heard[:0], make([]bool, len(p.stations))...)
	p.start(i, job{active: true, sending: n, frames: p.Frames})
}

// acknowledge keys an answer to a sending, unless the station keys already or has
// left the channel.
func (p *player) acknowledge(i, to int) {
	channel := p.orders[p.sendings[to].sender].channel
	if !p.members[i].job.active && p.listens[i][channel][p.ofDay(p.now)] {
		p.start(i, job{active: true, sending: to, answer: true, frames: p.answer()})
	}
}

// start takes the links of the station's frames at the first slot open to them.
func (p *player) start(i int, j job) {
	m := &p.members[i]
	m.job = j
	o := &p.orders[p.sendings[j.sending].sender]
	channel, slot := o.channel, p.now
	if o.wait != nil {
		slot += int(o.wait[p.ofDay(slot)])
	}
	for w := range m.decodes {
		m.decodes[w] = 0
		if w == i || !p.matters(i, w) {
			continue
		}
		switch d := p.direction(i, w, channel, slot); d.Kind {
		case link.Certain:
			m.decodes[w] = d.Decode
		case link.Gaussian:
			m.decodes[w] = d.Frame(p.deviate(i, w, channel), p.net)
		}
	}
}

// matters reports whether a station makes anything of the frames of another: as one
// of its order, or as one farther from the destination.
func (c *course) matters(from, at int) bool {
	return at > from || from > 0 && c.orders[from].stands[at]
}

// key has everyone who is keying key a frame, and the others listen.
func (p *player) key() {
	var over []int
	var keying [64]int
	n := keying[:0]
	for i := range p.members {
		if j := &p.members[i].job; j.active && p.usable(p.sendings[j.sending].sender) {
			n = append(n, i)
		}
	}
	for _, i := range n {
		m := &p.members[i]
		s := &p.sendings[m.job.sending]
		p.frames++
		m.first = min(m.first, p.now)
		p.listen(i, s, n)
		if m.job.frame++; m.job.frame == m.job.frames {
			m.job.active = false
			if !m.job.answer {
				over = append(over, m.job.sending)
			}
		}
	}
	for _, k := range over {
		p.judge(&p.sendings[k])
	}
}

// listen lets everyone who isn't keying in this slot listen to a frame of i.
func (p *player) listen(i int, s *sending, keying []int) {
	m := &p.members[i]
	channel, ofDay := p.orders[s.sender].channel, p.ofDay(p.now)
	for w := range p.members {
		if m.decodes[w] == 0 || !p.listens[w][channel][ofDay] || slices.Contains(keying, w) {
			continue
		}
		r := &p.members[w]
		if w > i && r.heard || !p.happens(m.decodes[w]) {
			continue
		}
		switch {
		case w > i:
			r.heard = true
		case m.job.answer:
		case r.since == never:
			if r.lacks[m.job.frame] {
				r.lacks[m.job.frame] = false
				if r.missing--; r.missing == 0 && w == 0 {
					p.arrived = p.now
				}
			}
		default:
			s.heard[w] = true
		}
	}
}

// judge says at the end of a sending who will do what in its turn.
func (p *player) judge(s *sending) {
	s.over = true
	for k, w := range p.orders[s.sender].by {
		m := &p.members[w]
		switch {
		case m.since == never && m.missing == 0:
			m.since, s.due[k] = p.now+1, takesOn
		case m.since <= s.begin && s.heard[w]:
			s.due[k] = answers
		}
	}
}

// count adds the run to a tally.
func (p *player) count(t *tally) {
	t.runs++
	if p.arrived < len(t.arrivals) {
		t.arrivals[p.arrived]++
	}
	t.frames, t.frames2 = t.frames+p.frames, t.frames2+p.frames*p.frames
	t.duplicates, t.duplicates2 = t.duplicates+p.duplicates, t.duplicates2+p.duplicates*p.duplicates
	t.needless, t.needless2 = t.needless+p.needless, t.needless2+p.needless*p.needless
}

package anyrelay

import (
	"math"
	"math/rand/v2"
)

// never is the slot of what doesn't happen.
const never = math.MaxInt

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

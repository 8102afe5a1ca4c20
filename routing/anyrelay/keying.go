package anyrelay

import (
	"slices"

	"farhop/mesh/link"
)

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

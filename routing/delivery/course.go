package delivery

import (
	"math"

	"farhop/mesh/link"
)

// Course is what two stations are expected to key on one hop: by slot, the
// chance that the slot carries a frame of the message (first sendings and
// fills), a poll, or a frame of an acknowledgment. Sends and polls are the
// sender's, answers the receiver's. Slots past the deadline are included.
type Course struct {
	Sends, Polls, Answers []float64
}

// Total is the mean number of frames that each of the two keys.
func (c *Course) Total() (sender, receiver float64) {
	for i := range c.Sends {
		sender += c.Sends[i] + c.Polls[i]
		receiver += c.Answers[i]
	}
	return sender, receiver
}

// Course works out slot by slot what is keyed on a hop that goes on from a
// prefix: a relay hop, whose sender falls silent once the receiver has the
// message, or a last one. It is meant for showing one chain: unlike the times of
// a hop, it is played anew for every deviate and quarter of an hour.
// Chances of long messages are rounded a little.
// O(deviates · R · F³) for each quarter at the worst, mostly far less.
func (e *Evaluator) Course(p *Prefix, id LegID, last bool) *Course {
	games := map[[2]float64]*game{}
	return e.course(p, id, func(d pair, eta float64) acts { return e.acts(d, eta, last, games) })
}

// BlindCourse is Course for a last hop sent so many times over.
func (e *Evaluator) BlindCourse(p *Prefix, id LegID, sendings int) *Course {
	a := acts{sends: make([]float64, max(0, sendings)*e.plan.Protocol.Frames)}
	for i := range a.sends {
		a.sends[i] = 1
	}
	a.polls, a.answers = make([]float64, len(a.sends)), make([]float64, len(a.sends))
	return e.course(p, id, func(pair, float64) acts { return a })
}

// acts are the chances of keying by usable slot of a hop, counted from its first.
type acts struct{ sends, polls, answers []float64 }

// leastStart is the chance below which starts of a hop are left out of a course.
const leastStart = 1e-9

func (e *Evaluator) course(p *Prefix, id LegID, of func(pair, float64) acts) *Course {
	w := e.walk(p, id)
	c := &Course{}
	for _, part := range w.parts {
		for j, weight := range e.rule.weights {
			starts := w.of[j*w.n+part.from : j*w.n+part.to]
			begun := 0.0
			for _, v := range starts {
				begun += v
			}
			if weight*begun < leastStart {
				continue
			}
			a := of(part.h.d, e.rule.nodes[j])
			c.add(w, part.from, weight, starts, e.busy.thin(a.sends), &c.Sends)
			c.add(w, part.from, weight, starts, e.busy.thin(a.polls), &c.Polls)
			c.add(w, part.from, weight, starts, e.busy.thin(a.answers), &c.Answers)
		}
	}
	n := max(len(c.Sends), len(c.Polls), len(c.Answers))
	for _, of := range []*[]float64{&c.Sends, &c.Polls, &c.Answers} {
		*of = append(*of, make([]float64, n-len(*of))...)
	}
	return c
}

// add puts what is keyed by open slot after each start into its slot.
func (c *Course) add(w *walk, from int, weight float64, starts, keyed []float64, to *[]float64) {
	byOpen := make([]float64, len(starts)+len(keyed))
	for i, v := range starts {
		if v > 0 {
			addScaled(byOpen[i:i+len(keyed)], weight*v, keyed)
		}
	}
	first := w.lo + from
	w.l.mu.Lock()
	defer w.l.mu.Unlock()
	open := w.l.upTo(first+len(byOpen), w.e.horizon)
	for i, v := range byOpen {
		if v < leastShare || first+i >= len(open) {
			continue
		}
		slot := int(open[first+i])
		if slot >= len(*to) {
			*to = append(*to, make([]float64, slot+1-len(*to))...)
		}
		(*to)[slot] += v
	}
}

// thin turns chances by usable slot into chances by open slot: the (n+1)-th
// usable slot is the m-th open one as busyTable has it.
func (t *busyTable) thin(keyed []float64) []float64 {
	if t.share == 0 {
		return keyed
	}
	var out []float64
	for n, v := range keyed {
		if v < leastShare {
			continue
		}
		r := t.row(n + 1)
		if need := r.first - 1 + len(r.of); need > len(out) {
			out = append(out, make([]float64, need-len(out))...)
		}
		addScaled(out[r.first-1:], v, r.of)
	}
	return out
}

// acts averages the acts over the hop's own deviate.
func (e *Evaluator) acts(d pair, eta float64, last bool, games map[[2]float64]*game) acts {
	pr := &e.plan.Protocol
	forward, reverse := lineOf(d.forward, eta), lineOf(d.reverse, eta)
	rule := deviates{[]float64{0}, []float64{1}}
	if forward.varies() || reverse.varies() {
		rule = equallySpaced(courseStep, ruleReach)
	}
	var total acts
	for i, zeta := range rule.nodes {
		at := [2]float64{forward.coarse(pr.Frames).near(zeta), reverse.coarse(pr.Frames).near(zeta)}
		g := games[at]
		if g == nil {
			g = newGame(pr, at[0], math.Pow(at[1], float64(pr.Ack)))
			g.play(last)
			games[at] = g
		}
		total.add(rule.weights[i], &g.acts)
	}
	return total
}

// longMessage is from how many frames on a course is told from rounded chances, so
// that few games serve all deviates.
const longMessage = 20

// rounding is a line whose chances may be rounded.
type rounding struct {
	line
	step float64 // of the line's argument, 0 = none
}

func (l line) coarse(frames int) rounding {
	if frames < longMessage || l.fixed {
		return rounding{line: l}
	}
	return rounding{l, 0.15}
}

// near is the decode chance at ζ, rounded.
func (r rounding) near(zeta float64) float64 {
	if r.step == 0 {
		p, _ := r.hit(zeta)
		return p
	}
	u := min(max(r.at+r.slope*zeta, -4), 4)
	return link.Phi(r.step * math.Round(u/r.step))
}

// courseStep is coarser than the rule for times: a chance of keying is shown, not
// searched by. It errs by a few 1e-3 where links are sharp.
const courseStep = 0.3

func (a *acts) add(weight float64, b *acts) {
	for _, of := range []struct {
		to   *[]float64
		from []float64
	}{{&a.sends, b.sends}, {&a.polls, b.polls}, {&a.answers, b.answers}} {
		if n := len(of.from) - len(*of.to); n > 0 {
			*of.to = append(*of.to, make([]float64, n)...)
		}
		addScaled(*of.to, weight, of.from)
	}
}

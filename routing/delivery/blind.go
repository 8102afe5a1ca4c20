package delivery

import "math"

// Blind evaluates a last hop to a station that hears but isn't heard: the
// message is sent so many times over, frame after frame, and nothing is
// acknowledged. Given ζ the receiver gets it with chance (1 − (1 − p)^N)^F.
// Confirmed stays empty.
func (e *Evaluator) Blind(p *Prefix, id LegID, sendings int) *Result {
	w := e.walk(p, id)
	for i := range w.parts {
		w.parts[i].h = e.blindHop(w.parts[i].h.d, max(sendings, 0))
	}
	r := &Result{}
	d := e.desk()
	defer e.desks.Put(d)
	a := w.arrive(w.after(d, (*hop).arriving, 0, e.plan.Protocol.Frames), 0, nil)
	r.Hops = append(r.Hops, w.result(&a))
	w.finish(p, &a, r)
	return r
}

// blindHop is the hop of a message sent so many times over.
func (e *Evaluator) blindHop(d pair, sendings int) *hop {
	key := blindKey{d, sendings}
	e.known.Lock()
	h := e.blind[key]
	if h == nil {
		h = &hop{d: d}
		e.blind[key] = h
	}
	e.known.Unlock()
	h.base.Do(func() {
		nodes, frames := len(e.rule.nodes), e.plan.Protocol.Frames
		for f := range h.figures {
			h.figures[f] = make([]float64, nodes)
		}
		usable := spans{first: 1, n: frames * sendings, of: make([]float64, nodes*frames*sendings)}
		for j, eta := range e.rule.nodes {
			f := lineOf(d.forward, eta)
			got := blindTimes(usable.node(j), f, e.blocks.spacing(f, line{}), frames, sendings)
			h.figures[figureFail][j] = 1 - got
			h.figures[figureSent][j] = float64(frames * sendings)
		}
		var room []float64
		h.done = e.busy.spread(&room, usable).packed()
	})
	h.ended.Do(func() {})
	return h
}

type blindKey struct {
	d        pair
	sendings int
}

// blindTimes adds to of the chances that the last missing frame decodes with the
// first, second, … of all sendings, and returns their sum. Once all frames have
// been sent j times and i of them once more, all are there with chance
// (1−(1−p)^(j+1))^i (1−(1−p)^j)^(F−i).
func blindTimes(of []float64, f line, step float64, frames, sendings int) (sum float64) {
	rule := deviates{[]float64{0}, []float64{1}}
	if f.varies() {
		rule = equallySpaced(step, ruleReach)
	}
	for n, zeta := range rule.nodes {
		_, miss := f.hit(zeta)
		before, missed, at := 0.0, 1.0, 0
		for range sendings {
			old := 1 - missed
			missed *= miss
			for i := range frames {
				now := math.Pow(1-missed, float64(i+1)) * math.Pow(old, float64(frames-1-i))
				of[at] += rule.weights[n] * (now - before)
				before = now
				at++
			}
		}
		sum += rule.weights[n] * before
	}
	return sum
}

package backtest

import (
	"math"
	"sort"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
)

// part sums the scores of some forecasts.
type part struct {
	n          int
	seen       int
	forecast   float64 // of the model
	brier, log [ModelCount]float64
}

func (p *part) add(q *part) {
	p.n += q.n
	p.seen += q.seen
	p.forecast += q.forecast
	for m := range p.brier {
		p.brier[m] += q.brier[m]
		p.log[m] += q.log[m]
	}
}

func (p *part) group() (g Group) {
	g.Forecasts = p.n
	if p.n == 0 {
		return g
	}
	n := float64(p.n)
	g.Seen, g.Forecast = float64(p.seen)/n, p.forecast/n
	for m := range p.brier {
		g.Brier[m], g.LogLoss[m] = p.brier[m]/n, p.log[m]/n
	}
	return g
}

// sums are the scores of some links at one horizon.
type sums struct {
	bins     [ModelCount]bins
	hours    [24]part
	fresh    [freshBands]part
	known    [2]part // unknown, known
	firstDay int64
	days     []part // by UTC day, from firstDay on
	links    []linkPart
}

type linkPart struct {
	link int
	part
}

func newSums(h *mesh.History, from int64) *sums {
	s := &sums{}
	first := max(h.First, from)
	if h.Last >= first {
		s.firstDay = dayOf(first)
		s.days = make([]part, dayOf(h.Last)-s.firstDay+1)
	}
	return s
}

func dayOf(unix int64) int64 {
	day := unix / 86400
	if unix%86400 < 0 {
		day--
	}
	return day
}

// link forecasts the opportunities of one link, each from what was known so
// many seconds ahead of it and in any case before it.
func (s *sums) link(m *link.Model, entries []mesh.Entry, index int, ahead, from int64) {
	state := m.NewState()
	var t tally
	own := linkPart{link: index}
	next := 0
	for _, i := range toScore(entries, from) {
		e := &entries[i]
		until := min(e.Unix-ahead, e.Unix-1)
		for ; next < len(entries) && entries[next].Told <= until; next++ {
			absorb(m, state, &t, &entries[next])
		}
		f := m.Forecast(state, e.Unix)
		var chances [ModelCount]float64
		chances[Model] = decode(m, &f, float64(e.Raise))
		t.forecast(&chances, e.Unix, ahead)
		s.score(&own.part, &chances, e, &f)
	}
	if own.n > 0 {
		s.links = append(s.links, own)
	}
}

// toScore lists the opportunities from a moment on, in order of time.
func toScore(entries []mesh.Entry, from int64) []int {
	list := make([]int, 0, len(entries))
	sorted := true
	for i := range entries {
		if entries[i].Unix < from || !entries[i].Opportunity() {
			continue
		}
		if k := len(list); k > 0 && entries[list[k-1]].Unix > entries[i].Unix {
			sorted = false
		}
		list = append(list, i)
	}
	if !sorted {
		sort.SliceStable(list, func(a, b int) bool { return entries[list[a]].Unix < entries[list[b]].Unix })
	}
	return list
}

// absorb takes evidence into the filter and the tally.
func absorb(m *link.Model, state *link.State, t *tally, e *mesh.Entry) {
	e.Update(m, state)
	if e.Opportunity() {
		t.take(e.Unix, e.Kind == mesh.EventReport)
	}
}

// decode is the chance that a frame decodes at a power for which θ is so much higher.
func decode(m *link.Model, f *link.Forecast, raise float64) float64 {
	if raise == 0 {
		return f.Decode
	}
	d := m.Direction(*f, 0)
	d.Margin -= raise
	return d.Mean()
}

// score enters one forecast.
func (s *sums) score(own *part, chances *[ModelCount]float64, e *mesh.Entry, f *link.Forecast) {
	one := part{n: 1}
	hit := 0.0
	if e.Kind == mesh.EventReport {
		hit, one.seen = 1, 1
	}
	for m, p := range chances {
		p = clip(p, chanceClip)
		s.bins[m].take(p, one.seen)
		one.brier[m] = (p - hit) * (p - hit)
		if one.seen == 1 {
			one.log[m] = -math.Log(p)
		} else {
			one.log[m] = -math.Log1p(-p)
		}
		if m == Model {
			one.forecast = p
		}
	}
	own.add(&one)
	s.days[dayOf(e.Unix)-s.firstDay].add(&one)
	s.hours[hourOf(e.Unix)].add(&one)
	s.fresh[min(int(f.Freshness*freshBands), freshBands-1)].add(&one)
	if f.Known {
		s.known[1].add(&one)
	} else {
		s.known[0].add(&one)
	}
}

// add joins the sums of other links.
func (s *sums) add(o *sums) {
	for m := range s.bins {
		s.bins[m].add(&o.bins[m])
	}
	for i := range s.hours {
		s.hours[i].add(&o.hours[i])
	}
	for i := range s.fresh {
		s.fresh[i].add(&o.fresh[i])
	}
	for i := range s.known {
		s.known[i].add(&o.known[i])
	}
	for i := range s.days {
		s.days[i].add(&o.days[i])
	}
	s.links = append(s.links, o.links...)
}

// horizon turns the sums into scores.
func (s *sums) horizon(ahead time.Duration, o Options, stream uint64) Horizon {
	var all part
	for i := range s.days {
		all.add(&s.days[i])
	}
	h := Horizon{Ahead: ahead, Forecasts: all.n, Known: s.known[1].group(), Unknown: s.known[0].group()}
	g := all.group()
	h.Seen = g.Seen
	for m := range h.Models {
		h.Models[m] = Score{Brier: g.Brier[m], LogLoss: g.LogLoss[m], Bins: s.bins[m].list()}
		h.Models[m].CalibrationError = calibrationError(h.Models[m].Bins)
	}
	h.Differences = differences(s.days, o.Resamples, o.Seed, stream)
	for i := range s.hours {
		h.Hours[i] = s.hours[i].group()
	}
	for i := range s.fresh {
		h.Freshness[i] = s.fresh[i].group()
	}
	for i := range s.links {
		h.Links = append(h.Links, LinkGroup{s.links[i].link, s.links[i].group()})
	}
	return h
}

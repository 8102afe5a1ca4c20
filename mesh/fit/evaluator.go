package fit

import (
	"context"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"farhop/mesh"
	"farhop/mesh/link"
)

// evaluator goes through the links of a history with settings to be tried.
type evaluator struct {
	links    [][]mesh.Entry
	chunks   [][2]int // of links, of about equal evidence
	until    int64    // fitted before, held out from here on
	firstDay int64
	days     int
	passes   int
}

// chunkCount is about how many chunks the links make. Sums are joined in their
// order, whoever does them, so that results don't depend on the processors.
const chunkCount = 32

func newEvaluator(h *mesh.History, until int64) *evaluator {
	e := &evaluator{links: h.Links, until: until, firstDay: dayOf(until)}
	e.days = int(dayOf(h.Last)-e.firstDay) + 1
	all := 0
	for _, l := range h.Links {
		all += len(l)
	}
	from, size := 0, 0
	for i, l := range h.Links {
		if size += len(l); size*chunkCount >= all || i == len(h.Links)-1 {
			e.chunks = append(e.chunks, [2]int{from, i + 1})
			from, size = i+1, 0
		}
	}
	return e
}

// count counts the evidence in both parts.
func (e *evaluator) count() (fitted, held int) {
	for _, l := range e.links {
		for i := range l {
			switch {
			case !l[i].Kind.Evidence():
			case l[i].Unix < e.until:
				fitted++
			default:
				held++
			}
		}
	}
	return fitted, held
}

// fitted returns the log-likelihood of the part to fit by each of the settings.
func (e *evaluator) fitted(ctx context.Context, tries []link.Settings) ([]float64, error) {
	sums, err := e.run(ctx, tries, false)
	if err != nil {
		return nil, err
	}
	out := make([]float64, len(tries))
	for i := range sums {
		out[i] = sums[i].fitted
	}
	return out, nil
}

// both is fitted with the held out part as well.
func (e *evaluator) both(ctx context.Context, tries []link.Settings) ([]sum, error) {
	return e.run(ctx, tries, true)
}

// sum is a log-likelihood, with that of the held out part by day.
type sum struct {
	fitted, held float64
	days         []daySum
}

type daySum struct {
	n   int
	sum float64
}

func (e *evaluator) run(ctx context.Context, tries []link.Settings, whole bool) ([]sum, error) {
	models, err := e.models(tries)
	if err != nil {
		return nil, err
	}
	parts := make([]sum, len(tries)*len(e.chunks))
	err = each(ctx, len(parts), func(i int) {
		chunk := e.chunks[i%len(e.chunks)]
		for _, l := range e.links[chunk[0]:chunk[1]] {
			e.link(models[i/len(e.chunks)], l, whole, &parts[i])
		}
	})
	if err != nil {
		return nil, err
	}
	out := make([]sum, len(tries))
	for i := range parts {
		out[i/len(e.chunks)].add(&parts[i])
	}
	return out, nil
}

// models makes settings ready.
func (e *evaluator) models(tries []link.Settings) ([]*link.Model, error) {
	models := make([]*link.Model, len(tries))
	for i := range tries {
		var err error
		if models[i], err = link.NewModel(tries[i]); err != nil {
			return nil, err
		}
	}
	e.passes += len(tries)
	return models, nil
}

// each does the jobs 0…n−1 on all processors until ctx ends.
func each(ctx context.Context, n int, do func(i int)) error {
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n) {
		wait.Go(func() {
			for i := int(next.Add(1)) - 1; i < n && ctx.Err() == nil; i = int(next.Add(1)) - 1 {
				do(i)
			}
		})
	}
	wait.Wait()
	return ctx.Err()
}

// slopes are sums over the evidence of how much its log-likelihood changes from
// the first of some settings to each of the others, and of the products of these.
type slopes struct {
	sum    []float64
	square []float64 // by two of the others, the first not above the second
}

// slopes goes through the part to fit with all settings side by side.
func (e *evaluator) slopes(ctx context.Context, tries []link.Settings) (*slopes, error) {
	models, err := e.models(tries)
	if err != nil {
		return nil, err
	}
	n := len(tries) - 1
	parts := make([]slopes, len(e.chunks))
	err = each(ctx, len(parts), func(i int) {
		parts[i] = slopes{make([]float64, n), make([]float64, n*n)}
		for _, l := range e.links[e.chunks[i][0]:e.chunks[i][1]] {
			e.slopesOf(models, l, &parts[i])
		}
	})
	if err != nil {
		return nil, err
	}
	out := &slopes{make([]float64, n), make([]float64, n*n)}
	for i := range parts {
		for k, v := range parts[i].sum {
			out.sum[k] += v
		}
		for k, v := range parts[i].square {
			out.square[k] += v
		}
	}
	return out, nil
}

func (e *evaluator) slopesOf(models []*link.Model, entries []mesh.Entry, to *slopes) {
	states := make([]*link.State, len(models))
	for k, m := range models {
		states[k] = m.NewState()
	}
	n := len(models) - 1
	change := make([]float64, n)
	for i := range entries {
		entry := &entries[i]
		if entry.Unix >= e.until {
			return
		}
		base := 0.0
		for k, m := range models {
			if entry.Kind.Evidence() {
				l := logLikelihood(m, states[k], entry)
				if k == 0 {
					base = l
				} else {
					change[k-1] = l - base
				}
			}
			entry.Update(m, states[k])
		}
		for k, c := range change {
			to.sum[k] += c
			for j := k; j < n; j++ {
				to.square[k*n+j] += c * change[j]
			}
		}
	}
}

func (s *sum) add(o *sum) {
	s.fitted += o.fitted
	s.held += o.held
	if s.days == nil && o.days != nil {
		s.days = make([]daySum, len(o.days))
	}
	for i := range o.days {
		s.days[i].n += o.days[i].n
		s.days[i].sum += o.days[i].sum
	}
}

// link goes through one link.
func (e *evaluator) link(m *link.Model, entries []mesh.Entry, whole bool, to *sum) {
	if whole && to.days == nil {
		to.days = make([]daySum, e.days)
	}
	state := m.NewState()
	for i := range entries {
		n := &entries[i]
		if n.Unix >= e.until && !whole {
			return
		}
		if n.Kind.Evidence() {
			l := logLikelihood(m, state, n)
			if n.Unix < e.until {
				to.fitted += l
			} else {
				to.held += l
				day := &to.days[dayOf(n.Unix)-e.firstDay]
				day.n++
				day.sum += l
			}
		}
		n.Update(m, state)
	}
}

// leastLog bounds what one piece of evidence may say against settings, so that
// a wrong line in a log doesn't decide.
const leastLog = -12

// logLikelihood is that of an entry by what was known before it.
func logLikelihood(m *link.Model, state *link.State, e *mesh.Entry) float64 {
	f := m.Forecast(state, e.Unix)
	raise := float64(e.Raise)
	l := 0.0
	switch e.Kind {
	case mesh.EventMiss:
		l = m.LogMiss(f, raise)
	case mesh.EventReport:
		l = m.LogReport(f, float64(e.Value), raise)
	case mesh.EventUnwitnessed:
		l = m.LogReport(f, float64(e.Value), raise) - math.Log(-math.Expm1(m.LogMiss(f, raise)))
	}
	if !(l >= leastLog) { // also where it is not a number
		return leastLog
	}
	return l
}

func dayOf(unix int64) int64 {
	day := unix / 86400
	if unix%86400 < 0 {
		day--
	}
	return day
}

package fit

import (
	"context"
	"math"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
)

// Ahead is how well decodes of the held out part were foretold some time ahead.
type Ahead struct {
	By            time.Duration
	N             int
	Before, After float64 // mean of −ln of the chance given to what happened, by the settings started from and those fitted
}

// aheads are the leads that fitted settings must not be worse at: messages take
// hours, and what foretells the next minutes best need not be good for them.
var aheads = []time.Duration{time.Hour, 12 * time.Hour}

const (
	aheadClip  = 0.001 // off certainty that chances are kept
	aheadWorse = 0.001 // mean by which fitted settings may be worse
)

// ahead scores both settings at every lead.
func (e *evaluator) ahead(ctx context.Context, before, after link.Settings) ([]Ahead, error) {
	models, err := e.models([]link.Settings{before, after})
	if err != nil {
		return nil, err
	}
	type part struct {
		n    int
		loss float64
	}
	chunks := len(e.chunks)
	parts := make([]part, 2*len(aheads)*chunks)
	err = each(ctx, len(parts), func(i int) {
		m, by := models[i/chunks%2], aheads[i/chunks/2]
		chunk := e.chunks[i%chunks]
		for _, l := range e.links[chunk[0]:chunk[1]] {
			n, loss := lossAhead(m, l, int64(by/time.Second), e.until)
			parts[i].n += n
			parts[i].loss += loss
		}
	})
	if err != nil {
		return nil, err
	}
	var out []Ahead
	for k, by := range aheads {
		a := Ahead{By: by}
		for c := range chunks {
			b, f := parts[2*k*chunks+c], parts[(2*k+1)*chunks+c]
			a.N, a.Before, a.After = a.N+b.n, a.Before+b.loss, a.After+f.loss
		}
		if a.N > 0 {
			a.Before, a.After = a.Before/float64(a.N), a.After/float64(a.N)
		}
		out = append(out, a)
	}
	return out, nil
}

// lossAhead sums the losses of one link's opportunities from a moment on, each
// foretold from what was known so many seconds before it.
func lossAhead(m *link.Model, entries []mesh.Entry, ahead, from int64) (n int, loss float64) {
	state := m.NewState()
	next := 0
	for i := range entries {
		e := &entries[i]
		if e.Unix < from || !e.Opportunity() {
			continue
		}
		for ; next < i && entries[next].Told <= e.Unix-ahead; next++ {
			entries[next].Update(m, state)
		}
		f := m.Forecast(state, e.Unix)
		miss := math.Exp(m.LogMiss(f, float64(e.Raise)))
		miss = math.Min(math.Max(miss, aheadClip), 1-aheadClip)
		n++
		if e.Kind == mesh.EventMiss {
			loss -= math.Log(miss)
		} else {
			loss -= math.Log1p(-miss)
		}
	}
	return n, loss
}

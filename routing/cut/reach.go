package cut

import (
	"context"
	"slices"

	"farhop/mesh/workers"
)

// maxSets is the most stations beside the source whose sets are summed over for
// all destinations of a source at once.
const maxSets = 13

// patience is how often the share of a pair is halved at most.
const patience = 8

// findReach fills in reach and its bounds for r.Pairs. Each pair may spend an equal share
// of the budget on an exact figure; those that cannot are sampled together.
func (r *Report) findReach(ctx context.Context, c *chances, opt Options) error {
	bySource := make([][]int, c.n)
	for i, p := range r.Pairs {
		bySource[p.From] = append(bySource[p.From], i)
	}
	share := opt.Work / int64(len(r.Pairs))
	err := workers.Run(ctx, c.n, func() (func(int), func()) {
		f := newFactorer(c)
		return func(s int) {
			if len(bySource[s]) > 0 {
				f.source(int32(s), r.Pairs, bySource[s], share)
			}
		}, nil
	})
	if err != nil {
		return err
	}
	var sampled []int
	for i, p := range r.Pairs {
		if !p.Exact {
			sampled = append(sampled, i)
		}
	}
	if len(sampled) == 0 {
		return nil
	}
	return c.sample(ctx, r.Pairs, sampled, opt.Samples, opt.Seed)
}

// source works out reach from s for the pairs with the numbers which, each
// within its share of the budget, and the bounds. When the sum over sets for all
// destinations at once is affordable, pairs are tried singly as long as that is cheaper.
func (f *factorer) source(s int32, pairs []Pair, which []int, share int64) {
	for _, i := range which {
		pairs[i].Lowest, pairs[i].Highest = f.bounds(s, int32(pairs[i].To))
	}
	reached := f.reachedFrom(s)
	if k := len(reached) - 1; k <= maxSets {
		whole := steps(k) * int64(f.points)
		if whole <= share*int64(len(which)) {
			if !f.each(s, pairs, which, whole/int64(len(which)), true) {
				f.together(reached, pairs, which)
			}
			return
		}
	}
	f.each(s, pairs, which, share, false)
}

// each works out reach from s for one pair after the other, each within its
// share, and reports whether all came out; strict: it stops at the first that
// does not. After a failure the next pair gets half as much to try with: most
// likely all are beyond their share.
func (f *factorer) each(s int32, pairs []Pair, which []int, share int64, strict bool) bool {
	failed, all := 0, true
	for _, i := range which {
		reach, ok := f.pair(s, int32(pairs[i].To), share>>failed)
		if ok {
			pairs[i].exact(reach)
			failed = 0
			continue
		}
		if all = false; strict {
			break
		}
		failed = min(failed+1, patience)
	}
	return all
}

// together works out reach from the first of reached for all pairs at once.
func (f *factorer) together(reached []int32, pairs []Pair, which []int) {
	chance := f.allFrom(reached)
	for _, i := range which {
		pairs[i].exact(chance[pairs[i].To])
	}
}

// exact sets reach and takes the error of integration out where the bounds show it.
func (p *Pair) exact(reach float64) {
	reach = min(max(reach, p.Lowest), p.Highest)
	p.Reach, p.Low, p.High, p.Exact = reach, reach, reach, true
}

// reachedFrom returns the stations that s may reach, s first, the others ascending.
func (f *factorer) reachedFrom(s int32) []int32 {
	seen := f.between(s, none, false)
	reached := []int32{s}
	for v := range int32(f.n) {
		if v != s && seen[v] {
			reached = append(reached, v)
		}
	}
	return reached
}

// allFrom returns the reach of every station from the first of those in reached,
// which are all that it may reach. steps(k) a point, for k others.
func (f *factorer) allFrom(reached []int32) []float64 {
	k := len(reached) - 1
	others := reached[1:]
	from := append(slices.Clone(others), reached[0])
	for v := range f.local {
		f.local[v] = none
	}
	for j, v := range others {
		f.local[v] = int32(j)
	}
	total := make([]float64, f.n)
	for i, weight := range f.weight {
		f.closed = f.closed[:0]
		for _, u := range from {
			row := len(f.closed)
			for range k {
				f.closed = append(f.closed, 1)
			}
			for e := f.first[u]; e < f.first[u+1]; e++ {
				if j := f.local[f.head[e]]; j != none {
					f.closed[row+int(j)] = 1 - f.open[int(e)*f.points+i]
				}
			}
		}
		f.sets.run(k, f.closed)
		for set, p := range f.sets.exact[:1<<k] {
			for j, v := range others {
				if set>>j&1 != 0 {
					total[v] += weight * p
				}
			}
		}
	}
	return total
}

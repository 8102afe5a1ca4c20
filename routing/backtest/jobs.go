package backtest

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"

	"farhop/mesh"
)

// job is some links at one horizon.
type job struct {
	horizon int
	links   []int
}

// jobsAHorizon is about how many jobs a horizon is dealt out as. The results
// don't depend on who does them: sums are joined in the order of jobs.
const jobsAHorizon = 32

// deal makes jobs of about equal evidence.
func deal(h *mesh.History, links []int, horizons int) (jobs []job) {
	all := 0
	for _, l := range links {
		all += len(h.Links[l])
	}
	for k := range horizons {
		var j job
		size := 0
		for _, l := range links {
			j.links = append(j.links, l)
			if size += len(h.Links[l]); size*jobsAHorizon >= all {
				jobs = append(jobs, job{k, j.links})
				j.links, size = nil, 0
			}
		}
		if len(j.links) > 0 {
			jobs = append(jobs, job{k, j.links})
		}
	}
	return jobs
}

// each does the jobs 0…n−1 on all processors until ctx ends.
func each(ctx context.Context, n int, progress func(share float64), do func(i int)) error {
	var next atomic.Int64
	var wait sync.WaitGroup
	var telling sync.Mutex
	done := 0
	for range min(runtime.GOMAXPROCS(0), n) {
		wait.Go(func() {
			for {
				i := int(next.Add(1)) - 1
				if i >= n || ctx.Err() != nil {
					return
				}
				do(i)
				telling.Lock()
				done++
				if progress != nil {
					progress(float64(done) / float64(n))
				}
				telling.Unlock()
			}
		})
	}
	wait.Wait()
	return ctx.Err()
}

// Package workers spreads independent pieces of work over the processors.
package workers

import (
	"context"
	"runtime"
	"sync"
)

// Run calls work for the numbers 0…n−1, each once, on all processors, in any order:
// begin makes the work of one goroutine and what that does at its end, which may be
// nil. What is done must not depend on which goroutine does it. Run returns when
// all have ended; with the context's error if that ended first, some numbers then
// being left out.
func Run(ctx context.Context, n int, begin func() (work func(int), end func())) error {
	procs := runtime.GOMAXPROCS(0)
	chunk := min(max(n/(8*procs), 1), 8)
	var group sync.WaitGroup
	chunks := make(chan int, (n+chunk-1)/chunk)
	for i := 0; i < n; i += chunk {
		chunks <- i
	}
	close(chunks)
	for range min(procs, len(chunks)) {
		group.Go(func() {
			work, end := begin()
			if end != nil {
				defer end()
			}
			for i := range chunks {
				for j := i; j < min(i+chunk, n); j++ {
					if ctx.Err() != nil {
						return
					}
					work(j)
				}
			}
		})
	}
	group.Wait()
	return ctx.Err()
}

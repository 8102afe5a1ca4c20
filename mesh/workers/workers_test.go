package workers

import (
	"context"
	"errors"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"
)

func TestEachNumberOnce(t *testing.T) {
	for _, procs := range []int{1, 2, 5} {
		before := runtime.GOMAXPROCS(procs)
		for _, n := range []int{0, 1, 2, 7, 64, 1001} {
			done := make([]int32, n)
			var begun, ended atomic.Int32
			err := Run(context.Background(), n, func() (func(int), func()) {
				begun.Add(1)
				return func(i int) { atomic.AddInt32(&done[i], 1) }, func() { ended.Add(1) }
			})
			if err != nil {
				t.Error(err)
			}
			for i, k := range done {
				if k != 1 {
					t.Errorf("%d processors, %d numbers: number %d was done %d times", procs, n, i, k)
				}
			}
			if begun.Load() != ended.Load() || int(begun.Load()) > min(procs, n) {
				t.Errorf("%d processors, %d numbers: %d goroutines begun, %d ended", procs, n, begun.Load(), ended.Load())
			}
		}
		runtime.GOMAXPROCS(before)
	}
}

func TestCancelled(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	var mu sync.Mutex
	done := 0
	err := Run(ctx, 10_000, func() (func(int), func()) {
		return func(int) {
			mu.Lock()
			defer mu.Unlock()
			if done++; done == 20 {
				stop()
			}
		}, nil
	})
	if !errors.Is(err, context.Canceled) || done < 20 || done > 20+runtime.GOMAXPROCS(0) {
		t.Errorf("%v after %d of 10,000", err, done)
	}
}

package cli

import (
	"fmt"
	"io"
	"time"
)

// progressEvery is how often progress is told.
const progressEvery = 500 * time.Millisecond

// newProgress tells on a terminal how much was read, at most twice a second.
// A negative count wipes the line.
func newProgress(w io.Writer, now func() time.Time) func(bytes int64) {
	start := now()
	told := start
	shown := false
	return func(bytes int64) {
		if bytes < 0 {
			if shown {
				fmt.Fprint(w, "\r\x1b[K")
			}
			return
		}
		if t := now(); t.Sub(told) >= progressEvery {
			told, shown = t, true
			fmt.Fprintf(w, "\rreading: %.1f MB, %.0f s", float64(bytes)/1e6, t.Sub(start).Seconds())
		}
	}
}

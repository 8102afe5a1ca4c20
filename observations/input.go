package observations

import (
	"io"
	"time"
)

// Input is something to read: a file, a folder, standard input or a typed list.
type Input struct {
	Path string // a file, a folder, or "-" for standard input; "" when Text is given
	Name string // how problems call it; the path when empty
	Text string // typed lists given as an argument, one a line
}

// Options say what to keep and where the rest goes.
type Options struct {
	// Moment is the moment to read for, in whole seconds. Reports of later
	// times, and reports that reached this desk later, are set apart and
	// counted as Counts.Later. A zero Moment is the same as Newest.
	Moment time.Time
	// Newest takes the time of the newest report as the moment.
	Newest bool
	// Window, when above 0, is how far before the moment a report may be;
	// older ones are counted as Counts.Earlier.
	Window time.Duration
	// Stdin is what the path "-" reads.
	Stdin io.Reader
	// Rejects, when set, gets every rejected line byte for byte with its line
	// end, and before the first of a source with columns its header line, so
	// that they can be mended and read again.
	Rejects io.Writer
	// MaxProblems is how many problems Log.Problems keeps; 0 means 200, below
	// 0 none. All are counted.
	MaxProblems int
	// Progress, when set, is called now and then, from the goroutine that
	// called Read, with the bytes read so far, as they lie on disk.
	Progress func(bytesRead int64)
}

package observations

import (
	"bufio"
	"io"
)

// rejectWriter writes rejected lines as they were, and before the first of
// each header's rows the header. A line that lacks its line end, being the last
// of its source, gets one only if more follows.
type rejectWriter struct {
	out    *bufio.Writer // nil if nobody wants them
	source int
	layout *layout
	last   byte
}

func newRejectWriter(w io.Writer) rejectWriter {
	if w == nil {
		return rejectWriter{}
	}
	return rejectWriter{out: bufio.NewWriter(w), source: -1, last: '\n'}
}

// take writes the rejected stretches of a block.
func (w *rejectWriter) take(source int, b *block, rejects []reject) error {
	if w.out == nil {
		return nil
	}
	for _, r := range rejects {
		if b.more {
			w.write(b.data[r.from:r.to]) // goes on with its line
			continue
		}
		if r.layout != nil && len(r.layout.header) > 0 && (source != w.source || !r.layout.same(w.layout)) {
			w.line(r.layout.header)
			w.source, w.layout = source, r.layout
		}
		w.line(b.data[r.from:r.to])
	}
	return w.err()
}

func (w *rejectWriter) line(text []byte) {
	if w.last != '\n' && w.last != '\r' {
		w.out.WriteByte('\n')
	}
	w.write(text)
}

func (w *rejectWriter) write(text []byte) {
	if len(text) > 0 {
		w.out.Write(text)
		w.last = text[len(text)-1]
	}
}

// err is the first error of the writer below, which bufio holds on to.
func (w *rejectWriter) err() error {
	_, err := w.out.Write(nil)
	return err
}

func (w *rejectWriter) flush() error {
	if w.out == nil {
		return nil
	}
	return w.out.Flush()
}

package observations

import (
	"bytes"
	"errors"
	"io"
)

// slack is how many line ends lie behind the data of a block, so that scanning
// may look a little beyond its end without asking.
const slack = 32

// block is a stretch of a source: whole records, or a piece of a line that is
// too long to be one.
type block struct {
	data  []byte // slack line ends follow within its capacity
	line  int    // line of the source that data begins in, from 1
	first bool   // begins the source
	long  bool   // a piece of a line that is too long
	more  bool   // … and not the first piece
	torn  error  // data is the stump of a record that damage has cut off
}

// splitter cuts a stream into blocks. It holds one block at most.
type splitter struct {
	src     io.Reader
	lim     limits
	eager   bool // hand out what is there instead of waiting for a full block
	carry   []byte
	line    int
	started bool
	long    bool  // inside a line that is too long
	end     error // why the stream has ended: io.EOF, or damage, or an I/O error
}

func newSplitter(src io.Reader, lim limits) *splitter {
	return &splitter{src: src, lim: lim, line: 1}
}

// damage is an error of the data, not of the device: a compressed stream that
// is broken or cut off.
type damage struct{ err error }

func (d damage) Error() string { return d.err.Error() }
func (d damage) Unwrap() error { return d.err }

// next fills b and returns nil, or io.EOF at the end of the source, or an I/O
// error. It reuses b's memory.
func (s *splitter) next(b *block) error {
	size := s.lim.block
	if b.first = !s.started; b.first {
		size = min(size, 2*s.lim.record) // most sources are small
	}
	if s.end == io.EOF && len(s.carry) == 0 {
		b.data = b.data[:0]
		return io.EOF
	}
	if cap(b.data) < size+slack {
		b.data = make([]byte, 0, size+slack)
	}
	buf := append(b.data[:0], s.carry...)
	s.carry = s.carry[:0]
	for {
		buf = s.fill(buf, size)
		if s.end != nil && s.end != io.EOF && !errors.As(s.end, new(damage)) {
			return s.end
		}
		if cut := s.cut(buf, b); cut > 0 || s.end != nil {
			return s.hand(b, buf, cut)
		}
	}
}

// fill reads on until buf has the given size or the stream ends; eagerly, once.
func (s *splitter) fill(buf []byte, size int) []byte {
	for idle := 0; s.end == nil && len(buf) < size; {
		n, err := s.src.Read(buf[len(buf):size])
		buf = buf[:len(buf)+n]
		s.end = err
		if n == 0 && err == nil {
			if idle++; idle == 100 {
				s.end = io.ErrNoProgress
			}
			continue
		}
		if s.eager && len(buf) > 3 {
			break
		}
	}
	if !s.started && (len(buf) > 3 || s.end != nil) {
		s.started = true
		if rest, ok := bytes.CutPrefix(buf, []byte("\ufeff")); ok {
			buf = buf[:copy(buf, rest)]
		}
	}
	return buf
}

// cut decides how much of buf to hand out, 0 if more has to be read first, and
// marks b accordingly.
func (s *splitter) cut(buf []byte, b *block) int {
	b.long, b.more, b.torn = false, false, nil
	last := s.end != nil
	if !s.long {
		if s.end == io.EOF {
			return len(buf)
		}
		cut := lastRecordEnd(buf, s.lim.record)
		if cut == 0 && last {
			b.torn = s.end
			return len(buf)
		}
		if cut > 0 || len(buf) <= s.lim.record {
			return cut
		}
	}
	b.long, b.more = true, s.long
	end, ok := lineEnd(buf, 0, last)
	s.long = !ok && !last
	if s.long && buf[end-1] == '\r' {
		end-- // an LF may follow
	}
	return end
}

// hand completes b with the first cut bytes of buf and keeps the rest.
func (s *splitter) hand(b *block, buf []byte, cut int) error {
	if len(buf) == 0 && b.torn == nil {
		b.data = buf
		return io.EOF
	}
	s.carry = append(s.carry[:0], buf[cut:]...)
	b.line = s.line
	s.line += countLines(buf[:cut])
	tail := buf[cut : cut+slack]
	for i := range tail {
		tail[i] = '\n'
	}
	b.data = buf[:cut]
	if b.torn != nil {
		s.end = io.EOF // told once
	}
	return nil
}

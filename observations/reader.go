package observations

import (
	"cmp"
	"io"
	"math"
	"slices"
	"time"
)

// Record is one thing a Reader found; exactly one of its fields is set. What
// they point to holds until the next call of Next.
type Record struct {
	Report  *Report
	Claim   *Claim
	Problem *Problem
	// Rejected is a line that could not be used, or only in part, as it is,
	// with its line end. Problems tell why, unless one has told for the whole
	// source. A line too long comes in several pieces.
	Rejected []byte
}

// Reader reads one source record by record, in the order of its lines, holding
// one block of it in memory. It neither sorts nor chooses. Use it like
//
//	r := observations.NewReader("log.csv", file)
//	for r.Next() {
//		use(r.Record())
//	}
//	err := r.Err()
type Reader struct {
	// Moment, set before the first call of Next, is what tells the day of typed
	// lists without a date: the last such time at or before it. With a zero
	// Moment they are problems.
	Moment time.Time

	name     string
	src      io.Reader
	split    *splitter
	release  func()
	parser   *parser
	block    block
	batch    batch
	general  bool
	channels []string
	numbers  map[string]uint16
	records  []lined
	next     int
	counts   Counts
	err      error
}

// lined is a record and the line it stands for in the order of records.
type lined struct {
	line int
	Record
}

// NewReader returns a Reader of a stream, packed or not, that problems call by
// the given name.
func NewReader(name string, src io.Reader) *Reader {
	return &Reader{name: name, src: src, numbers: map[string]uint16{}}
}

// Next finds the next record, and tells whether there is one.
func (r *Reader) Next() bool {
	r.next++
	for r.next >= len(r.records) {
		if r.err != nil || !r.start() || !r.fill() {
			return false
		}
	}
	return true
}

// Record returns what Next has found.
func (r *Reader) Record() Record { return r.records[r.next].Record }

// Err returns why reading ended early, nil if it did not.
func (r *Reader) Err() error {
	if r.err == io.EOF {
		return nil
	}
	return r.err
}

// Site returns the site of a number used in a report or a claim.
func (r *Reader) Site(id SiteID) Site { return r.parser.sites.sites[id] }

// Channel returns the name of the channel a report or a claim belongs to, ""
// if it names none.
func (r *Reader) Channel(number uint16) string {
	if number == 0 {
		return ""
	}
	return r.channels[number-1]
}

// Counts accounts for the blocks read so far; after the last record, for all
// reports. Those that are good count as Used.
func (r *Reader) Counts() Counts { return r.counts }

func (r *Reader) start() bool {
	if r.split != nil {
		return true
	}
	sp := allTimes(refuseUndated)
	if !r.Moment.IsZero() {
		sp = allTimes(resolveUndated)
		sp.moment = r.Moment.Unix()
	}
	lim := limits{block: 2 * usualLimits.record, record: usualLimits.record}
	r.parser = newParser(lim, sp, math.MaxInt)
	stream, release, err := unpack(r.src, nil)
	if err != nil {
		r.err = err
		return false
	}
	r.release = release
	r.split = newSplitter(stream, lim)
	r.split.eager = true
	return true
}

// fill reads a block and lines up its records.
func (r *Reader) fill() bool {
	if r.err = r.split.next(&r.block); r.err != nil {
		r.release()
		return false
	}
	out := &r.batch
	r.parser.parse(&r.block, 0, out.end, out)
	r.nameChannels()
	r.records, r.next = r.records[:0], 0
	r.addProblems()
	for i := range out.reports {
		x := &out.reports[i]
		r.add(int(x.Line), Record{Report: x})
	}
	for i := range out.claims {
		x := &out.claims[i]
		r.add(int(x.Line), Record{Claim: x})
	}
	for _, x := range out.rejects {
		r.add(x.line, Record{Rejected: r.block.data[x.from:x.to]})
	}
	byLine := func(a, b lined) int { return cmp.Compare(a.line, b.line) }
	if !slices.IsSortedFunc(r.records, byLine) {
		slices.SortStableFunc(r.records, byLine)
	}
	r.counts.Read += out.counts.Read
	r.counts.Rejected += out.counts.Rejected
	r.counts.Used += len(out.reports)
	return true
}

func (r *Reader) add(line int, x Record) { r.records = append(r.records, lined{line, x}) }

func (r *Reader) addProblems() {
	for i := range r.batch.problems {
		n := &r.batch.problems[i]
		if n.general && r.general {
			continue
		}
		r.general = r.general || n.general
		n.Source = r.name
		r.add(n.Line, Record{Problem: &n.Problem})
	}
}

// nameChannels gives the channels of a batch numbers that last.
func (r *Reader) nameChannels() {
	if len(r.batch.channels) == 0 {
		return
	}
	numbers := make([]uint16, len(r.batch.channels)+1)
	for i, name := range r.batch.channels {
		n, ok := r.numbers[name]
		if !ok && len(r.channels) < maxChannels {
			r.channels = append(r.channels, name)
			n = uint16(len(r.channels))
			r.numbers[name] = n
		}
		numbers[i+1] = n
	}
	for i := range r.batch.reports {
		r.batch.reports[i].Channel = numbers[r.batch.reports[i].Channel]
	}
	for i := range r.batch.claims {
		r.batch.claims[i].Channel = numbers[r.batch.claims[i].Channel]
	}
}

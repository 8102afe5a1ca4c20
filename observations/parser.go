package observations

import (
	"bytes"
	"math"
	"time"
)

// wholeLine as the place of a problem means the line and not a byte of it.
const wholeLine = -1

// spell says which times a parser keeps and what it does with a typed list
// that has no date.
type spell struct {
	from, to int64 // Unix seconds, both kept
	undated  undated
	moment   int64 // what the day of an undated list is resolved by
}

// allTimes keeps every report.
func allTimes(u undated) spell {
	return spell{from: math.MinInt64, to: math.MaxInt64, undated: u}
}

// spellUntil keeps the window before the moment, all before it if there is none.
func spellUntil(moment int64, window time.Duration) spell {
	s := spell{from: math.MinInt64, to: moment, undated: resolveUndated, moment: moment}
	if window > 0 {
		s.from = moment - int64(window/time.Second)
	}
	return s
}

// check tells whether a report of that time and delay is kept: 0 if it is, −1
// if it is too early, 1 if it is too late.
func (s *spell) check(time, delay int64) int {
	switch {
	case time+delay > s.to:
		return 1
	case time < s.from:
		return -1
	}
	return 0
}

type undated uint8

const (
	resolveUndated  undated = iota // take the last such time at or before the moment
	postponeUndated                // hand the line back, the moment is not known yet
	refuseUndated                  // there is no moment
)

// parser turns blocks into batches. It shares nothing with other parsers.
type parser struct {
	lim         limits
	spell       spell
	maxProblems int
	sites       *directory
	told        int               // sites already handed out
	channels    map[string]uint16 // the batch's
	calendar    calendar

	// while it parses a block:
	data   []byte
	out    *batch
	layout *layout
	source uint16
	raw    []byte // the current record with its line end
	record int    // where it begins in data
	line   int    // the line of the source it begins in

	fields  []field
	row     [numColumns]value
	scratch []byte
}

func newParser(lim limits, sp spell, maxProblems int) *parser {
	return &parser{lim: lim, spell: sp, maxProblems: maxProblems, sites: newDirectory(), channels: map[string]uint16{}}
}

// batch is what was found in a block. Site and channel numbers are the
// parser's and the batch's own.
type batch struct {
	reports  []Report
	claims   []Claim
	channels []string // Report.Channel − 1 points here
	sites    []Site   // those the parser numbered since its last batch
	problems []note
	general  bool // a general problem is among them
	unkept   int  // problems beyond those kept
	rejects  []reject
	undated  []reject
	counts   Counts
	end      *layout // how the next block has to be read
}

// note is a problem; a general one is told once a source.
type note struct {
	Problem
	general bool
}

// reject is a stretch of the block and where it comes from.
type reject struct {
	from, to int
	line     int
	layout   *layout
}

func (b *batch) reset() {
	b.reports, b.claims, b.channels = b.reports[:0], b.claims[:0], b.channels[:0]
	b.problems, b.rejects, b.undated = b.problems[:0], b.rejects[:0], b.undated[:0]
	b.sites, b.unkept, b.general, b.counts, b.end = nil, 0, false, Counts{}, nil
}

// parse reads a block of the given source, laid out as the one before it ended.
func (p *parser) parse(b *block, source uint16, l *layout, out *batch) {
	out.reset()
	clear(p.channels)
	p.data, p.source, p.line, p.layout, p.out = b.data, source, b.line, l, out
	switch {
	case b.torn != nil:
		p.stump(b.torn)
	case b.long:
		p.piece(!b.more)
	default:
		if b.first && isUTF16(b.data) {
			p.record = 0
			p.problem(wholeLine, "", nil, fault{"this is UTF-16 text, so no line can be read", "save the file as UTF-8"})
			p.layout = unknownLayout
		}
		p.records()
	}
	out.end = p.layout
	out.sites = p.sites.sites[p.told:]
	p.told = len(p.sites.sites)
}

func isUTF16(b []byte) bool {
	return bytes.HasPrefix(b, []byte{0xff, 0xfe}) || bytes.HasPrefix(b, []byte{0xfe, 0xff})
}

// records reads a block of whole records: rows of the common form in one
// sweep, and every other record by itself.
func (p *parser) records() {
	for pos := 0; pos < len(p.data); {
		if p.layout.hasRows() {
			if pos = p.sweep(pos); pos == len(p.data) {
				return
			}
		}
		end, _ := recordEnd(p.data, pos, p.lim.record, true)
		p.one(pos, end)
		p.line += countLines(p.raw)
		pos = end
	}
}

// one reads the record data[from:to], its line end included.
func (p *parser) one(from, to int) {
	p.record, p.raw = from, p.data[from:to]
	text := bytes.TrimRight(p.raw, "\r\n")
	switch {
	case len(bytes.TrimSpace(text)) == 0:
	case len(p.raw) > p.lim.record:
		p.tooLong()
	case p.layout.hasRows():
		p.split(text)
		p.columnsRow(text)
	case first(text) == '#' && (p.layout == nil || !p.layout.unusable):
	default:
		p.split(text)
		if !p.otherForm(text) {
			p.unknownForm(text)
		}
	}
}

// first is the first byte of a line that is not blank.
func first(text []byte) byte {
	text, _ = trim(text)
	return text[0]
}

// otherForm reads a record that says itself what it is, whatever the lines
// before it were: a header line, an object, a typed list.
func (p *parser) otherForm(text []byte) bool {
	known, need := knownNames(p.fields)
	switch {
	case need == required, known >= 2 && (p.layout == nil || len(p.layout.columns) == 0):
		p.layout = p.readHeader(p.raw, p.fields)
		return true
	case first(text) == '{':
		p.settle()
		p.object(text)
		return true
	case looksTyped(text):
		p.settle()
		p.typed(text)
		return true
	}
	return false
}

// settle notes that a source has begun without a header.
func (p *parser) settle() {
	if p.layout == nil {
		p.layout = freeLayout
	}
}

// unknownForm takes a record that is none of the known forms.
func (p *parser) unknownForm(text []byte) {
	if p.layout == nil {
		p.opening(text)
	}
	if !p.layout.unusable {
		p.problem(wholeLine, "", text, fault{
			"neither a typed list, nor an object in braces, nor a row below a header line",
			"write it like \"2026-03-02 1420Z MILL copies HARBOR -9\", or take the line out",
		})
	}
	p.reject(1)
}

// opening judges the first line of a source that is none of the known forms.
func (p *parser) opening(text []byte) {
	p.layout = freeLayout
	const header = "time,receiver,sender,snr_db"
	switch {
	case first(text) == '[':
		p.layout = unknownLayout
		p.problem(wholeLine, "", text, fault{
			"a list in brackets, so no line can be read", "write one object in braces on each line, without brackets and commas around them",
		})
	case bytes.Count(text, []byte{';'}) >= required-1, bytes.Count(text, []byte{'\t'}) >= required-1:
		p.layout = unknownLayout
		p.problem(wholeLine, "", text, fault{
			"fields must be parted by commas, so no row can be read", "save the file with commas and the header line " + header,
		})
	case bytes.Count(text, []byte{','}) >= required-1:
		p.layout = unknownLayout
		p.problem(wholeLine, "", text, fault{
			"no header line, so no row can be read", "put a line before it that names the columns, such as " + header,
		})
	}
}

// tooLong takes a line that is too long, or its first piece.
func (p *parser) tooLong() {
	p.settle()
	p.problem(wholeLine, "", p.raw, fault{
		"a line too long to be a report", "take the line out, or see whether line ends got lost",
	})
	p.reject(1)
}

// piece takes a block that is a piece of a line too long.
func (p *parser) piece(first bool) {
	p.record, p.raw = 0, p.data
	if first {
		p.tooLong()
	} else {
		p.keepRaw(&p.out.rejects)
	}
}

// stump takes what damage has left of a record.
func (p *parser) stump(cause error) {
	p.record, p.raw = 0, p.data
	p.problem(wholeLine, "", p.data, fault{
		"the compressed data is damaged from here on (" + cause.Error() + "); what came before was read",
		"get the file once more, or unpack what can be saved of it",
	})
	if len(p.data) > 0 {
		p.reject(1)
	}
}

// reject counts n reports of the current record as rejected and keeps the
// record for Options.Rejects.
func (p *parser) reject(n int) {
	p.out.counts.Read += n
	p.out.counts.Rejected += n
	p.keepRaw(&p.out.rejects)
}

func (p *parser) keepRaw(list *[]reject) {
	*list = append(*list, reject{p.record, p.record + len(p.raw), p.line, p.layout})
}

// keep sorts a report by time.
func (p *parser) keep(r *Report) {
	p.out.counts.Read++
	switch p.spell.check(r.Time, int64(r.Delay)) {
	case 1:
		p.out.counts.Later++
	case -1:
		p.out.counts.Earlier++
	default:
		p.out.reports = append(p.out.reports, *r)
	}
}

func (p *parser) problem(at int, name string, value []byte, f fault) {
	p.note(at, name, value, f, false, false)
}

func (p *parser) warning(at int, name string, value []byte, f fault) {
	p.note(at, name, value, f, true, false)
}

// note reports what is wrong at byte at of the current record.
func (p *parser) note(at int, name string, value []byte, f fault, warning, general bool) {
	if len(p.out.problems) >= p.maxProblems && !general {
		p.out.unkept++
		return
	}
	n := note{general: general, Problem: Problem{
		Line: p.line, Field: name, Value: visible(value), Message: f.message, Mend: f.mend, Warning: warning,
	}}
	if at != wholeLine {
		before := p.data[p.record : p.record+at]
		n.Line += countLines(before)
		n.Column = len(before) - lastLineEnd(before, len(before)+1) + 1
	}
	p.out.problems = append(p.out.problems, n)
}

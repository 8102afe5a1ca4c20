package observations

import (
	"bytes"
	"slices"
)

// wholeLine as the place of a problem means the line and not a byte of it.
const wholeLine = -1

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

// fewKept is how many reports of a block tell how many there will be.
const fewKept = 32

// foresee makes room for the reports of the block, going by those before byte pos.
func (p *parser) foresee(pos int) {
	if n := len(p.out.reports); n >= fewKept && pos > 0 {
		all := float64(n) * float64(len(p.data)) / float64(pos)
		p.out.reports = slices.Grow(p.out.reports, max(int(1.05*all)-n, 1))
	}
}

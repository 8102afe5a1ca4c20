package observations

import "bytes"

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

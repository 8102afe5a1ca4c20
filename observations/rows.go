package observations

import (
	"bytes"
	"strconv"
)

// field is one field of a row: its text without quotes and spaces around it,
// and where it begins in the record.
type field = value

// split cuts a record at its commas into p.fields, taking quotes off. A quote
// that doesn't begin a field, or that is never closed, is an ordinary character.
func (p *parser) split(record []byte) {
	p.fields, p.scratch = p.fields[:0], p.scratch[:0]
	for pos := 0; ; pos++ {
		var f field
		f, pos = p.nextField(record, pos)
		p.fields = append(p.fields, f)
		if pos >= len(record) {
			return
		}
	}
}

// nextField reads the field that starts at pos and returns where its comma is.
func (p *parser) nextField(record []byte, pos int) (f field, end int) {
	if pos < len(record) && record[pos] == '"' {
		if at, ok := closingQuote(record, pos+1, len(record), true); ok {
			text, before := trim(p.unquote(record[pos+1 : at]))
			return field{text, pos + 1 + before}, at + 1
		}
	}
	end = len(record)
	if i := bytes.IndexByte(record[pos:], ','); i >= 0 {
		end = pos + i
	}
	text, before := trim(record[pos:end])
	return field{text, pos + before}, end
}

// unquote turns doubled quotes into single ones, in p.scratch if there are any.
func (p *parser) unquote(text []byte) []byte {
	if bytes.IndexByte(text, '"') < 0 {
		return text
	}
	start := len(p.scratch)
	for i := 0; i < len(text); i++ {
		p.scratch = append(p.scratch, text[i])
		if text[i] == '"' {
			i++
		}
	}
	return p.scratch[start:]
}

// columnsRow makes a report of p.fields by the columns in force, unless the
// record turns out to be of another form.
func (p *parser) columnsRow(text []byte) {
	columns := p.layout.columns
	p.row = [numColumns]value{}
	if len(p.fields) == len(columns) {
		for i, c := range columns {
			if c != colOther {
				p.row[c] = p.fields[i]
			}
		}
		if _, ok := parseTime(p.row[colTime].text); ok {
			p.build()
			return
		}
	}
	if p.otherForm(text) {
		return
	}
	if len(p.fields) == len(columns) {
		p.build()
		return
	}
	p.problem(wholeLine, "", text, p.countFault(text))
	p.reject(1)
}

func (p *parser) countFault(text []byte) fault {
	have, want := len(p.fields), len(p.layout.columns)
	f := fault{
		"fields: " + strconv.Itoa(have) + ", but the header line names " + strconv.Itoa(want),
		"give every column its field; a text with commas in it belongs in quotes",
	}
	if i := bytes.IndexByte(text, '"'); i >= 0 && have < want {
		f.mend = "see whether a quote is left open"
	}
	return f
}

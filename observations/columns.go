package observations

import (
	"bytes"
	"strings"
)

// column is what a field of a row, or a key of a JSON object, holds.
type column uint8

const (
	colTime column = iota
	colReceiver
	colSender
	colSNR
	colFrequency
	colReceiverLocator
	colSenderLocator
	colPower
	colReceived
	numColumns
	colOther = numColumns
)

// required is how many columns, from the first, a row can't do without.
const required = 4

var columnNames = [numColumns]string{
	"time", "receiver", "sender", "snr_db", "frequency_hz", "receiver_locator", "sender_locator", "power_w", "received",
}

// columnOf finds a column by its name, in any case.
func columnOf(name []byte) column {
	if len(name) <= len("receiver_locator") {
		for c, known := range columnNames {
			if strings.EqualFold(known, string(name)) {
				return column(c)
			}
		}
	}
	return colOther
}

// layout is how the records of a source are read from some line on. A nil
// layout means that nothing has been seen yet; one without columns that every
// line speaks for itself (JSON lines, typed lists).
type layout struct {
	header  []byte   // the line that named the columns, with its line end
	columns []column // none: each line for itself
	// unusable: the columns are not known or a required one is missing. Rows
	// are counted and passed over; one problem has been reported for them all.
	unusable bool
}

var (
	freeLayout    = &layout{}
	unknownLayout = &layout{unusable: true}
)

// hasRows tells whether lines are rows whose columns are known.
func (l *layout) hasRows() bool { return l != nil && len(l.columns) > 0 && !l.unusable }

func (l *layout) same(m *layout) bool {
	if l == nil || m == nil {
		return l == m
	}
	return l.unusable == m.unusable && bytes.Equal(l.header, m.header)
}

// maxHeader is how many columns a header line can have.
const maxHeader = 1000

// knownNames counts the fields that are names of columns, and of those how
// many different required ones.
func knownNames(fields []field) (known, need int) {
	if len(fields) > maxHeader {
		return 0, 0
	}
	var seen [numColumns]bool
	for i := range fields {
		if c := columnOf(fields[i].text); c != colOther && !seen[c] {
			seen[c] = true
			known++
			if c < required {
				need++
			}
		}
	}
	return known, need
}

// readHeader makes a layout of a header line and reports what is odd in it.
func (p *parser) readHeader(line []byte, fields []field) *layout {
	if p.layout != nil && bytes.Equal(line, p.layout.header) {
		return p.layout // once more, as where files were put together
	}
	l := &layout{header: bytes.Clone(line), columns: make([]column, len(fields))}
	var seen [numColumns]bool
	var others []field
	for i, f := range fields {
		c := columnOf(f.text)
		l.columns[i] = c
		switch {
		case c == colOther:
			others = append(others, f)
		case seen[c]:
			l.unusable = true
			p.problem(f.at, columnNames[c], f.text, fault{
				"the header names this column twice, so no row below it can be used", "keep one of the two",
			})
		default:
			seen[c] = true
		}
	}
	for c := range required {
		if !seen[c] {
			l.unusable = true
			p.problem(wholeLine, columnNames[c], nil, p.missingColumn(columnNames[c], others))
		}
	}
	if len(others) > 0 {
		p.warning(others[0].at, "", others[0].text, fault{
			"columns passed over: " + nameList(others), p.likelyColumn(others, &seen),
		})
	}
	return l
}

func (p *parser) missingColumn(name string, others []field) fault {
	mend := "the header line must name time, receiver, sender and snr_db"
	for _, f := range others {
		if near, ok := Nearest(string(f.text), []string{name}); ok {
			mend = "is \"" + visible(f.text) + "\" meant? Call it " + near
		}
	}
	return fault{"the header line has no column " + name + ", so no row below it can be used", mend}
}

// likelyColumn suggests the optional column that an unknown one may be.
func (p *parser) likelyColumn(others []field, seen *[numColumns]bool) string {
	var open []string
	for c := column(required); c < numColumns; c++ {
		if !seen[c] {
			open = append(open, columnNames[c])
		}
	}
	for _, f := range others {
		if near, ok := Nearest(string(f.text), open); ok {
			return "if \"" + visible(f.text) + "\" is " + near + ", call it so"
		}
	}
	return "nothing, if they are not needed"
}

func nameList(fields []field) string {
	const most = 8
	var names []string
	for i, f := range fields {
		if i == most {
			names = append(names, "…")
			break
		}
		if len(f.text) == 0 {
			names = append(names, "(no name)")
			continue
		}
		names = append(names, visible(f.text))
	}
	return strings.Join(names, ", ")
}

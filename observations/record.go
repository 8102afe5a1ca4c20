package observations

import "bytes"

// limits bound the memory a source can take.
type limits struct {
	block  int // bytes read at a time
	record int // longest record in bytes, its line end included
}

var usualLimits = limits{block: 1 << 20, record: 1 << 16}

// lineEnd returns where the line that starts at pos ends, its line end
// (LF, CRLF or a lone CR) included, and whether there is one. A CR that is the
// last byte ends a line only when nothing more comes.
func lineEnd(b []byte, pos int, last bool) (end int, ok bool) {
	for window := 256; pos < len(b); window *= 2 {
		w := b[pos:min(len(b), pos+window)]
		lf := bytes.IndexByte(w, '\n')
		if lf >= 0 {
			w = w[:lf]
		}
		if cr := bytes.IndexByte(w, '\r'); cr >= 0 {
			return afterCR(b, pos+cr, last)
		}
		if lf >= 0 {
			return pos + lf + 1, true
		}
		pos += len(w)
	}
	return len(b), false
}

// afterCR returns where the line end ends whose CR is at cr.
func afterCR(b []byte, cr int, last bool) (end int, ok bool) {
	switch {
	case cr+1 == len(b):
		return cr + 1, last
	case b[cr+1] == '\n':
		return cr + 2, true
	}
	return cr + 1, true
}

// recordEnd returns where the record that starts at pos ends, its line end
// included; ok is false if it goes on beyond b. With last set nothing comes
// after b and every record ends there at the latest.
//
// A record is a line, except that a field that begins with a quote may hold
// line ends (RFC 4180). A quote that is not closed properly, or a record of
// several lines that is longer than most bytes, doesn't do that: then the
// record is its first line, so that a slip of one row can't take the rest of
// the file with it. A line that begins with a brace is an object and always a
// record of its own.
func recordEnd(b []byte, pos, most int, last bool) (end int, ok bool) {
	end, ok = len(b), false
	if b[pos] != '{' {
		end, ok = quotedRecordEnd(b, pos, most, last)
		if !ok && !last && len(b)-pos <= most {
			return len(b), false
		}
	}
	if !ok || end-pos > most {
		end, ok = lineEnd(b, pos, last)
	}
	return end, ok || last
}

// quotedRecordEnd is recordEnd where all quotes are in order; ok is false if
// they are not or the end is not in sight.
func quotedRecordEnd(b []byte, pos, most int, last bool) (end int, ok bool) {
	fresh := true // at the start of a field
	for i := pos; i < len(b); i++ {
		switch c := b[i]; {
		case c == '"' && fresh:
			if i, ok = closingQuote(b, i+1, min(len(b), pos+most), last); !ok {
				return len(b), false
			}
			fresh = false
		case c == '\n':
			return i + 1, true
		case c == '\r':
			return afterCR(b, i, last)
		default:
			fresh = c == ','
		}
	}
	return len(b), last
}

// closingQuote finds the quote that closes a field whose text starts at pos,
// looking no farther than end. Two quotes stand for one. It is not ok if there
// is none, or if more text of the field comes after it.
func closingQuote(b []byte, pos, end int, last bool) (at int, ok bool) {
	for pos < end {
		i := bytes.IndexByte(b[pos:end], '"')
		if i < 0 {
			return 0, false
		}
		at = pos + i
		if at+1 == len(b) {
			return at, last
		}
		switch b[at+1] {
		case '"':
			pos = at + 2
		case ',', '\n', '\r':
			return at, true
		default:
			return 0, false
		}
	}
	return 0, false
}

// lastRecordEnd returns where the last whole record of b ends, more being to
// come; b starts with a record. Only records with quotes are walked through.
func lastRecordEnd(b []byte, most int) int {
	for done := 0; ; {
		rest := b[done:]
		quote := bytes.IndexByte(rest, '"')
		if quote < 0 {
			return done + lastLineEnd(rest, len(rest))
		}
		done += lastLineEnd(rest[:quote], len(rest))
		end, ok := recordEnd(b, done, most, false)
		if !ok {
			return done
		}
		if done = end; done == len(b) {
			return done
		}
	}
}

// lastLineEnd returns where the last whole line of b ends, 0 if there is none.
// A CR at the end of all that is known, of total bytes, does not count yet.
func lastLineEnd(b []byte, total int) int {
	end := bytes.LastIndexByte(b, '\n') + 1
	if i := bytes.LastIndexByte(b[end:], '\r'); i >= 0 {
		if cr := end + i; cr+1 < total {
			return cr + 1
		}
		return end + bytes.LastIndexByte(b[end:end+i], '\r') + 1
	}
	return end
}

// countLines counts line ends.
func countLines(b []byte) int {
	n := bytes.Count(b, []byte{'\n'})
	for {
		i := bytes.IndexByte(b, '\r')
		if i < 0 {
			return n
		}
		if i+1 == len(b) || b[i+1] != '\n' {
			n++
		}
		b = b[i+1:]
	}
}

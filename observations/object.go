package observations

// maxDepth is how deep lists and objects that are passed over may lie in each other.
const maxDepth = 200

// object reads a record that is a JSON object (RFC 8259) on one line, with the
// names of the columns as keys and numbers or texts as values. null is the
// same as nothing.
func (p *parser) object(text []byte) {
	for c := range p.row {
		p.row[c] = value{at: wholeLine}
	}
	p.scratch = p.scratch[:0]
	s := objectScanner{p: p, text: text}
	if !s.object() {
		p.problem(s.pos, "", text[min(s.pos, len(text)):], fault{
			"not an object in braces: " + s.wrong, `write it like {"time":"2026-03-02T14:20:00Z","receiver":"MILL","sender":"HARBOR","snr_db":-9}`,
		})
		p.reject(1)
		return
	}
	if s.badValue {
		p.reject(1)
		return
	}
	p.build()
}

// objectScanner walks over the text of one object.
type objectScanner struct {
	p        *parser
	text     []byte
	pos      int
	wrong    string // what is wrong at pos
	badValue bool   // a value of the wrong kind has been reported
	seen     [numColumns]bool
}

func (s *objectScanner) fail(wrong string) bool {
	if s.wrong == "" {
		s.wrong = wrong
	}
	return false
}

// peek steps over white space and returns the next byte, 0 at the end.
func (s *objectScanner) peek() byte {
	for ; s.pos < len(s.text); s.pos++ {
		switch c := s.text[s.pos]; c {
		case ' ', '\t', '\r', '\n':
		default:
			return c
		}
	}
	return 0
}

// accept steps over c if it comes next.
func (s *objectScanner) accept(c byte) bool {
	if s.peek() != c || s.pos == len(s.text) {
		return false
	}
	s.pos++
	return true
}

func (s *objectScanner) object() bool {
	s.accept('{')
	if !s.accept('}') {
		for {
			if !s.member() {
				return false
			}
			if s.accept('}') {
				break
			}
			if !s.accept(',') {
				return s.fail("a comma or a closing brace is missing")
			}
		}
	}
	s.peek()
	return s.pos == len(s.text) || s.fail("more text after the closing brace")
}

// member reads a key and its value into p.row.
func (s *objectScanner) member() bool {
	if s.peek() != '"' {
		return s.fail("a key in quotes is missing")
	}
	at := s.pos + 1
	key, ok := s.string(true)
	if !ok {
		return false
	}
	if !s.accept(':') {
		return s.fail("a colon is missing after the key")
	}
	c := columnOf(key)
	if c == colOther {
		s.unknownKey(key, at)
		return s.skip(0)
	}
	if s.seen[c] {
		s.pos = at
		return s.fail("the key " + columnNames[c] + " is there twice")
	}
	s.seen[c] = true
	return s.value(c)
}

// value reads the value of a column.
func (s *objectScanner) value(c column) bool {
	next := s.peek()
	start := s.pos
	switch {
	case next == '"':
		text, ok := s.string(true)
		trimmed, before := trim(text)
		s.p.row[c] = value{trimmed, start + 1 + before}
		return ok
	case next == '-', next-'0' <= 9:
		ok := s.number()
		s.p.row[c] = value{s.text[start:s.pos], start}
		return ok
	}
	if !s.skip(0) {
		return false
	}
	if next != 'n' { // null
		s.badValue = true
		s.p.problem(start, columnNames[c], s.text[start:s.pos], fault{"neither a number nor a text", "write a number, or a text in quotes"})
	}
	s.p.row[c].at = start
	return true
}

// unknownKey tells once a source that keys are passed over.
func (s *objectScanner) unknownKey(key []byte, at int) {
	if s.p.out.general {
		return
	}
	mend := "nothing, if it is not needed"
	if near, ok := Nearest(string(key), columnNames[:]); ok {
		mend = "if " + near + " is meant, call it so"
	}
	s.p.note(at, "", key, fault{"a key that is not known, passed over here and below, as are all others", mend}, true, true)
}

// skip steps over a value of any kind.
func (s *objectScanner) skip(depth int) bool {
	switch c := s.peek(); {
	case c == '"':
		_, ok := s.string(false)
		return ok
	case c == '-', c-'0' <= 9:
		return s.number()
	case c == 't':
		return s.word("true")
	case c == 'f':
		return s.word("false")
	case c == 'n':
		return s.word("null")
	case c == '{' || c == '[':
		return s.nested(c+2, depth+1) // both close two places on
	}
	return s.fail("a value is missing")
}

func (s *objectScanner) nested(closing byte, depth int) bool {
	if depth > maxDepth {
		return s.fail("nested too deep")
	}
	s.pos++
	if s.accept(closing) {
		return true
	}
	for {
		if closing == '}' {
			if s.peek() != '"' {
				return s.fail("a key in quotes is missing")
			}
			if _, ok := s.string(false); !ok {
				return false
			}
			if !s.accept(':') {
				return s.fail("a colon is missing after the key")
			}
		}
		if !s.skip(depth) {
			return false
		}
		if s.accept(closing) {
			return true
		}
		if !s.accept(',') {
			return s.fail("a comma or a closing bracket is missing")
		}
	}
}

package observations

import (
	"unicode/utf16"
	"unicode/utf8"
)

func (s *objectScanner) word(w string) bool {
	if len(s.text)-s.pos < len(w) || string(s.text[s.pos:s.pos+len(w)]) != w {
		return s.fail("a value is missing")
	}
	s.pos += len(w)
	return true
}

func (s *objectScanner) digits() bool {
	start := s.pos
	for s.pos < len(s.text) && s.text[s.pos]-'0' <= 9 {
		s.pos++
	}
	return s.pos > start || s.fail("a digit is missing")
}

func (s *objectScanner) at(chars string) bool {
	if s.pos < len(s.text) {
		for i := range len(chars) {
			if s.text[s.pos] == chars[i] {
				s.pos++
				return true
			}
		}
	}
	return false
}

func (s *objectScanner) number() bool {
	s.at("-")
	if !s.at("0") && !s.digits() {
		return false
	}
	if s.at(".") && !s.digits() {
		return false
	}
	if s.at("eE") {
		s.at("+-")
		return s.digits()
	}
	return true
}

// string reads a text in quotes, resolving what is escaped if keep is set.
func (s *objectScanner) string(keep bool) (text []byte, ok bool) {
	s.pos++
	start := s.pos
	for ; s.pos < len(s.text); s.pos++ {
		switch c := s.text[s.pos]; {
		case c == '"':
			s.pos++
			return s.text[start : s.pos-1], true
		case c < ' ':
			return nil, s.fail("a control character in a text")
		case c == '\\':
			return s.escaped(start, keep)
		}
	}
	return nil, s.fail("a quote is not closed")
}

// escaped reads the rest of a text that began at start and has an escape at pos.
func (s *objectScanner) escaped(start int, keep bool) (text []byte, ok bool) {
	buf := s.p.scratch
	begin := len(buf)
	buf = append(buf, s.text[start:s.pos]...)
	for s.pos < len(s.text) {
		switch c := s.text[s.pos]; {
		case c == '"':
			s.pos++
			if keep {
				s.p.scratch = buf
			}
			return buf[begin:], true
		case c < ' ':
			return nil, s.fail("a control character in a text")
		case c != '\\':
			buf = append(buf, c)
			s.pos++
		default:
			r, ok := s.escape()
			if !ok {
				return nil, s.fail("an unknown escape in a text")
			}
			buf = utf8.AppendRune(buf, r)
		}
	}
	return nil, s.fail("a quote is not closed")
}

// escape reads one escape, two for a pair of surrogates.
func (s *objectScanner) escape() (rune, bool) {
	if s.pos+1 >= len(s.text) {
		return 0, false
	}
	c := s.text[s.pos+1]
	if c != 'u' {
		const from, to = `"\/bfnrt`, "\"\\/\b\f\n\r\t"
		for i := range len(from) {
			if c == from[i] {
				s.pos += 2
				return rune(to[i]), true
			}
		}
		return 0, false
	}
	r, ok := s.hex(s.pos)
	if !ok {
		return 0, false
	}
	s.pos += 6
	if utf16.IsSurrogate(r) {
		if low, ok := s.hex(s.pos); ok {
			if pair := utf16.DecodeRune(r, low); pair != utf8.RuneError {
				s.pos += 6
				return pair, true
			}
		}
		return utf8.RuneError, true
	}
	return r, true
}

// hex reads the escape \uXXXX at pos.
func (s *objectScanner) hex(pos int) (rune, bool) {
	if pos+6 > len(s.text) || s.text[pos] != '\\' || s.text[pos+1] != 'u' {
		return 0, false
	}
	var r rune
	for _, c := range s.text[pos+2 : pos+6] {
		switch d := c | 0x20; {
		case c-'0' <= 9:
			r = r<<4 | rune(c-'0')
		case d >= 'a' && d <= 'f':
			r = r<<4 | rune(d-'a'+10)
		default:
			return 0, false
		}
	}
	return r, true
}

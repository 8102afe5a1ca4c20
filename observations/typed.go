package observations

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// Typed lists are what an operator writes down, one list a line:
//
//	[DATE] TIME [all] RECEIVER copies SENDER SNR[, SENDER SNR]… [on CHANNEL]
//
// DATE is 2026-03-02 and TIME 1420Z, 142030Z, 14:20Z or 14:20:30Z, or both
// together are a time of RFC 3339. all claims that the list is complete over
// the listening window up to that time; then `copies nobody` is a list too. An
// SNR may have dB behind it. A line that begins with # is a remark.

// maxChannel is the longest channel name in bytes.
const maxChannel = 64

// maxChannels is how many channels a Log can name.
const maxChannels = 1<<16 - 2

// looksTyped tells whether a line is meant as a typed list: it has the word
// copies and no comma before it.
func looksTyped(text []byte) bool {
	l := typedLine{text: text}
	for {
		w := l.next()
		switch {
		case len(w.text) == 0 || w.text[0] == ',' || w.text[0] == '"':
			return false
		case isWord(w, "copies"):
			return true
		}
	}
}

// typedLine walks over a line word by word; a comma is a word of its own.
type typedLine struct {
	text []byte
	pos  int
}

// next returns the next word, an empty one at the end of the line.
func (l *typedLine) next() value {
	for l.pos < len(l.text) {
		r, size := utf8.DecodeRune(l.text[l.pos:])
		if !unicode.IsSpace(r) {
			break
		}
		l.pos += size
	}
	start := l.pos
	for l.pos < len(l.text) {
		r, size := utf8.DecodeRune(l.text[l.pos:])
		if unicode.IsSpace(r) || r == ',' && l.pos > start {
			break
		}
		l.pos += size
		if r == ',' {
			break
		}
	}
	return value{l.text[start:l.pos], start}
}

// peek returns the next word without stepping over it.
func (l *typedLine) peek() value {
	ahead := *l
	return ahead.next()
}

func isWord(w value, word string) bool {
	return len(w.text) == len(word) && strings.EqualFold(string(w.text), word)
}

// typedList is the part of a list that all its reports share.
type typedList struct {
	report  Report
	station uint32 // of the receiver
	all     bool
	bad     int // items that could not be used
	listed  int // items
}

// typed reads a record that is a typed list.
func (p *parser) typed(text []byte) {
	l := typedLine{text: text}
	list := typedList{report: Report{Line: clampLine(p.line), Source: p.source}}
	if p.typedTime(&l, &list) && p.typedReceiver(&l, &list) {
		p.typedItems(l, &list)
	}
}

// refuse rejects a whole line for one word of it.
func (p *parser) refuse(w value, name string, f fault) bool {
	p.problem(w.at, name, w.text, f)
	p.reject(1)
	return false
}

func (p *parser) typedTime(l *typedLine, list *typedList) bool {
	w := l.next()
	if looksLikeTime(w.text) {
		t, f := timeOf(w.text)
		if !f.isNone() {
			return p.refuse(w, "time", f)
		}
		list.report.Time = t
		return true
	}
	day, dated := int64(0), len(w.text) == 10 && looksLikeDay(w.text)
	if dated {
		var ok bool
		if day, ok = parseDay(w.text); !ok {
			return p.refuse(w, "time", fault{"no such day", "write the date like 2026-03-02"})
		}
		w = l.next()
	}
	second, ok := timeOfDay(w.text)
	if !ok {
		return p.refuse(w, "time", fault{"not a time of day in UTC", "write hours and minutes with a Z like 1420Z"})
	}
	if dated {
		list.report.Time = day + second
		if list.report.Time < firstTime || list.report.Time >= endOfTime {
			return p.refuse(w, "time", fault{"outside the years 1970 to 2099", "see whether the year is wrong"})
		}
		return true
	}
	return p.undated(w, second, list)
}

func looksLikeTime(text []byte) bool { return len(text) > 11 && looksLikeDay(text[:10]) }

// undated finds the day of a list that has none.
func (p *parser) undated(w value, second int64, list *typedList) bool {
	switch p.spell.undated {
	case postponeUndated:
		p.keepRaw(&p.out.undated)
		return false
	case refuseUndated:
		return p.refuse(w, "time", fault{
			"there is no date, and no dated report that would tell which day is meant", "put the date before the time like 2026-03-02 1420Z",
		})
	}
	t := p.spell.moment - mod(p.spell.moment, secondsPerDay) + second
	if t > p.spell.moment {
		t -= secondsPerDay
	}
	if t < firstTime {
		return p.refuse(w, "time", fault{"outside the years 1970 to 2099", "put the date before the time like 2026-03-02 1420Z"})
	}
	list.report.Time = t
	return true
}

func mod(a, b int64) int64 { return ((a % b) + b) % b }

// timeOfDay reads 1420Z, 142030Z, 14:20Z or 14:20:30Z as seconds since 00:00.
func timeOfDay(text []byte) (int64, bool) {
	if n := len(text); n == 0 || text[n-1]|0x20 != 'z' {
		return 0, false
	}
	digits := text[:len(text)-1]
	switch {
	case len(digits) == 5 && digits[2] == ':':
		digits = []byte{digits[0], digits[1], digits[3], digits[4], '0', '0'}
	case len(digits) == 8 && digits[2] == ':' && digits[5] == ':':
		digits = []byte{digits[0], digits[1], digits[3], digits[4], digits[6], digits[7]}
	case len(digits) == 4:
		digits = append(append(make([]byte, 0, 6), digits...), '0', '0')
	}
	if len(digits) != 6 {
		return 0, false
	}
	var n [6]int64
	for i, c := range digits {
		if c-'0' > 9 {
			return 0, false
		}
		n[i] = int64(c - '0')
	}
	h, m, s := n[0]*10+n[1], n[2]*10+n[3], n[4]*10+n[5]
	return h*3600 + m*60 + s, h < 24 && m < 60 && s < 60
}

// typedReceiver reads up to and with the word copies.
func (p *parser) typedReceiver(l *typedLine, list *typedList) bool {
	w := l.next()
	if isWord(w, "all") {
		list.all = true
		w = l.next()
	}
	if isWord(w, "copies") {
		return p.refuse(w, "receiver", fault{"nobody is named who copies", "write the station that heard before the word copies"})
	}
	s, v := p.sites.lookup(w.text, nil)
	if v != siteKnown {
		return p.refuse(w, "receiver", callFault(w))
	}
	list.report.Receiver, list.station = s.site, s.station
	if w = l.next(); !isWord(w, "copies") {
		return p.refuse(w, "", fault{"the word copies is expected here", "write it like 2026-03-02 1420Z MILL copies HARBOR -9"})
	}
	return true
}

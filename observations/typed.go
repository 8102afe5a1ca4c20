package observations

import (
	"bytes"
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

// typedItems reads who was copied, first finding the channel at the end.
func (p *parser) typedItems(l typedLine, list *typedList) {
	items, ok := p.typedChannel(&l, list)
	if !ok {
		return
	}
	if w := items.peek(); isWord(w, "nobody") || len(w.text) == 0 {
		p.typedNobody(items, list)
		return
	}
	for {
		for items.pos < len(items.text) && isWord(items.peek(), ",") {
			items.next()
		}
		if len(items.peek().text) == 0 {
			break
		}
		p.typedItem(&items, list)
	}
	switch {
	case list.listed == 0:
		p.typedNobody(items, list)
	case list.bad > 0:
		p.keepRaw(&p.out.rejects)
	case list.all:
		p.claim(list)
	}
}

// typedChannel cuts `on CHANNEL` off the end. It returns the items before it.
func (p *parser) typedChannel(l *typedLine, list *typedList) (items typedLine, ok bool) {
	items = *l
	for start := true; ; {
		w := l.next()
		if len(w.text) == 0 {
			return items, true
		}
		// At first and after a comma, "on" with a number is a station.
		if _, number := parseDecimal(l.peek().text); isWord(w, "on") && !(start && number) {
			name, before := trim(l.text[l.pos:])
			v := value{name, l.pos + before}
			items.text = items.text[:w.at]
			return items, p.nameChannel(v, list)
		}
		start = isWord(w, ",")
	}
}

func (p *parser) nameChannel(v value, list *typedList) bool {
	switch {
	case len(v.text) == 0:
		return p.refuse(v, "channel", fault{"no channel is named after on", "write its name, or leave on out"})
	case len(v.text) > maxChannel:
		return p.refuse(v, "channel", fault{"longer than 64 bytes", "write the name the plan gives the channel"})
	case !utf8.Valid(v.text) || bytes.ContainsFunc(v.text, func(r rune) bool { return r == ',' || !unicode.IsPrint(r) }):
		return p.refuse(v, "channel", fault{"not a channel name", "write the name the plan gives the channel, at the end of the line"})
	}
	if n, ok := p.channels[string(v.text)]; ok {
		list.report.Channel = n
		return true
	}
	if len(p.out.channels) == maxChannels {
		return p.refuse(v, "channel", fault{"too many different channel names", "write the names the plan gives the channels"})
	}
	p.out.channels = append(p.out.channels, string(v.text))
	list.report.Channel = uint16(len(p.out.channels))
	p.channels[string(v.text)] = list.report.Channel
	return true
}

// typedNobody takes a list without items, which says something only if it is
// complete.
func (p *parser) typedNobody(items typedLine, list *typedList) {
	w := items.next()
	switch {
	case len(w.text) == 0:
		p.refuse(w, "sender", fault{"nobody is named who was copied", "write each station with its SNR, or `all` after the time and `copies nobody`"})
	case len(items.peek().text) != 0:
		p.refuse(items.peek(), "", fault{"nothing can come after nobody but the channel", "write `copies nobody`, or the stations with their SNR"})
	case !list.all:
		p.refuse(w, "sender", fault{"says nothing unless the list is complete", "write `all` after the time if the station listened all the time"})
	default:
		p.claim(list)
	}
}

// typedItem reads one station with its SNR.
func (p *parser) typedItem(items *typedLine, list *typedList) {
	list.listed++
	var words []value
	for len(words) < 4 {
		w := items.peek()
		if len(w.text) == 0 || isWord(w, ",") {
			break
		}
		words = append(words, items.next())
	}
	r := list.report
	w, name, f := p.readItem(words, list, &r)
	if f.isNone() {
		p.keep(&r)
		return
	}
	list.bad++
	if list.all {
		f.message += "; the list is not taken as complete"
	}
	p.problem(w.at, name, w.text, f)
	p.out.counts.Read++
	p.out.counts.Rejected++
	for w := items.peek(); len(w.text) > 0 && !isWord(w, ","); w = items.peek() {
		items.next()
	}
}

// readItem makes a report of the words of an item.
func (p *parser) readItem(words []value, list *typedList, r *Report) (w value, name string, f fault) {
	call := words[0]
	s, v := p.sites.lookup(call.text, nil)
	switch {
	case v != siteKnown:
		return call, "sender", callFault(call)
	case s.station == list.station:
		return call, "sender", fault{"a station can't hear itself", "write who was heard after the word copies"}
	case len(words) == 1:
		return call, "snr_db", fault{"no SNR after the station", "write it like HARBOR -9"}
	}
	snr := words[1]
	if n := len(snr.text); n > 2 && strings.EqualFold(string(snr.text[n-2:]), "db") {
		snr.text = snr.text[:n-2]
	} else if len(words) > 2 && isWord(words[2], "db") {
		words = append(words[:2:2], words[3:]...)
	}
	if len(words) > 2 {
		return words[2], "", fault{"a comma is missing before this", "part the stations by commas"}
	}
	r.Sender = s.site
	r.SNR, f = snrOf(snr.text)
	return snr, "snr_db", f
}

func (p *parser) claim(list *typedList) {
	r := &list.report
	if p.spell.check(r.Time, 0) != 0 {
		return
	}
	p.out.claims = append(p.out.claims, Claim{
		Time: r.Time, Receiver: r.Receiver, Line: r.Line, Source: r.Source, Channel: r.Channel,
	})
}

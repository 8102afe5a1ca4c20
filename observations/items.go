package observations

import (
	"bytes"
	"strings"
	"unicode"
	"unicode/utf8"
)

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

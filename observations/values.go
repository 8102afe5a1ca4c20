package observations

import (
	"bytes"
	"math"

	"farhop/observations/locator"
)

// Limits of what a report may say.
const (
	minSNR, maxSNR             = -60, 60 // dB
	minFrequency, maxFrequency = 1e3, 4e9
	maxPower                   = 1e7 // W
)

// value is what a record says in one column.
type value struct {
	text []byte // spaces around it taken off
	at   int    // where it begins in the record, wholeLine if it isn't there
}

// build makes a report of p.row, or reports everything that is wrong with it.
func (p *parser) build() {
	r := Report{Line: clampLine(p.line), Source: p.source}
	ok := p.buildTime(&r)
	ok = p.buildSites(&r) && ok
	ok = p.take(colSNR, func(text []byte) (f fault) { r.SNR, f = snrOf(text); return }) && ok
	ok = p.take(colFrequency, func(text []byte) (f fault) { r.Frequency, f = frequencyOf(text); return }) && ok
	ok = p.take(colPower, func(text []byte) (f fault) { r.Power, f = powerOf(text); return }) && ok
	if !ok {
		p.reject(1)
		return
	}
	p.keep(&r)
}

// empty is the fault of a value without text.
func (v *value) empty() fault {
	if v.at == wholeLine {
		return fault{"missing", "put it in, or take the line out"}
	}
	return fault{"empty", "fill it in, or take the line out"}
}

// take reads a column; an optional one may be empty.
func (p *parser) take(c column, read func([]byte) fault) bool {
	v := &p.row[c]
	if len(v.text) == 0 && c >= required {
		return true
	}
	f := v.empty()
	if len(v.text) > 0 {
		f = read(v.text)
	}
	if f.isNone() {
		return true
	}
	p.problem(v.at, columnNames[c], v.text, f)
	return false
}

func (p *parser) buildTime(r *Report) bool {
	ok := p.take(colTime, func(text []byte) (f fault) { r.Time, f = timeOf(text); return })
	var received int64
	if !p.take(colReceived, func(text []byte) (f fault) { received, f = timeOf(text); return }) {
		return false
	}
	if v := &p.row[colReceived]; ok && len(v.text) > 0 {
		if received < r.Time {
			p.warning(v.at, columnNames[colReceived], v.text, fault{
				"received before it was heard; taken as received at once", "see whether one of the clocks is off",
			})
			return true
		}
		r.Delay = uint32(received - r.Time)
	}
	return ok
}

func (p *parser) buildSites(r *Report) bool {
	receiver, ok := p.site(colReceiver, colReceiverLocator)
	sender, also := p.site(colSender, colSenderLocator)
	if !ok || !also {
		return false
	}
	if receiver.station == sender.station {
		v := &p.row[colSender]
		p.problem(v.at, columnNames[colSender], v.text, fault{
			"a station can't hear itself", "receiver is the one who heard, sender the one who was heard",
		})
		return false
	}
	r.Receiver, r.Sender = receiver.site, sender.site
	return true
}

// site reads a call sign and, if it is a good one, the locator that goes with it.
func (p *parser) site(call, place column) (s spelling, ok bool) {
	c, at := &p.row[call], &p.row[place]
	s, v := p.sites.lookup(c.text, at.text)
	if v == badPlace {
		p.warning(at.at, columnNames[place], at.text, locatorFault(at.text))
		s, v = p.sites.lookup(c.text, nil)
	}
	if v == badCall {
		p.problem(c.at, columnNames[call], c.text, callFault(*c))
	}
	return s, v == siteKnown
}

func callFault(v value) fault {
	switch {
	case len(v.text) == 0:
		return v.empty()
	case len(v.text) > maxCall:
		return fault{"longer than 20 characters", "shorten the name"}
	}
	return fault{"not a call sign", "use letters, digits and / - _ . only"}
}

func locatorFault(text []byte) fault {
	_, err := locator.Parse(string(text))
	message := "not a locator"
	if err != nil {
		message += ": " + err.Error()
	}
	return fault{message + "; the report was used without it", "write it like RE44 or RE44ab, or leave it empty"}
}

func snrOf(text []byte) (float32, fault) {
	f, ok := parseDecimal(text)
	switch {
	case !ok:
		return 0, fault{"not a number", "write the SNR in dB like -9"}
	case f < minSNR, f > maxSNR:
		return 0, fault{"outside −60…+60 dB", "give the SNR in dB in a bandwidth of 2500 Hz"}
	}
	return float32(f) + 0, fault{} // + 0 makes −0 plain
}

func frequencyOf(text []byte) (uint32, fault) {
	f, ok := parseDecimal(text)
	switch {
	case !ok:
		return 0, fault{"not a number", "write the frequency in Hz like 7131000"}
	case f > 0 && f < minFrequency:
		return 0, fault{"below 1 kHz", "write the frequency in Hz, not in kHz or MHz"}
	case f < minFrequency, f > maxFrequency:
		return 0, fault{"outside 1 kHz…4 GHz", "write the frequency in Hz like 7131000"}
	}
	return uint32(math.Round(f)), fault{}
}

func powerOf(text []byte) (float32, fault) {
	f, ok := parseDecimal(text)
	switch {
	case !ok:
		return 0, fault{"not a number", "write the power in W like 5 or 0.2"}
	case float32(f) <= 0:
		return 0, fault{"not above 0", "write the power in W (not in dBm), or leave it empty"}
	case f > maxPower:
		return 0, fault{"above 10 MW", "write the power in W"}
	}
	return float32(f), fault{}
}

func timeOf(text []byte) (int64, fault) {
	t, ok := parseTime(text)
	switch {
	case !ok:
		return 0, timeFault(text)
	case t >= 1000*firstUsual && t < 1000*endOfTime:
		return 0, fault{"far in the future", "write Unix time in seconds, not in milliseconds"}
	case t < firstTime || t >= endOfTime:
		return 0, fault{"outside the years 1970 to 2099", "see whether the clock or the year is wrong"}
	}
	return t, fault{}
}

// firstUsual is 2000-01-01: thousandfold, Unix seconds from there on are
// likely to be milliseconds.
const firstUsual = 946684800

func timeFault(text []byte) fault {
	var short [64]byte
	const mend = "write it like 2026-03-02T14:20:00Z, or as Unix seconds"
	if n := len(text); n >= 19 && n < 60 {
		if _, ok := parseTime(append(append(short[:0], text...), 'Z')); ok {
			return fault{"a time without its zone", "add Z if it is UTC, else the difference like +05:30"}
		}
	}
	if len(text) >= 10 {
		if _, ok := parseDay(text[:10]); !ok && looksLikeDay(text[:10]) {
			return fault{"no such day", mend}
		}
	}
	return fault{"not a time", mend}
}

func looksLikeDay(b []byte) bool {
	for i, c := range b {
		if dash := i == 4 || i == 7; dash != (c == '-') || !dash && c-'0' > 9 {
			return false
		}
	}
	return true
}

// trim takes spaces and tabs, and the unbreakable spaces of word processors,
// off both ends and returns how many bytes it took off the front.
func trim(text []byte) (rest []byte, before int) {
	const spaces = " \t\u00a0\u202f"
	n := len(text)
	if n == 0 || plain(text[0]) && plain(text[n-1]) {
		return text, 0
	}
	text = bytes.TrimLeft(text, spaces)
	return bytes.TrimRight(text, spaces), n - len(text)
}

func plain(c byte) bool { return c > ' ' && c < 0x80 }

func clampLine(line int) uint32 { return uint32(min(int64(line), math.MaxUint32)) }

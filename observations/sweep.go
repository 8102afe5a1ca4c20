package observations

import (
	"encoding/binary"
	"math"
	"math/bits"
)

// span is where a name stands in the block; word holds its bytes if there are
// at most eight.
type span struct {
	from, to int
	word     uint64
}

// sweep reads rows of the common form from pos on, quickly and without
// allocation, and returns where the first row begins that it can't read: one
// of an odd form, a wrong one, or the end of the block. What it reads it reads
// as build would.
func (p *parser) sweep(pos int) int {
	n := len(p.data)
	buf := p.data[:n+slack]
	columns, last := p.layout.columns, len(p.layout.columns)-1
	r := Report{Source: p.source}
	var names [numColumns]span // columns that are not there stay empty
	var received int64
	for pos < n {
		at, ok := pos, true
		for i, c := range columns {
			switch c {
			case colTime:
				r.Time, at, ok = p.calendar.scan(buf, at)
			case colReceiver, colSender, colReceiverLocator, colSenderLocator:
				names[c], at = scanName(buf, at)
			case colSNR:
				r.SNR, at, ok = scanSNR(buf, at)
			case colFrequency:
				r.Frequency, at, ok = scanFrequency(buf, at)
			case colPower:
				r.Power, at, ok = scanPower(buf, at)
			case colReceived:
				received, at, ok = p.scanReceived(buf, at)
			default:
				at, ok = skipField(buf, at)
			}
			if !ok {
				return pos
			}
			if i < last {
				if buf[at] != ',' {
					return pos
				}
				at++
			}
		}
		if buf[at] == '\r' {
			at++
		}
		if buf[at] != '\n' || at >= n || at+1-pos > p.lim.record || !p.complete(&r, &names, received) {
			return pos
		}
		if len(p.out.reports) == cap(p.out.reports) {
			p.foresee(pos)
		}
		p.keep(&r)
		pos = at + 1
		p.line++
	}
	return pos
}

// complete fills in what needs more than one column.
func (p *parser) complete(r *Report, names *[numColumns]span, received int64) bool {
	receiver, ok := p.sweptSite(&names[colReceiver], &names[colReceiverLocator])
	sender, also := p.sweptSite(&names[colSender], &names[colSenderLocator])
	if !ok || !also || receiver.station == sender.station || uint64(r.Time) >= endOfTime {
		return false
	}
	r.Delay = 0
	if received != 0 {
		if received < r.Time || received >= endOfTime {
			return false
		}
		r.Delay = uint32(received - r.Time)
	}
	r.Receiver, r.Sender, r.Line = receiver.site, sender.site, clampLine(p.line)
	return true
}

func (p *parser) sweptSite(call, place *span) (spelling, bool) {
	if call.word != 0 && (place.word != 0 || place.from == place.to) {
		if s, ok := p.sites.find(call.word, place.word); ok {
			return s, true
		}
	}
	s, v := p.sites.lookup(p.data[call.from:call.to], p.data[place.from:place.to])
	return s, v == siteKnown
}

// scanName reads up to the first byte below '-', such as a comma, a line end,
// a space or a quote.
func scanName(buf []byte, pos int) (s span, end int) {
	const ones, highs = 0x0101010101010101, 0x8080808080808080
	w := binary.LittleEndian.Uint64(buf[pos : pos+8])
	if below := (w - ones*'-') &^ w & highs; below != 0 {
		n := bits.TrailingZeros64(below) &^ 7
		end = pos + n>>3
		return span{pos, end, w & (1<<n - 1)}, end
	}
	end = pos + 8
	for buf[end] >= '-' {
		end++
	}
	if end == pos+8 {
		return span{pos, end, w}, end
	}
	return span{pos, end, 0}, end
}

func scanSNR(buf []byte, pos int) (float32, int, bool) {
	v, end, ok := scanDecimal(buf, pos)
	return float32(v) + 0, end, ok && v >= minSNR && v <= maxSNR
}

func scanFrequency(buf []byte, pos int) (uint32, int, bool) {
	if buf[pos] == ',' || buf[pos] < ' ' {
		return 0, pos, true
	}
	v, end, ok := scanWhole(buf, pos)
	return uint32(v), end, ok && v >= minFrequency && v <= maxFrequency
}

func scanPower(buf []byte, pos int) (float32, int, bool) {
	if buf[pos] == ',' || buf[pos] < ' ' {
		return 0, pos, true
	}
	v, end, ok := scanDecimal(buf, pos)
	return float32(v), end, ok && v >= math.SmallestNonzeroFloat32 && v <= maxPower
}

// scanReceived reads the time a report was received, 0 when it is not given.
// The start of 1970 itself is left to build.
func (p *parser) scanReceived(buf []byte, pos int) (int64, int, bool) {
	if buf[pos] == ',' || buf[pos] < ' ' {
		return 0, pos, true
	}
	t, end, ok := p.calendar.scan(buf, pos)
	return t, end, ok && t > 0
}

// skipField passes over a field that is not needed, unless it has a quote.
func skipField(buf []byte, pos int) (end int, ok bool) {
	for {
		switch buf[pos] {
		case ',', '\n', '\r':
			return pos, true
		case '"':
			return pos, false
		}
		pos++
	}
}

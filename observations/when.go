package observations

import (
	"encoding/binary"
	"math"
	"time"
)

// Times a report may have: from 1970 up to, not including, the year 2100.
const (
	firstTime = 0
	endOfTime = 4102444800
)

const secondsPerDay = 86400

// calendar reads times of the common form 2026-03-02T14:20:00Z and remembers
// the day it saw last, since rows of a log mostly share it.
type calendar struct {
	head uint64 // the bytes "2026-03-"
	tail uint16 // the bytes "02"
	day  int64  // Unix seconds of the start of that day
}

// scan reads a time that starts at buf[pos] and returns where it ends: either
// the common form, or 9 or 10 digits of Unix seconds. On anything else ok is
// false and parseTime has to look. buf must reach 20 bytes beyond pos.
func (c *calendar) scan(buf []byte, pos int) (unix int64, end int, ok bool) {
	b := buf[pos : pos+20]
	if b[4] != '-' {
		v, end, ok := scanWhole(buf, pos)
		return int64(v), end, ok && end-pos >= 9
	}
	if b[19] != 'Z' || b[10] != 'T' {
		return 0, pos, false
	}
	second, ok := clockSeconds(binary.LittleEndian.Uint64(b[11:]))
	if !ok {
		return 0, pos, false
	}
	head, tail := binary.LittleEndian.Uint64(b), binary.LittleEndian.Uint16(b[8:])
	if head != c.head || tail != c.tail {
		day, ok := parseDay(b[:10])
		if !ok {
			return 0, pos, false
		}
		c.head, c.tail, c.day = head, tail, day
	}
	return c.day + second, pos + 20, true
}

// clockSeconds reads the eight bytes of "14:20:00", the first lowest.
func clockSeconds(w uint64) (int64, bool) {
	w ^= 0x30303a30303a3030 // digits turn into their value, colons into 0
	const colons = 0x0000ff0000ff0000
	if w&colons != 0 || (w|(w+0x0606060606060606))&0xf0f0f0f0f0f0f0f0 != 0 {
		return 0, false
	}
	h := (w&0xf)*10 + w>>8&0xf
	m := (w>>24&0xf)*10 + w>>32&0xf
	s := (w>>48&0xf)*10 + w>>56
	return int64(h*3600 + m*60 + s), h < 24 && m < 60 && s < 60
}

// parseDay reads "2026-03-02" and returns the Unix seconds of its start, UTC.
func parseDay(b []byte) (int64, bool) {
	if len(b) != 10 || b[4] != '-' || b[7] != '-' {
		return 0, false
	}
	var n [8]int64
	for i, at := range [8]int{0, 1, 2, 3, 5, 6, 8, 9} {
		d := b[at] - '0'
		if d > 9 {
			return 0, false
		}
		n[i] = int64(d)
	}
	year, month, day := n[0]*1000+n[1]*100+n[2]*10+n[3], n[4]*10+n[5], n[6]*10+n[7]
	if month < 1 || month > 12 || day < 1 || day > daysIn(year, month) {
		return 0, false
	}
	return daysFrom1970(year, month, day) * secondsPerDay, true
}

func daysIn(year, month int64) int64 {
	switch month {
	case 2:
		if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
			return 29
		}
		return 28
	case 4, 6, 9, 11:
		return 30
	}
	return 31
}

// daysFrom1970 counts days in the Gregorian calendar for years from 0 on:
// years are taken to begin in March, so that the leap day comes last.
func daysFrom1970(year, month, day int64) int64 {
	if month <= 2 {
		year, month = year-1, month+12
	}
	const until1970 = 719468 // days from 1 March of the year 0
	year += 400              // keeps the divisions below on positive numbers
	return 365*year + year/4 - year/100 + year/400 - 146097 + (153*(month-3)+2)/5 + day - 1 - until1970
}

// parseTime reads a whole text as RFC 3339, in any zone and with or without a
// fraction, or as Unix seconds, with or without a fraction, and returns whole
// Unix seconds, rounded down. Date and time may be parted by a space, letters
// may be small, and a leap second is the second after the one before it. It
// does not judge the range.
func parseTime(text []byte) (int64, bool) {
	if len(text) == 20 && text[19] == 'Z' && text[10] == 'T' {
		day, ok := parseDay(text[:10])
		second, also := clockSeconds(binary.LittleEndian.Uint64(text[11:]))
		if ok && also {
			return day + second, true
		}
	}
	if unix, ok := parseUnix(text); ok {
		return unix, true
	}
	if len(text) < 20 || len(text) > 64 || text[4] != '-' || text[13] != ':' || text[16] != ':' {
		return 0, false
	}
	var short [64]byte
	b := append(short[:0], text...)
	switch b[10] {
	case 't', ' ':
		b[10] = 'T'
	}
	if n := len(b) - 1; b[n] == 'z' {
		b[n] = 'Z'
	}
	switch b[19] {
	case '.', 'Z', '+', '-':
	default:
		return 0, false
	}
	leap := int64(0)
	if b[17] == '6' && b[18] == '0' {
		b[17], b[18], leap = '5', '9', 1
	}
	t, err := time.Parse(time.RFC3339, string(b))
	return t.Unix() + leap, err == nil
}

// parseUnix reads Unix seconds. Plain digits are taken exactly.
func parseUnix(text []byte) (int64, bool) {
	whole := 0
	for whole < len(text) && text[whole]-'0' <= 9 {
		whole++
	}
	if whole == 0 || whole > 18 {
		return 0, false
	}
	var v int64
	for _, c := range text[:whole] {
		v = v*10 + int64(c-'0')
	}
	if whole == len(text) {
		return v, true
	}
	if text[whole] == '.' {
		for _, c := range text[whole+1:] {
			if c-'0' > 9 {
				return parseExponent(text)
			}
		}
		return v, true
	}
	return parseExponent(text)
}

// parseExponent reads Unix seconds such as 1.7672256e9.
func parseExponent(text []byte) (int64, bool) {
	f, ok := parseDecimal(text)
	if !ok || math.Abs(f) > 1e15 {
		return 0, false
	}
	return int64(math.Floor(f)), true
}

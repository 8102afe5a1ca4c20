package observations

import (
	"math"
	"strconv"
)

var powersOfTen = [...]float64{
	1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
}

// exactDigits is how many decimal digits a float64 surely holds without rounding.
const exactDigits = 15

// scanDecimal reads a sign, digits and a fraction that start at buf[pos], and
// returns the number and where it ends. It gives up, with ok false, on
// anything else: no digit, more than exactDigits of them, an exponent comes
// after (which the caller sees by the byte at end). Numerator and power of ten
// are exact, so the quotient is the float64 nearest to what is written, as
// strconv.ParseFloat has it. buf must end with a byte that is no digit.
func scanDecimal(buf []byte, pos int) (v float64, end int, ok bool) {
	negative := buf[pos] == '-'
	if negative || buf[pos] == '+' {
		pos++
	}
	start := pos
	var n uint64
	for buf[pos]-'0' <= 9 {
		n = n*10 + uint64(buf[pos]-'0')
		pos++
	}
	digits, decimals := pos-start, 0
	if buf[pos] == '.' {
		pos++
		start = pos
		for buf[pos]-'0' <= 9 {
			n = n*10 + uint64(buf[pos]-'0')
			pos++
		}
		decimals = pos - start
		digits += decimals
	}
	if digits == 0 || digits > exactDigits {
		return 0, pos, false
	}
	v = float64(n) / powersOfTen[decimals]
	if negative {
		v = -v
	}
	return v, pos, true
}

// scanWhole reads 1 to 10 digits that start at buf[pos]. buf must end with a
// byte that is no digit.
func scanWhole(buf []byte, pos int) (v uint64, end int, ok bool) {
	start := pos
	for buf[pos]-'0' <= 9 {
		v = v*10 + uint64(buf[pos]-'0')
		pos++
	}
	return v, pos, pos > start && pos-start <= 10
}

// parseDecimal reads a whole text as a decimal number, with or without an
// exponent. A minus sign may also be written as U+2212 or as an en dash, which
// editors like to put in its place. Hexadecimal numbers, infinities and what
// is no number are refused.
func parseDecimal(text []byte) (float64, bool) {
	if len(text) == 0 || len(text) > 400 {
		return 0, false
	}
	var short [48]byte
	buf := append(append(short[:0], plainMinus(text)...), 0)
	if v, end, ok := scanDecimal(buf, 0); ok && end == len(buf)-1 {
		return v, true
	}
	buf = buf[:len(buf)-1]
	for _, c := range buf {
		switch {
		case c >= '0' && c <= '9', c == '+', c == '-', c == '.', c == 'e', c == 'E':
		default:
			return 0, false
		}
	}
	v, err := strconv.ParseFloat(string(buf), 64)
	return v, err == nil && !math.IsInf(v, 0)
}

// plainMinus returns text with a leading U+2212 or en dash turned into '-'.
func plainMinus(text []byte) []byte {
	if len(text) > 3 && (string(text[:3]) == "−" || string(text[:3]) == "–") {
		return append([]byte{'-'}, text[3:]...)
	}
	return text
}

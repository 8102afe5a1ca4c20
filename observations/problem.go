package observations

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// shownRunes is how much of an offending text a problem shows.
const shownRunes = 40

// fault says what is wrong with a value and what to do about it; the zero
// fault means that nothing is.
type fault struct{ message, mend string }

func (f fault) isNone() bool { return f.message == "" }

// visible shortens a text and shows what can't be printed by its code.
func visible(text []byte) string {
	var b strings.Builder
	for shown := 0; len(text) > 0; shown++ {
		if shown == shownRunes {
			b.WriteString("…")
			break
		}
		r, size := utf8.DecodeRune(text)
		switch {
		case r == utf8.RuneError && size == 1:
			b.WriteString(`\x`)
			const hex = "0123456789abcdef"
			b.WriteByte(hex[text[0]>>4])
			b.WriteByte(hex[text[0]&15])
		case unicode.IsPrint(r):
			b.WriteRune(r)
		default:
			b.WriteString(strings.Trim(strconv.QuoteRune(r), "'"))
		}
		text = text[size:]
	}
	return b.String()
}

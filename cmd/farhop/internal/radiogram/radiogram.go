// Package radiogram writes a message in the form in which traffic nets pass it:
// preamble, address, text and signature, with the check that lets the receiver
// count the words. It reads no clock and prints nothing.
package radiogram

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Message is what goes into the form. Letters become capitals.
type Message struct {
	Number     int    // the station of origin's own count, from 1
	Precedence string // EMERGENCY, PRIORITY, WELFARE or ROUTINE, or a first letter but E; "" = ROUTINE
	Handling   string // handling instruction such as HXC, "" = none
	Station    string // station of origin: the call it is known by on the air
	Place      string // of origin
	Filed      time.Time
	Address    string
	Text       string
	Signature  string
}

// Form is the message as it is keyed.
type Form struct {
	Check     string // 25, or ARL 25 where the text uses numbered texts
	Preamble  string // number, precedence, handling, station, check, place, time filed, date
	Address   string
	Text      string // in groups with one space between
	Signature string
	Notes     []string // what a person should look at
}

// Break stands between address and text, and between text and signature.
const Break = "BREAK"

// usualWords is the length that a text usually keeps to.
const usualWords = 25

// What a message can lack.
var (
	ErrText   = errors.New("a radiogram needs a text")
	ErrNumber = errors.New("a radiogram's number is 1 or more")
)

// Form fills the form.
func (m Message) Form() (Form, error) {
	precedence, err := Precedence(m.Precedence)
	if err != nil {
		return Form{}, err
	}
	if m.Number < 1 {
		return Form{}, ErrNumber
	}
	groups, notes := Groups(m.Text)
	if len(groups) == 0 {
		return Form{}, ErrText
	}
	f := Form{
		Check: Check(groups), Address: capitals(m.Address), Text: strings.Join(groups, " "),
		Signature: capitals(m.Signature), Notes: notes,
	}
	if len(groups) > usualWords {
		f.Notes = append(f.Notes, fmt.Sprintf("the text has %d words; %d or fewer are usual", len(groups), usualWords))
	}
	filed := m.Filed.UTC()
	f.Preamble = capitals(strings.Join([]string{
		strconv.Itoa(m.Number), precedence, m.Handling, m.Station, f.Check, m.Place, filed.Format("1504Z"), filed.Format("Jan 2"),
	}, " "))
	return f, nil
}

// Keyed is the whole message with one space between groups.
func (f *Form) Keyed() string { return strings.Join(f.Lines(), " ") }

// Lines are the parts of the message in the order in which they are keyed.
func (f *Form) Lines() []string {
	var lines []string
	for _, part := range []string{f.Preamble, f.Address, Break, f.Text, Break, f.Signature} {
		if part != "" {
			lines = append(lines, part)
		}
	}
	return lines
}

// Characters is how many characters a frame's text has to carry for it.
func (f *Form) Characters() int { return utf8.RuneCountInString(f.Keyed()) }

// Precedence is how a precedence is keyed: EMERGENCY is always spelt out, the
// others are P, W and R.
func Precedence(name string) (string, error) {
	switch name := capitals(name); name {
	case "EMERGENCY":
		return name, nil
	case "PRIORITY", "P":
		return "P", nil
	case "WELFARE", "W":
		return "W", nil
	case "ROUTINE", "R", "":
		return "R", nil
	}
	return "", fmt.Errorf("precedence %q: it is EMERGENCY, PRIORITY, WELFARE or ROUTINE", name)
}

// Check is the number of words in the text, each group counting one whatever its
// length or mix, with ARL before it if the text uses numbered texts. Preamble,
// address, breaks and signature don't count.
//
// Sources: licking-ares.org/Text-Message.html; W0IPL, w0ipl.net/ECom/nts-4.htm;
// mailman.qth.net/pipermail/kyham/2002-May/000339.html.
func Check(groups []string) string {
	n := strconv.Itoa(len(groups))
	for _, g := range groups {
		if g == "ARL" {
			return "ARL " + n
		}
	}
	return n
}

// Groups writes a text in groups: capitals, X for a full stop (left out at the end
// of the text, where it is never sent), QUERY for a question mark, R for a decimal
// point between figures. Other signs have no rule: they stay, and are noted.
func Groups(text string) (groups, notes []string) {
	var odd []rune
	for word := range strings.FieldsSeq(capitals(text)) {
		stop := ""
		for strings.HasSuffix(word, ".") || strings.HasSuffix(word, "?") {
			if strings.HasSuffix(word, "?") {
				stop = "QUERY"
			} else if stop == "" {
				stop = "X"
			}
			word = word[:len(word)-1]
		}
		if word = decimal(word); word != "" {
			groups = append(groups, word)
		}
		if stop != "" {
			groups = append(groups, stop)
		}
		for _, r := range word {
			if !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '/' && !strings.ContainsRune(string(odd), r) {
				odd = append(odd, r)
			}
		}
	}
	for len(groups) > 0 && groups[len(groups)-1] == "X" {
		groups = groups[:len(groups)-1]
	}
	if odd != nil {
		notes = append(notes, "the text has signs without a rule ("+string(odd)+"): they are sent as they are, better spell them")
	}
	return groups, notes
}

// decimal writes R for the point between two figures.
func decimal(word string) string {
	runes := []rune(word)
	for i := 1; i+1 < len(runes); i++ {
		if runes[i] == '.' && unicode.IsDigit(runes[i-1]) && unicode.IsDigit(runes[i+1]) {
			runes[i] = 'R'
		}
	}
	return string(runes)
}

// capitals is s in capitals with one space between words.
func capitals(s string) string { return strings.Join(strings.Fields(strings.ToUpper(s)), " ") }

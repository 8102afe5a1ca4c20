package app

import (
	"slices"
	"strings"
	"unicode/utf8"

	"farhop/cmd/farhop/internal/radiogram"
	"farhop/cmd/farhop/internal/view"
)

// Radiogram is what --form radiogram puts around a text. Empty fields take what
// the plan says.
type Radiogram struct {
	Number     int
	Precedence string
	Handling   string
	Place      string // "" = the origin's locator
	Address    string // "" = the destination's call
	Signature  string // "" = the origin's call
}

// maxCharacters bounds a message.
const maxCharacters = 5000

// message is what is to be carried.
type message struct {
	characters int
	form       *view.Radiogram
	warnings   []view.Warning
}

// characters is the length of the message in characters.
func (s *Session) characters() (int, error) {
	m, err := s.message()
	return m.characters, err
}

// message counts the message as frames carry it: each character is one.
func (s *Session) message() (m message, err error) {
	r := s.req
	m.characters = r.Characters
	switch {
	case r.Form != "" && r.Form != "plain" && r.Form != "radiogram":
		return m, usagef("--form %q: it is plain or radiogram", r.Form)
	case r.Form == "radiogram":
		if err := s.radiogram(&m); err != nil {
			return m, err
		}
	case r.Radiogram != DefaultRequest().Radiogram:
		return m, usagef("--number, --precedence, --handling, --place, --address and --signature belong to --form radiogram")
	case r.Text != "":
		m.characters = utf8.RuneCountInString(r.Text)
		m.warnings = unprintable(r.Text)
	}
	if m.characters < 1 || m.characters > maxCharacters {
		return m, usagef("a message of %d characters: 1 to %d are possible", m.characters, maxCharacters)
	}
	return m, nil
}

// radiogram fills the form.
func (s *Session) radiogram(m *message) error {
	r := s.req
	if strings.TrimSpace(r.Text) == "" {
		return usagef("--form radiogram needs the message itself: --text \"…\"")
	}
	if r.From == "" {
		return usagef("--form radiogram needs the station of origin: name it")
	}
	i, err := s.station(r.From)
	if err != nil {
		return err
	}
	origin := &s.net.Stations[i]
	call := origin.Licensed
	if call == "" {
		call = origin.Call
	}
	f, err := radiogram.Message{
		Number: r.Radiogram.Number, Precedence: r.Radiogram.Precedence, Handling: r.Radiogram.Handling, Station: call,
		Place: either(r.Radiogram.Place, origin.Locator), Filed: s.at, Text: r.Text,
		Address: either(r.Radiogram.Address, s.addressees()), Signature: either(r.Radiogram.Signature, origin.Call),
	}.Form()
	if err != nil {
		return usagef("--form radiogram: %v", err)
	}
	m.characters, m.warnings = f.Characters(), unprintable(f.Keyed())
	for _, note := range f.Notes {
		m.warnings = append(m.warnings, view.Warning{Code: "radiogram", Message: strings.ToUpper(note[:1]) + note[1:] + "."})
	}
	m.form = &view.Radiogram{
		Preamble: f.Preamble, Check: f.Check, Address: f.Address, Text: f.Text, Signature: f.Signature,
		Keyed: f.Keyed(), Lines: f.Lines(),
	}
	return nil
}

// addressees are the destinations as an address names them; without any, as in a
// table, the longest call of the net, so that the length suffices for every member.
func (s *Session) addressees() string {
	switch {
	case s.req.ToRole != "":
		return "ANY " + s.req.ToRole
	case s.req.To == "":
		return slices.MaxFunc(s.calls(), func(a, b string) int { return len(a) - len(b) })
	}
	names := slices.DeleteFunc(strings.Split(s.req.To, ","), func(n string) bool { return strings.TrimSpace(n) == "" })
	return strings.Join(names, " ")
}

func either(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

package config

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// Problem is one thing that is wrong in a plan, or doubtful, and how to mend it.
type Problem struct {
	Source  string // file name as given
	Line    int    // from 1, 0 when the whole file is meant
	Column  int    // in characters from 1, 0 when the whole line is meant
	Path    string // such as stations[2].soundings[0].every, "" when the whole plan is meant; counts from 0
	Value   string // the offending text, shortened, "" when something is missing
	Message string // what is wrong
	Mend    string // what is allowed or what to do about it, may be ""
	Warning bool   // the plan was taken all the same
}

// maxProblems is how many problems a Load keeps; the last one then says how
// many more there are.
const maxProblems = 1000

// String returns the problem on one line: place, path, what is wrong, how to
// mend it.
func (p Problem) String() string {
	var b strings.Builder
	b.WriteString(p.Source)
	if p.Line > 0 {
		fmt.Fprintf(&b, ":%d", p.Line)
	}
	if p.Line > 0 && p.Column > 0 {
		fmt.Fprintf(&b, ":%d", p.Column)
	}
	b.WriteString(": ")
	if p.Warning {
		b.WriteString("warning: ")
	}
	if p.Path != "" {
		b.WriteString(p.Path + ": ")
	}
	b.WriteString(p.Message)
	if p.Mend != "" {
		b.WriteString("; " + p.Mend)
	}
	return b.String()
}

// Failed reports whether any of the problems is more than a warning.
func Failed(problems []Problem) bool {
	return slices.ContainsFunc(problems, func(p Problem) bool { return !p.Warning })
}

// sortProblems puts problems in the order of the file.
func sortProblems(ps []Problem) {
	slices.SortStableFunc(ps, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column), cmp.Compare(a.Path, b.Path))
	})
}

// shorten returns a text fit for quoting in a message: on one line, printable
// and of at most 40 characters.
func shorten(s string) string {
	const most = 40
	var b strings.Builder
	n := 0
	for _, r := range s {
		if n == most {
			return b.String() + "…"
		}
		if unicode.IsSpace(r) {
			r = ' '
		} else if !unicode.IsPrint(r) {
			r = '\uFFFD'
		}
		b.WriteRune(r)
		n++
	}
	return b.String()
}

// quoted returns a shortened text in double quotes.
func quoted(s string) string { return `"` + shorten(s) + `"` }

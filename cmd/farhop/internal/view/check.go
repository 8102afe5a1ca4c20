package view

import (
	"fmt"
	"strconv"
	"strings"
)

// Check is whether the input is sound.
type Check struct {
	Head
	Plan     string    `json:"plan"`
	Stations int       `json:"stations"`
	Channels int       `json:"channels"`
	Problems []Problem `json:"problems"`
	// Unlisted counts the problems beyond those listed.
	Unlisted int `json:"unlisted_problems"`
}

// Severity orders problems.
const (
	SeverityError   = "error"   // the input can't be used, or not this part of it
	SeverityWarning = "warning" // used, but doubtful
	SeverityHint    = "hint"    // worth knowing
)

// Problem is one thing that is wrong or doubtful in the input.
type Problem struct {
	Severity string   `json:"severity"`
	Source   string   `json:"source,omitempty"`
	Line     int      `json:"line,omitempty"`
	Column   int      `json:"column,omitempty"`
	Field    string   `json:"field,omitempty"`
	Value    string   `json:"value,omitempty"`
	Stations []string `json:"stations,omitempty"`
	Message  string   `json:"message"`
	Mend     string   `json:"mend,omitempty"`
}

// String is the problem in one line: where, what, and how to mend it.
func (p *Problem) String() string {
	var b strings.Builder
	b.WriteString(p.place())
	if p.Field != "" {
		b.WriteString(p.Field + ": ")
	}
	b.WriteString(strings.TrimRight(p.Message, "."))
	if p.Value != "" && !strings.Contains(p.Message, p.Value) {
		b.WriteString(" (" + p.Value + ")")
	}
	if p.Mend != "" {
		b.WriteString("; " + strings.TrimRight(p.Mend, "."))
	}
	return b.String()
}

func (p *Problem) place() string {
	switch {
	case p.Source == "":
		return ""
	case p.Line == 0:
		return p.Source + ": "
	case p.Column == 0:
		return fmt.Sprintf("%s:%d: ", p.Source, p.Line)
	}
	return fmt.Sprintf("%s:%d:%d: ", p.Source, p.Line, p.Column)
}

// Count counts the problems of one severity.
func (v *Check) Count(severity string) int {
	n := 0
	for i := range v.Problems {
		if v.Problems[i].Severity == severity {
			n++
		}
	}
	return n
}

// Document tells the problems, the grave ones first.
func (v *Check) Document() Document {
	d := v.open("Check of " + v.Plan)
	d.Say(fmt.Sprintf("%s, %s. %s, %s, %s.",
		Count(v.Stations, "station", "stations"), Count(v.Channels, "channel", "channels"),
		Count(v.Count(SeverityError), "error", "errors"), Count(v.Count(SeverityWarning), "warning", "warnings"),
		Count(v.Count(SeverityHint), "hint", "hints")))
	for _, group := range []struct{ severity, title string }{
		{SeverityError, "Errors"}, {SeverityWarning, "Warnings"}, {SeverityHint, "Hints"},
	} {
		var lines []string
		for i := range v.Problems {
			if v.Problems[i].Severity == group.severity {
				lines = append(lines, v.Problems[i].String()+".")
			}
		}
		if len(lines) > 0 {
			d.Title(group.title)
			d.Note(lines...)
		}
	}
	if v.Unlisted > 0 {
		d.Say("And " + Count(v.Unlisted, "more problem", "more problems") + " not listed; --rejects FILE keeps all rejected lines.")
	}
	v.close(&d)
	return d
}

// Records gives the problems as rows.
func (v *Check) Records() ([]string, [][]string) {
	names := []string{"severity", "source", "line", "column", "field", "value", "stations", "message", "mend"}
	whole := func(n int) string {
		if n == 0 {
			return ""
		}
		return strconv.Itoa(n)
	}
	var rows [][]string
	for i := range v.Problems {
		p := &v.Problems[i]
		rows = append(rows, []string{
			p.Severity, p.Source, whole(p.Line), whole(p.Column), p.Field, p.Value,
			strings.Join(p.Stations, " "), p.Message, p.Mend,
		})
	}
	return names, rows
}

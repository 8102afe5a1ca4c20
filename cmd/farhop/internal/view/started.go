package view

import "strings"

// Started is what was written to begin with.
type Started struct {
	Folder  string        `json:"folder"`
	Files   []StartedFile `json:"files"`
	Guesses []Guess       `json:"guesses,omitempty"`
	Next    []string      `json:"-"`
}

// StartedFile is one file or folder written.
type StartedFile struct {
	Path string `json:"path"`
	What string `json:"what"`
}

// Guess is a value drafted from a log, and how to check it.
type Guess struct {
	Path  string `json:"path"`
	Guess string `json:"guess"`
	Check string `json:"check"`
}

// Document tells what was written.
func (v *Started) Document() Document {
	var d Document
	d.Say("Written into " + v.Folder + ":")
	for _, f := range v.Files {
		d.Note(f.Path + ": " + f.What)
	}
	marked := 0
	for _, g := range v.Guesses {
		switch {
		case g.Path == "":
			d.Note(sentence(g.Guess) + " " + sentence(g.Check))
		case strings.HasPrefix(g.Path, "stations"):
			marked++
		default:
			marked++
			d.Note(g.Path + ": " + g.Guess + ". Check: " + g.Check + ".")
		}
	}
	if marked > 0 {
		d.Say(Count(marked, "line in it is", "lines in it are") + " marked as a guess: check each before you rely on it.")
	}
	d.Note(Caution)
	d.Say("Next:")
	d.Try(v.Next...)
	return d
}

// sentence starts a text with a capital and ends it with a full stop.
func sentence(s string) string {
	if s == "" {
		return ""
	}
	return strings.ToUpper(s[:1]) + strings.TrimRight(s[1:], ".") + "."
}

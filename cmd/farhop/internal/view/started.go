package view

import "fmt"

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
	if len(v.Guesses) > 0 {
		d.Say(fmt.Sprintf("%s in it to check before use:", Count(len(v.Guesses), "guess", "guesses")))
		for _, g := range v.Guesses {
			d.Note(g.Path + ": " + g.Guess + ". " + g.Check)
		}
	}
	d.Note(Caution)
	d.Say("Next:")
	d.Try(v.Next...)
	return d
}

package render

import (
	"bufio"
	"io"

	"farhop/cmd/farhop/internal/view"
)

// BriefShort writes what is to be sent to each station, a line a station, and to notes
// what that costs and what was left out.
func BriefShort(w, notes io.Writer, v *view.Brief) error {
	b, n := bufio.NewWriter(w), bufio.NewWriter(notes)
	for _, s := range v.Short() {
		b.WriteString(s.Text + "\n")
		n.WriteString(s.Note + "\n")
	}
	if err := b.Flush(); err != nil {
		return err
	}
	return n.Flush()
}

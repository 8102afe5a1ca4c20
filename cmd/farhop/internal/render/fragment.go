package render

import (
	"io"

	"farhop/cmd/farhop/internal/view"
)

// YAML writes a part of a plan, with what it rests on as comments.
func YAML(w io.Writer, v view.Fragment) error {
	_, err := io.WriteString(w, v.YAML())
	return err
}

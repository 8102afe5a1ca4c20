package render

import (
	"encoding/csv"
	"encoding/json"
	"io"

	"farhop/cmd/farhop/internal/view"
)

// JSON writes an answer for other programs, indented, one final line end.
func JSON(w io.Writer, a any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(a)
}

// CSV writes an answer's rows as RFC 4180 has them, the column names first.
func CSV(w io.Writer, a view.Tabular) error {
	names, rows := a.Records()
	c := csv.NewWriter(w)
	if err := c.Write(names); err != nil {
		return err
	}
	if err := c.WriteAll(rows); err != nil {
		return err
	}
	return c.Error()
}

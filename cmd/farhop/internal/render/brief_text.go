package render

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"farhop/cmd/farhop/internal/view"
)

// Size of a page of text.
const (
	pageColumns = 80
	pageLines   = 60
)

// BriefText writes the plan as pages of at most 60 lines of 80 columns, each but
// the first after a form feed.
func BriefText(w io.Writer, v *view.Brief) error {
	b := bufio.NewWriter(w)
	first := true
	foot := wrapped(v.Caution, pageColumns)
	for _, part := range v.Parts() {
		pages := textPages(&part, len(foot))
		for i, page := range pages {
			if !first {
				b.WriteByte('\f')
			}
			first = false
			head := textHead(&part, i+1, len(pages))
			for _, lines := range [][]string{head, page, {strings.Repeat("-", pageColumns)}, foot} {
				for _, line := range lines {
					b.WriteString(line + "\n")
				}
			}
		}
	}
	return b.Flush()
}

// textHead is what stands above a page.
func textHead(part *view.BriefPart, n, of int) []string {
	page := fmt.Sprintf("page %d of %d", n, of)
	var lines []string
	if part.Alert != "" {
		lines = append(lines, part.Alert)
	}
	room := pageColumns - len(page) - 1
	name := []rune(part.Name)
	if len(name) > room {
		name = append(name[:room-1:room-1], '…')
	}
	lines = append(lines, padded(string(name), room, false)+" "+page)
	for _, h := range part.Head {
		lines = append(lines, wrapped(h, pageColumns)...)
	}
	return append(lines, strings.Repeat("-", pageColumns))
}

// textPages lays a part out.
func textPages(part *view.BriefPart, foot int) [][]string {
	d := &part.Document
	capacity := pageLines - len(textHead(part, 1, 1)) - foot - 1
	set := make([]typeset, len(d.Blocks))
	for i := range d.Blocks {
		set[i] = typesetBlock(&d.Blocks[i], pageColumns)
	}
	list := pieces(d, func(block, row int) (lines, head int) { return len(set[block].parts[row]), len(set[block].head) })
	var out [][]string
	for _, page := range paginate(list, capacity) {
		var lines []string
		last := -1
		for i, p := range page {
			if i > 0 && p.gap > 0 {
				lines = append(lines, "")
			}
			if p.block != last {
				lines = append(lines, set[p.block].head...)
			}
			lines = append(lines, set[p.block].parts[p.row]...)
			last = p.block
		}
		out = append(out, lines)
	}
	return out
}

// typeset is a block as lines: its table head, and each of its pieces.
type typeset struct {
	head  []string
	parts [][]string
}

func typesetBlock(b *view.Block, columns int) typeset {
	switch {
	case b.Title != "":
		lines := wrapped(b.Title, columns)
		last := len(lines) - 1
		if n := columns - utf8.RuneCountInString(lines[last]) - 1; n > 0 {
			lines[last] += " " + strings.Repeat("-", n)
		}
		return typeset{parts: [][]string{lines}}
	case b.Table != nil && len(b.Table.Rows) > 0:
		return typesetTable(b.Table, columns)
	case b.Table != nil:
		return typeset{parts: [][]string{wrapped(b.Table.Empty, columns)}}
	case b.Notes != nil:
		var t typeset
		for _, n := range b.Notes {
			t.parts = append(t.parts, written(columns, func(w *bufio.Writer) { writeWrapped(w, n, "* ", "  ", TextOptions{Width: columns}) }))
		}
		return t
	}
	return typeset{parts: [][]string{wrapped(b.Text, columns)}}
}

// typesetTable is a table as writeTable writes it, row by row.
func typesetTable(t *view.Table, columns int) (out typeset) {
	widths := columnWidths(t)
	gap, last, ok := fit(t, widths, columns)
	if !ok {
		for i := range t.Rows {
			one := &view.Table{Columns: t.Columns, Rows: t.Rows[i : i+1]}
			out.parts = append(out.parts, written(columns, func(w *bufio.Writer) { writeRowsNamed(w, one, TextOptions{Width: columns}) }))
		}
		return out
	}
	widths[len(widths)-1] = last
	heads := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		heads[i] = c.Head
	}
	out.head = written(columns, func(w *bufio.Writer) { writeRow(w, t, heads, widths, gap, false) })
	for _, row := range t.Rows {
		out.parts = append(out.parts, written(columns, func(w *bufio.Writer) { writeRow(w, t, row, widths, gap, false) }))
	}
	return out
}

// wrapped is text as lines of a page.
func wrapped(text string, columns int) []string {
	return written(columns, func(w *bufio.Writer) {
		for line := range strings.SplitSeq(text, "\n") {
			writeWrapped(w, line, "", "", TextOptions{Width: columns})
		}
	})
}

// written is what is written, as lines; one that a single long word makes too wide is
// broken.
func written(columns int, write func(*bufio.Writer)) []string {
	var out []string
	for line := range strings.SplitSeq(strings.TrimSuffix(inMemory(write), "\n"), "\n") {
		r := []rune(line)
		for len(r) > columns {
			out, r = append(out, string(r[:columns])), r[columns:]
		}
		out = append(out, string(r))
	}
	return out
}

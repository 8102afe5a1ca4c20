// Package render writes answers as bytes, one file a format.
package render

import (
	"bufio"
	"io"
	"strings"
	"unicode/utf8"

	"farhop/cmd/farhop/internal/view"
)

// TextOptions says how text is laid out.
type TextOptions struct {
	Width int // columns a line may take, at least 24; 0 = 80
	// Plain writes for a screen reader: no alignment, arrows, rules or boxes;
	// a table becomes one line a row with each figure named.
	Plain bool
}

// Text writes an answer to be read. Lines are at most opt.Width columns wide,
// except for commands, which are never broken.
func Text(w io.Writer, a view.Documented, opt TextOptions) error {
	if opt.Width == 0 {
		opt.Width = 80
	}
	opt.Width = max(opt.Width, 24)
	b := bufio.NewWriter(w)
	for i, block := range a.Document().Blocks {
		if i > 0 {
			b.WriteByte('\n')
		}
		writeBlock(b, block, opt)
	}
	return b.Flush()
}

func writeBlock(b *bufio.Writer, block view.Block, opt TextOptions) {
	switch {
	case block.Title != "":
		writeWrapped(b, block.Title, "", "", opt)
		if !opt.Plain {
			b.WriteString(strings.Repeat("-", min(utf8.RuneCountInString(block.Title), opt.Width)))
			b.WriteByte('\n')
		}
	case block.Text != "":
		for line := range strings.SplitSeq(block.Text, "\n") {
			writeWrapped(b, line, "", "", opt)
		}
	case block.Table != nil:
		writeTable(b, block.Table, opt)
	case block.Notes != nil:
		for _, n := range block.Notes {
			writeWrapped(b, n, "* ", "  ", opt)
		}
	case block.Steps != nil:
		for _, s := range block.Steps {
			b.WriteString("  " + s + "\n")
		}
	}
}

// writeWrapped writes s broken at spaces, the first line after first and the
// others after rest.
func writeWrapped(b *bufio.Writer, s, first, rest string, opt TextOptions) {
	if opt.Plain {
		s = spoken(s)
	}
	line := first
	column := utf8.RuneCountInString(first)
	empty := true
	for word := range strings.FieldsSeq(s) {
		n := utf8.RuneCountInString(word)
		if !empty && column+1+n > opt.Width {
			b.WriteString(line + "\n")
			line, column, empty = rest, utf8.RuneCountInString(rest), true
		}
		if !empty {
			line += " "
			column++
		}
		line += word
		column += n
		empty = false
	}
	b.WriteString(strings.TrimRight(line, " ") + "\n")
}

func writeTable(b *bufio.Writer, t *view.Table, opt TextOptions) {
	if len(t.Rows) == 0 {
		writeWrapped(b, t.Empty, "", "", opt)
		return
	}
	widths := columnWidths(t)
	gap, last, ok := fit(t, widths, opt.Width)
	if opt.Plain || !ok {
		writeRowsNamed(b, t, opt)
		return
	}
	widths[len(widths)-1] = last
	heads := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		heads[i] = c.Head
	}
	for _, row := range append([][]string{heads}, t.Rows...) {
		writeRow(b, t, row, widths, gap)
	}
}

// leastLast is how narrow a broken last column may become.
const leastLast = 24

// fit decides how the columns stand in a line: with gaps of two columns or one,
// and, where that isn't enough, with the last column broken at spaces. ok is
// false when nothing of this is enough.
func fit(t *view.Table, widths []int, width int) (gap, last int, ok bool) {
	rest, n := 0, len(widths)-1
	for _, w := range widths[:n] {
		rest += w
	}
	for gap = 2; gap >= 1; gap-- {
		if rest+gap*n+widths[n] <= width {
			return gap, widths[n], true
		}
	}
	if room := width - rest - 2*n; room >= leastLast && !t.Columns[n].Right {
		return 2, room, true
	}
	return 0, 0, false
}

func columnWidths(t *view.Table) []int {
	widths := make([]int, len(t.Columns))
	for i, c := range t.Columns {
		widths[i] = utf8.RuneCountInString(c.Head)
	}
	for _, row := range t.Rows {
		for i, cell := range row {
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	return widths
}

// writeRow writes one row; a last cell wider than its column goes on below.
func writeRow(b *bufio.Writer, t *view.Table, row []string, widths []int, gap int) {
	n := len(row) - 1
	var line strings.Builder
	for i, cell := range row[:n] {
		line.WriteString(padded(cell, widths[i], t.Columns[i].Right) + strings.Repeat(" ", gap))
	}
	if utf8.RuneCountInString(row[n]) <= widths[n] {
		line.WriteString(padded(row[n], widths[n], t.Columns[n].Right))
		b.WriteString(strings.TrimRight(line.String(), " ") + "\n")
		return
	}
	indent := strings.Repeat(" ", utf8.RuneCountInString(line.String()))
	writeWrapped(b, row[n], line.String(), indent+"  ", TextOptions{Width: len(indent) + widths[n]})
}

func padded(cell string, width int, right bool) string {
	pad := strings.Repeat(" ", max(0, width-utf8.RuneCountInString(cell)))
	if right {
		return pad + cell
	}
	return cell + pad
}

// writeRowsNamed writes each row as 'first cell: name value; name value'.
func writeRowsNamed(b *bufio.Writer, t *view.Table, opt TextOptions) {
	for _, row := range t.Rows {
		var parts []string
		for i, cell := range row[1:] {
			if cell == "" {
				continue
			}
			name := t.Columns[i+1].Name
			if name == "" {
				name = t.Columns[i+1].Head
			}
			parts = append(parts, strings.TrimSpace(name+" "+cell))
		}
		writeWrapped(b, row[0]+": "+strings.Join(parts, "; "), "", "  ", opt)
	}
}

// spoken replaces signs that a screen reader stumbles over.
func spoken(s string) string {
	return spokenSigns.Replace(s)
}

var spokenSigns = strings.NewReplacer(" → ", " - ", "→", " - ", "±", "plus or minus ", "−", "minus ", "–", "-", "…", " to ")

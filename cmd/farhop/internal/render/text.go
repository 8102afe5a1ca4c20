// Package render writes answers as bytes, one file a format.
package render

import (
	"bufio"
	"bytes"
	"io"
	"math"
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
	// Tabs writes for other programs: rows with a tab between cells, the heads
	// first, and a paragraph a line. No other line has a tab.
	Tabs bool
	// Colour sets heads off and tells chances apart by ANSI sequences too.
	Colour bool
}

// widestProse is how many columns a paragraph takes at most: longer lines are hard
// to read.
const widestProse = 100

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
	prose := opt
	prose.Width = min(opt.Width, widestProse)
	if opt.Tabs {
		prose.Width = math.MaxInt
	}
	switch {
	case block.Title != "":
		writeTitle(b, block.Title, prose)
	case block.Text != "":
		for line := range strings.SplitSeq(block.Text, "\n") {
			writeWrapped(b, line, "", "", prose)
		}
	case block.Table != nil && opt.Tabs:
		writeTabs(b, block.Table)
	case block.Table != nil:
		writeTable(b, block.Table, opt)
	case block.Notes != nil:
		for _, n := range block.Notes {
			writeWrapped(b, n, "* ", "  ", prose)
		}
	case block.Steps != nil:
		for _, s := range block.Steps {
			b.WriteString("  " + s + "\n")
		}
	}
}

// writeTitle writes a heading, underlined where there are lines to see.
func writeTitle(b *bufio.Writer, title string, opt TextOptions) {
	bold(b, opt, func(w *bufio.Writer) { writeWrapped(w, title, "", "", opt) })
	if !opt.Plain && !opt.Tabs {
		b.WriteString(strings.Repeat("-", min(utf8.RuneCountInString(title), opt.Width)))
		b.WriteByte('\n')
	}
}

// writeTabs writes a table as rows with tabs; a tab or line end in a cell becomes a
// space.
func writeTabs(b *bufio.Writer, t *view.Table) {
	if len(t.Rows) == 0 {
		b.WriteString(t.Empty + "\n")
		return
	}
	heads := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		heads[i] = c.Head
	}
	for _, row := range append([][]string{heads}, t.Rows...) {
		for i, cell := range row {
			if i > 0 {
				b.WriteByte('\t')
			}
			b.WriteString(strings.NewReplacer("\t", " ", "\n", " ").Replace(cell))
		}
		b.WriteByte('\n')
	}
}

// bound stands for the space between a figure and its sign, where no line ends.
const bound = "\ue000"

// writeWrapped writes s broken at spaces, the first line after first and the
// others after rest; a per cent sign stays with its figure.
func writeWrapped(b *bufio.Writer, s, first, rest string, opt TextOptions) {
	if opt.Plain {
		s = spoken(s)
	}
	s = strings.ReplaceAll(s, " %", bound+"%")
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
		line += strings.ReplaceAll(word, bound, " ")
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
	bold(b, opt, func(w *bufio.Writer) { writeRow(w, t, heads, widths, gap, false) })
	for _, row := range t.Rows {
		writeRow(b, t, row, widths, gap, opt.Colour)
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
	for gap = 2; gap >= 1; gap-- {
		if room := width - rest - gap*n; room >= leastLast && !t.Columns[n].Right {
			return gap, room, true
		}
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
func writeRow(b *bufio.Writer, t *view.Table, row []string, widths []int, gap int, colour bool) {
	n := len(row) - 1
	var line strings.Builder
	columns := 0
	for i, cell := range row[:n] {
		line.WriteString(standing(cell, widths[i], &t.Columns[i], colour) + strings.Repeat(" ", gap))
		columns += widths[i] + gap
	}
	if utf8.RuneCountInString(row[n]) <= widths[n] {
		line.WriteString(standing(row[n], widths[n], &t.Columns[n], colour))
		b.WriteString(strings.TrimRight(line.String(), " ") + "\n")
		return
	}
	indent := strings.Repeat(" ", columns)
	last := inMemory(func(w *bufio.Writer) {
		writeWrapped(w, row[n], indent, indent+"  ", TextOptions{Width: columns + widths[n]})
	})
	b.WriteString(line.String() + last[columns:])
}

// inMemory is what is written.
func inMemory(write func(*bufio.Writer)) string {
	var buf bytes.Buffer
	w := bufio.NewWriter(&buf)
	write(w)
	_ = w.Flush() // to memory
	return buf.String()
}

// standing fills a cell up to its column's width, coloured where it is a chance.
func standing(cell string, width int, c *view.Column, colour bool) string {
	out := padded(cell, width, c.Right)
	if style := chanceStyle(cell); colour && c.Chance && style != "" {
		out = strings.Replace(out, cell, style+cell+styleOff, 1)
	}
	return out
}

func padded(cell string, width int, right bool) string {
	pad := strings.Repeat(" ", max(0, width-utf8.RuneCountInString(cell)))
	if right {
		return pad + cell
	}
	return cell + pad
}

// writeRowsNamed writes each row as 'first cell: name value; name value', with a word for
// the dash of a column, which is not read out.
func writeRowsNamed(b *bufio.Writer, t *view.Table, opt TextOptions) {
	for _, row := range t.Rows {
		var parts []string
		for i, cell := range row[1:] {
			switch cell {
			case "":
				continue
			case "-":
				cell = "none"
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

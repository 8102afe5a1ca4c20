package view

// Document is an answer as a person reads it: blocks in order. How wide lines
// may be, and whether boxes, arrows and colour are wanted, is the renderer's
// business.
type Document struct {
	Blocks []Block
}

// Block is one part of a document; exactly one field is set.
type Block struct {
	Title string
	Text  string
	Table *Table
	Notes []string // footnotes
	Steps []string // commands or actions, one a line, never broken
}

// Table is rows of cells under column heads.
type Table struct {
	Columns []Column
	Rows    [][]string
	Write   bool // to be filled in by hand
	// Empty is said in place of a table without rows.
	Empty string
}

// Column is the head of a column and how its cells stand.
type Column struct {
	Head  string
	Right bool // figures stand to the right
	// Chance is set where cells are chances in per cent, as Percent writes them.
	Chance bool
	Fixed  bool // a strip of signs, each as wide as another
	// Name is said before the cell where there are no columns to see, as in
	// text for a screen reader; the head when empty.
	Name string
}

// Title adds a heading.
func (d *Document) Title(s string) { d.Blocks = append(d.Blocks, Block{Title: s}) }

// Say adds a paragraph.
func (d *Document) Say(s string) {
	if s != "" {
		d.Blocks = append(d.Blocks, Block{Text: s})
	}
}

// Add adds a table.
func (d *Document) Add(t *Table) { d.Blocks = append(d.Blocks, Block{Table: t}) }

// Note adds footnotes, below others that stand last.
func (d *Document) Note(notes ...string) {
	if len(notes) == 0 {
		return
	}
	if n := len(d.Blocks); n > 0 && d.Blocks[n-1].Notes != nil {
		d.Blocks[n-1].Notes = append(d.Blocks[n-1].Notes, notes...)
		return
	}
	d.Blocks = append(d.Blocks, Block{Notes: notes})
}

// Try adds commands to try next.
func (d *Document) Try(commands ...string) {
	if len(commands) > 0 {
		d.Blocks = append(d.Blocks, Block{Steps: commands})
	}
}

// Documented is any answer that can be read as text.
type Documented interface{ Document() Document }

// Tabular is any answer that makes sense as rows.
type Tabular interface {
	// Records gives the column names and the rows, figures unrounded.
	Records() (names []string, rows [][]string)
}

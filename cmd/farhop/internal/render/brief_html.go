package render

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode/utf8"

	"farhop/cmd/farhop/internal/chart"
	"farhop/cmd/farhop/internal/scene"
	"farhop/cmd/farhop/internal/view"
)

var (
	//go:embed brief.html.tmpl
	briefTemplate string
	//go:embed brief.css
	briefStyle string
)

var briefPage = sync.OnceValue(func() *template.Template { return template.Must(template.New("brief").Parse(briefTemplate)) })

// HTMLOptions says how a brief is laid out.
type HTMLOptions struct {
	Paper string // A4 or letter; "" = either, as the printer has it
}

// Sizes of a printed page in tenths of a millimetre, for whichever of A4 and Letter is
// smaller, within margins of 12 mm; and what stands on it, as brief.css sets it.
const (
	paperHeight = 2540
	paperWidth  = 1860
	paperLine   = 42 // a line of text
	paperGap    = 5  // around a paragraph
	paperRow    = 50 // a line of a table
	paperTitle  = 75 // a heading
	paperWrite  = 71 // a row to write in
	paperHead   = 47 // the head of a table
	paperSlack  = 40
	netMap      = 1180 // the most a map may be high
	sheetMap    = 720
	// paperColumns is how many letters a line holds at least: the estimate is on the
	// safe side, so that no page runs over.
	paperColumns = 98
)

// htmlBrief is what the template is filled with.
type htmlBrief struct {
	Title, Paper string
	CSS          template.CSS
	Pages        []htmlPage
}

type htmlPage struct {
	N, Of       int
	Sheet       string // which page of its sheet it is, "" = there is but one sheet
	Alert, Name string
	Head        []htmlLine
	Items       []htmlItem
	Foot        string
}

type htmlLine struct {
	Text  string
	Stale bool
}

// htmlItem is one of a heading, a map, a table, notes and paragraphs.
type htmlItem struct {
	Title string
	Map   template.HTML
	Net   bool // the map is the net's
	Table *htmlTable
	Notes []string
	Lines []string
}

type htmlTable struct {
	// Class says how columns stand: r3 is the third to the right, f3 a strip of signs,
	// words that the last one holds words to be broken into lines.
	Class   string
	Columns []view.Column
	Rows    [][]string
}

// BriefHTML writes the plan as one page for a browser that needs nothing else: no
// script, no address. It prints as the pages it shows, on A4 and on Letter.
func BriefHTML(w io.Writer, v *view.Brief, opt HTMLOptions) error {
	out := htmlBrief{Title: v.Net + ", " + v.Clock.Date(v.At), Paper: opt.Paper, CSS: template.CSS(briefStyle)}
	if v.Only != "" {
		out.Title = v.Only + ", " + out.Title
	}
	parts := v.Parts()
	for i := range parts {
		pages := htmlPages(&parts[i], v.Caution)
		for k := range pages {
			if len(parts) > 1 && parts[i].Station != "" {
				pages[k].Sheet = fmt.Sprintf("sheet %d of %d", k+1, len(pages))
			}
		}
		out.Pages = append(out.Pages, pages...)
	}
	for i := range out.Pages {
		out.Pages[i].N, out.Pages[i].Of = i+1, len(out.Pages)
	}
	return briefPage().Execute(w, out)
}

// Widths of maps in units of the scene.
const netMapUnits, sheetMapUnits = 760, 520

// htmlPages lays a part out.
func htmlPages(part *view.BriefPart, foot string) []htmlPage {
	d := &part.Document
	picture, pictureHeight := partMap(part)
	set := make([]typeset, len(d.Blocks))
	for i := range d.Blocks {
		set[i] = typesetBlock(&d.Blocks[i], paperColumns)
	}
	list := pieces(d, func(block, row int) (height, head int) {
		if set[block].head != nil || d.Blocks[block].Table != nil {
			head = paperHead
		}
		return paperPiece(&d.Blocks[block], len(set[block].parts[row])), head
	})
	if pictureHeight > 0 {
		at := firstText(d, list)
		list = append(list[:at:at], append([]piece{{block: mapBlock, height: pictureHeight}}, list[at:]...)...)
	}
	head := paperSlack
	for _, text := range append([]string{part.Alert, part.Name + " sheet 00 of 00, page 000 of 000", foot}, part.Head...) {
		if text != "" {
			head += paperGap + paperLine*len(wrapped(text, paperColumns))
		}
	}
	capacity := paperHeight - head
	var out []htmlPage
	for _, page := range paginate(list, capacity) {
		p := htmlPage{Alert: part.Alert, Name: part.Name, Foot: foot, Items: htmlItems(d, page, picture, part.Station == "")}
		for _, h := range part.Head {
			p.Head = append(p.Head, htmlLine{h, strings.HasPrefix(h, "STALE")})
		}
		out = append(out, p)
	}
	return out
}

// mapBlock stands for a part's map in place of a block's index.
const mapBlock = -1

// firstText is where the first paragraphs of a document end.
func firstText(d *view.Document, list []piece) int {
	for i := range list {
		if d.Blocks[list[i].block].Text != "" {
			return i + 1
		}
	}
	return 0
}

// paperPiece is the height of a piece of a block that takes so many lines of text.
func paperPiece(b *view.Block, lines int) int {
	switch {
	case b.Title != "":
		return paperTitle + paperLine*(lines-1)
	case b.Table != nil && b.Table.Write:
		return paperWrite
	case b.Table != nil:
		return paperRow + paperLine*(lines-1)
	}
	return paperLine*lines + paperGap
}

// partMap draws a part's map, and tells how high it is on paper.
func partMap(part *view.BriefPart) (template.HTML, int) {
	if part.Map == nil {
		return "", 0
	}
	units, most, title := netMapUnits, netMap, part.Map.Net+": map"
	if part.Station != "" {
		units, most, title = sheetMapUnits, sheetMap, part.Station+": map of next hops"
	}
	s := chart.Inset(part.Map, title, part.Hops, float64(units))
	if s == nil {
		return "", 0
	}
	return inline(s), min(most, int(math.Ceil(s.Height/s.Width*paperWidth))) + 4*paperGap
}

// inline is a picture as a part of an HTML page. The scene escapes its texts; the
// namespace, which HTML implies, is left out, so that the page names no address.
func inline(s *scene.Scene) template.HTML {
	var b strings.Builder
	if err := s.SVG(&b); err != nil {
		return ""
	}
	return template.HTML(strings.Replace(strings.TrimSpace(b.String()), ` xmlns="http://www.w3.org/2000/svg"`, "", 1))
}

// htmlItems puts the pieces of a page together again.
func htmlItems(d *view.Document, page []piece, picture template.HTML, net bool) []htmlItem {
	var items []htmlItem
	last := mapBlock - 1
	for _, p := range page {
		if p.block == mapBlock {
			items, last = append(items, htmlItem{Map: picture, Net: net}), p.block
			continue
		}
		b := &d.Blocks[p.block]
		if p.block != last {
			items = append(items, htmlItem{})
		}
		item := &items[len(items)-1]
		switch {
		case b.Title != "":
			item.Title = b.Title
		case b.Table != nil && len(b.Table.Rows) > 0:
			if item.Table == nil {
				item.Table = &htmlTable{Class: tableClass(b.Table), Columns: b.Table.Columns}
			}
			row := b.Table.Rows[p.row]
			if b.Table.Write {
				row = make([]string, len(row))
			}
			item.Table.Rows = append(item.Table.Rows, row)
		case b.Table != nil:
			item.Lines = []string{b.Table.Empty}
		case b.Notes != nil:
			item.Notes = append(item.Notes, b.Notes[p.row])
		default:
			item.Lines = strings.Split(b.Text, "\n")
		}
		last = p.block
	}
	return items
}

// tableClass is what brief.css needs to know of a table.
func tableClass(t *view.Table) string {
	var class []string
	if t.Write {
		class = append(class, "write")
	}
	for i, c := range t.Columns {
		switch {
		case c.Right:
			class = append(class, "r"+strconv.Itoa(i+1))
		case c.Fixed:
			class = append(class, "f"+strconv.Itoa(i+1))
		}
	}
	if len(t.Columns) > 0 && slices.ContainsFunc(t.Rows, wordy) {
		class = append(class, "words")
	}
	return strings.Join(class, " ")
}

// wordyCell is from how many characters on a last cell is broken into lines on a phone,
// which needs some width for its words: a choice.
const wordyCell = 14

func wordy(row []string) bool { return utf8.RuneCountInString(row[len(row)-1]) >= wordyCell }

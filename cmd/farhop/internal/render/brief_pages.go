package render

import "farhop/cmd/farhop/internal/view"

// piece is a part of a page that isn't divided: a heading, a paragraph, or a row of
// a table.
type piece struct {
	block  int  // index of the block it belongs to
	row    int  // of a table, else 0
	height int  // in lines
	gap    int  // lines before it, unless it begins a page
	again  int  // of a table: lines of its head, which stands above its first row on a page
	keep   bool // on the same page as the next piece
}

// wholeTable is up to how many rows a table is kept on one page.
const wholeTable = 14

// pieces cuts a document up; height tells how many lines a piece of a block takes, and
// those of its table's head.
func pieces(d *view.Document, height func(block, row int) (lines, head int)) []piece {
	var out []piece
	for i := range d.Blocks {
		b := &d.Blocks[i]
		switch {
		case b.Title != "":
			out = append(out, piece{block: i, gap: 1, keep: true})
		case b.Table != nil && len(b.Table.Rows) > 0:
			n := len(b.Table.Rows)
			for r := range n {
				keep := r+1 < n && (n <= wholeTable && !b.Table.Write || r == 0 || r == n-2) || r+1 == n && explained(d, i)
				out = append(out, piece{block: i, row: r, keep: keep})
			}
		default:
			for r := range parts(b) {
				out = append(out, piece{block: i, row: r, keep: i+1 < len(d.Blocks) && d.Blocks[i+1].Table != nil && d.Blocks[i+1].Table.Write})
			}
		}
	}
	for i := range out {
		out[i].height, out[i].again = height(out[i].block, out[i].row)
	}
	return out
}

// explained reports whether a table has its explanation right below.
func explained(d *view.Document, table int) bool {
	return table+1 < len(d.Blocks) && d.Blocks[table+1].Text != ""
}

// parts is into how many pieces a block other than a table with rows is cut.
func parts(b *view.Block) int { return max(1, len(b.Notes)+len(b.Steps)) }

// fewPieces is how much of what is longer than half a page is kept together: a heading
// and two rows.
const fewPieces = 3

// paginate puts pieces on pages of so many lines. What is to be kept together is, unless
// it takes more than half a page.
func paginate(list []piece, capacity int) [][]piece {
	var pages [][]piece
	var page []piece
	used := 0
	for len(list) > 0 {
		n := 1
		for n < len(list) && list[n-1].keep {
			n++
		}
		if total(nil, list[:n]) > capacity/2 {
			n = min(n, fewPieces)
		}
		if total(nil, list[:n]) > capacity {
			n = 1
		}
		more := total(page, list[:n])
		if used > 0 && used+more > capacity {
			pages = append(pages, page)
			page, used = nil, 0
			more = total(nil, list[:n])
		}
		page, used = append(page, list[:n]...), used+more
		list = list[n:]
	}
	if len(page) > 0 || len(pages) == 0 {
		pages = append(pages, page)
	}
	return pages
}

// total is how many lines some pieces take below those already on a page.
func total(page, more []piece) int {
	last, sum := -1, 0
	if n := len(page); n > 0 {
		last = page[n-1].block
	}
	for i := range more {
		p := &more[i]
		sum += p.height
		if len(page) > 0 || i > 0 {
			sum += p.gap
		}
		if p.block != last {
			sum += p.again
		}
		last = p.block
	}
	return sum
}

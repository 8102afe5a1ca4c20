package render

import (
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"farhop/cmd/farhop/internal/view"
)

// Whatever is put on pages, all of it is there in order, no page is too long unless a
// single piece is, and what is to be kept together is where it isn't long.
func TestPaginate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		capacity := rapid.IntRange(4, 30).Draw(t, "capacity")
		n := rapid.IntRange(0, 40).Draw(t, "pieces")
		var list []piece
		block := 0
		for i := range n {
			block += rapid.IntRange(0, 1).Draw(t, "next block")
			list = append(list, piece{
				block: block, row: i, height: rapid.IntRange(1, 6).Draw(t, "height"), gap: rapid.IntRange(0, 1).Draw(t, "gap"),
				again: rapid.IntRange(0, 2).Draw(t, "again"), keep: i+1 < n && rapid.IntRange(0, 3).Draw(t, "keep") == 0,
			})
		}
		pages := paginate(list, capacity)
		at := 0
		for _, page := range pages {
			if h := total(nil, page); h > capacity && len(page) > 1 {
				t.Fatalf("a page of %d pieces takes %d of %d lines", len(page), h, capacity)
			}
			for _, p := range page {
				if p.row != at {
					t.Fatalf("piece %d stands where %d should", p.row, at)
				}
				at++
			}
		}
		if at != n {
			t.Fatalf("%d of %d pieces are on pages", at, n)
		}
		at = 0
		for _, page := range pages[:len(pages)-1] {
			at += len(page)
			if !list[at-1].keep {
				continue
			}
			from := at - 1
			for from > 0 && list[from-1].keep {
				from--
			}
			to := at
			for list[to].keep {
				to++
			}
			if total(nil, list[from:to+1]) <= capacity/2 {
				t.Fatalf("pieces %d to %d are parted, though they take less than half a page", from, to)
			}
		}
	})
}

// pagesOf splits text into pages of lines.
func pagesOf(text string) [][]string {
	var pages [][]string
	for page := range strings.SplitSeq(text, "\f") {
		pages = append(pages, strings.Split(strings.TrimSuffix(page, "\n"), "\n"))
	}
	return pages
}

// Long names and many messages make more pages, never longer or wider ones.
func TestBriefTextKeepsItsSize(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.StringMatching(`[A-Za-z<>&"é→]{1,200}`)
		v := &view.Brief{
			Timetable: &view.Timetable{}, Batteries: &view.Endurance{}, Exercise: rapid.Bool().Draw(t, "exercise"),
		}
		v.Net, v.Caution = name.Draw(t, "net"), view.Caution
		for range rapid.IntRange(0, 40).Draw(t, "messages") {
			v.Timetable.Messages = append(v.Timetable.Messages, view.PlannedMessage{ID: name.Draw(t, "id"), From: "A", To: name.Draw(t, "to"), WhyNot: name.Draw(t, "why")})
		}
		s := view.Sheet{Member: view.BriefMember{Call: "A", Licensed: name.Draw(t, "licensed")}}
		p := view.SheetPlan{}
		for range rapid.IntRange(0, 90).Draw(t, "destinations") {
			next := name.Draw(t, "next")
			p.Destinations = append(p.Destinations, view.Destination{To: name.Draw(t, "call"), Next: &next, Channel: "day"})
		}
		s.Plans = append(s.Plans, p)
		v.Sheets = append(v.Sheets, s)
		var b strings.Builder
		if err := BriefText(&b, v); err != nil {
			t.Fatal(err)
		}
		for i, page := range pagesOf(b.String()) {
			if len(page) > pageLines {
				t.Fatalf("page %d has %d lines", i+1, len(page))
			}
			for _, line := range page {
				if utf8.RuneCountInString(line) > pageColumns {
					t.Fatalf("page %d: %d columns: %q", i+1, utf8.RuneCountInString(line), line)
				}
			}
		}
	})
}

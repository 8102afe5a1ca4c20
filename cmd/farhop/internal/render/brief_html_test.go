package render

import (
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"farhop/cmd/farhop/internal/view"
)

// paperNet is a whole brief of n invented stations in a grid, each with a next hop and a
// backup to every other at two times, and a full log of who hears whom.
func paperNet(n int) *view.Brief {
	at := time.Date(2026, 3, 16, 2, 30, 0, 0, time.UTC)
	later := at.Add(8 * time.Hour)
	v := &view.Brief{
		Characters: 100, Frames: 7, DeadlineMin: 240, Slots: view.SlotScheme{Seconds: 40, KeyedSeconds: 34, Characters: 18, Header: 1, Ack: 1, Turnaround: 1, Rounds: 6, Block: 10},
		Channels:  []view.BriefChannel{{Name: "day", FrequencyHz: 7131000, Windows: []string{"10:30-00:30"}, OffsetsHz: []int{800, 1200}}, {Name: "night", FrequencyHz: 3651000, Windows: []string{"22:30-12:00"}}},
		Timetable: &view.Timetable{Overrun: "Stop."}, Batteries: &view.Endurance{Charge: 1},
		Hand: view.Hand{SNRDB: []int{0, -8, -12}, Characters: []int{20, 100}, Minutes: [][]*float64{{new(3.0), new(6.0)}, {new(7.0), new(15.0)}, {nil, nil}}},
	}
	v.Net, v.At, v.Clock, v.Caution = "Net on paper", at, view.Clock{Day: at}, view.Caution
	v.Stale = view.Stale{At: &later, NextHop: n}
	d := &view.Drawing{View: view.MapView, Threshold: 0.5, Centre: -1}
	for i := range n {
		call := fmt.Sprintf("STATION%d", i+1)
		v.Members = append(v.Members, view.BriefMember{Call: call, Locator: "FE34", PowerW: 10, Channels: []string{"day", "night"}, OnAir: "00:00-24:00"})
		d.Nodes = append(d.Nodes, view.Node{Call: call, Locator: "FE34", Lat: -45 + 0.3*float64(i/8), Lon: -73 + 0.5*float64(i%8)})
		for k := range i {
			if i-k < 9 {
				d.Edges = append(d.Edges, view.DrawnLink{From: k, To: i, Both: true, Decode: 0.9, There: 0.9, Back: 0.9})
			}
		}
	}
	v.Map = d
	for i := range n {
		v.Sheets = append(v.Sheets, paperSheet(v, i))
		call := v.Members[i].Call
		v.Timetable.Messages = append(v.Timetable.Messages, view.PlannedMessage{ID: fmt.Sprintf("M%d", i), From: call, To: "STATION1", Chain: []string{call, "STATION2", "STATION1"}, Arrival: &later, Deadline: later, Fits: true})
		v.Timetable.Transmissions = append(v.Timetable.Transmissions, view.Transmission{Message: fmt.Sprintf("M%d", i), From: call, To: []string{"STATION2"}, Channel: "day", Start: at, End: later, Frames: 7})
		v.Batteries.Stations = append(v.Batteries.Stations, view.StationBattery{Call: call, LowestCharge: 0.5, LowestAt: later, CapacityWh: 128, Reserve: 0.2})
	}
	return v
}

func paperSheet(v *view.Brief, own int) view.Sheet {
	s := view.Sheet{Member: v.Members[own], From: v.At, Stale: v.Stale, Watch: []view.WatchSpan{{From: 0, To: 86400, Channels: []string{"day"}}}}
	for _, from := range []time.Time{v.At, *v.Stale.At} {
		p := view.SheetPlan{From: from}
		for i := range v.Members {
			if i == own {
				continue
			}
			next := (own + 1 + i%7) % len(v.Members)
			backup := (next + 1) % len(v.Members)
			p.Destinations = append(p.Destinations, view.Destination{
				To: v.Members[i].Call, Next: &v.Members[next].Call, Channel: "night", Delivered: 0.93, P80Minutes: new(22.0), GiveUpMinutes: new(7.0),
				BackupNext: &v.Members[backup].Call, BackupChannel: "night", BackupDelivered: new(0.9),
			})
			if hop := [2]int{own, next}; !slices.Contains(s.Hops, hop) {
				s.Hops = append(s.Hops, hop)
			}
		}
		s.Plans = append(s.Plans, p)
	}
	var hours []view.HourMark
	for h := range 24 {
		hours = append(hours, view.HourMark{State: view.CellOpen, Decode: float64(h) / 24})
	}
	ear := view.Earshot{SNRDB: new(-9.0), SNRSDDB: new(6.0), Hours: hours}
	for i := range v.Members {
		if i != own {
			s.Neighbours = append(s.Neighbours, view.Neighbour{Call: v.Members[i].Call, Heard: ear, Hears: ear})
		}
	}
	m := *v.Map
	m.Edges = nil
	for _, e := range v.Map.Edges {
		if e.From == own || e.To == own {
			m.Edges = append(m.Edges, e)
		}
	}
	s.Map = &m
	return s
}

func briefHTML(t testing.TB, v *view.Brief) string {
	t.Helper()
	var b strings.Builder
	if err := BriefHTML(&b, v, HTMLOptions{}); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// emptyTags need no end.
var emptyTags = []string{"meta", "br", "hr", "img", "link", "input"}

// checkHTML reads a page with the tokenizer of golang.org/x/net/html: tags are balanced,
// ids unique, nothing is a script or names an address, every picture has a title and a
// description, all text in the body is escaped.
func checkHTML(t *testing.T, text string) (words string) {
	t.Helper()
	z := html.NewTokenizer(strings.NewReader(text))
	var open []string
	ids := map[string]bool{}
	titles, descs, pictures := 0, 0, 0
	var said strings.Builder
	for {
		switch z.Next() {
		case html.ErrorToken:
			if z.Err() != io.EOF {
				t.Fatal(z.Err())
			}
			if len(open) > 0 {
				t.Errorf("left open: %v", open)
			}
			if titles != pictures || descs != pictures || pictures == 0 {
				t.Errorf("%d pictures, %d titles, %d descriptions", pictures, titles, descs)
			}
			return said.String()
		case html.StartTagToken, html.SelfClosingTagToken:
			tok := z.Token()
			checkAttributes(t, tok, ids)
			inSVG := slices.Contains(open, "svg")
			switch {
			case tok.Data == "svg":
				pictures++
			case tok.Data == "title" && inSVG:
				titles++
			case tok.Data == "desc" && inSVG:
				descs++
			case slices.Contains([]string{"script", "iframe", "object", "embed", "img", "link", "a", "base", "form", "foreignobject", "use", "image"}, tok.Data):
				t.Errorf("a %s", tok.Data)
			}
			if tok.Type == html.StartTagToken && !slices.Contains(emptyTags, tok.Data) {
				open = append(open, tok.Data)
			}
		case html.EndTagToken:
			tok := z.Token()
			if len(open) == 0 || open[len(open)-1] != tok.Data {
				t.Fatalf("</%s> closes %v", tok.Data, open)
			}
			open = open[:len(open)-1]
		case html.TextToken:
			said.WriteString(z.Token().Data)
		}
	}
}

func checkAttributes(t *testing.T, tok html.Token, ids map[string]bool) {
	t.Helper()
	for _, a := range tok.Attr {
		switch {
		case a.Key == "id" && ids[a.Val]:
			t.Errorf("two elements are called %s", a.Val)
		case a.Key == "id":
			ids[a.Val] = true
		case strings.HasPrefix(a.Key, "on"), a.Key == "href", a.Key == "src", a.Key == "xlink:href", a.Key == "style":
			t.Errorf("<%s %s=%q>", tok.Data, a.Key, a.Val)
		}
	}
}

var address = regexp.MustCompile(`(?i)https?:|ftp:|//[a-z]|url\(|@import|javascript:`)

// A net of 60 stations stays under 2 MB, one station's sheet under 100 kB.
func TestBriefHTMLSize(t *testing.T) {
	v := paperNet(60)
	all := briefHTML(t, v)
	if len(all) >= 2_000_000 {
		t.Errorf("60 stations take %d bytes", len(all))
	}
	checkHTML(t, all)
	if found := address.FindString(all); found != "" {
		t.Errorf("%q is in the page", found)
	}
	v.Only, v.Sheets = v.Sheets[7].Member.Call, v.Sheets[7:8]
	one := briefHTML(t, v)
	if len(one) >= 100_000 {
		t.Errorf("one station takes %d bytes", len(one))
	}
	checkHTML(t, one)
	t.Logf("60 stations %d bytes, one %d", len(all), len(one))
	for i := range 3 {
		if briefHTML(t, v) != one {
			t.Fatalf("run %d differs", i)
		}
	}
}

// Whatever names hold is text.
func TestBriefHTMLEscapes(t *testing.T) {
	hostile := "<script>alert(1)</script> & \"q\" 'a' --> ]]> </svg></title><b onclick=x>\u202e\x00{{.}}"
	v := paperNet(5)
	v.Net, v.Members[0].Call, v.Sheets[0].Member.Call, v.Sheets[0].Member.Licensed = hostile, hostile, hostile, hostile
	v.Map.Nodes[0].Call = hostile
	v.Channels[0].Name, v.Channels[0].Windows = hostile, []string{hostile}
	v.Sheets[1].Plans[0].Destinations[0].To = hostile
	v.Sheets[1].Neighbours[0].Call = hostile
	v.Timetable.Messages[0].ID = hostile
	v.Assumed = []string{hostile}
	v.Warnings = []view.Warning{{Message: hostile}}
	text := briefHTML(t, v)
	words := checkHTML(t, text)
	for _, want := range []string{"<script>alert(1)</script> & \"q\" 'a' --> ]]>", "{{.}}"} {
		if !strings.Contains(words, want) {
			t.Errorf("%q isn't said", want)
		}
	}
	if strings.Contains(strings.ToLower(text), "<script") || strings.Contains(text, "<b ") {
		t.Error("a name became a tag")
	}
}

// Every page says what must be on it, and pages are counted.
func TestBriefHTMLPages(t *testing.T) {
	v := paperNet(6)
	v.Exercise = true
	pages := strings.Split(briefHTML(t, v), `<section class="page"`)[1:]
	for i, page := range pages {
		for _, want := range []string{
			fmt.Sprintf("page %d of %d<", i+1, len(pages)), "EXERCISE", `<p class="stale">STALE AFTER 2026-03-16 10:30Z`,
			"For 2026-03-16 02:30Z", "printed ____", "Your licence, local rules",
		} {
			if !strings.Contains(page, want) {
				t.Errorf("page %d lacks %q", i+1, want)
			}
		}
	}
	if !strings.Contains(pages[0], "<svg") || !strings.Contains(pages[0], "<h2>Channels") || !strings.Contains(pages[0], "Group") && !strings.Contains(pages[0], "No two members") {
		t.Error("map, channels and groups aren't on the first page")
	}
}

// A last column of words keeps room for them on a narrow screen; one of figures or short
// names takes none.
func TestTableClass(t *testing.T) {
	text, figure := view.Column{Head: "A"}, view.Column{Head: "B", Right: true}
	for _, c := range []struct {
		table view.Table
		want  string
	}{
		{view.Table{Columns: []view.Column{text, text}, Rows: [][]string{{"M1", "HARBOR → MILL → SUMMIT"}}}, "words"},
		{view.Table{Columns: []view.Column{figure, text}, Rows: [][]string{{"1", "MILL"}, {"2", "HARBOR and MILL"}}}, "r1 words"},
		{view.Table{Columns: []view.Column{text, figure}, Rows: [][]string{{"a long name of a thing", "12"}}}, "r2"},
		{view.Table{Columns: []view.Column{text, figure}}, "r2"},
	} {
		if got := tableClass(&c.table); got != c.want {
			t.Errorf("class %q, want %q", got, c.want)
		}
	}
}

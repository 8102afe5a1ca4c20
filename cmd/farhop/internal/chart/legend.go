package chart

import (
	"fmt"
	"math"

	"farhop/cmd/farhop/internal/scene"
	"farhop/cmd/farhop/internal/view"
)

// entry is one sign of the legend: how it is drawn, in a box 40 wide around a
// point, and what it means.
type entry struct {
	draw func(s *scene.Scene, at scene.Point)
	text string
}

const (
	entryIndent = 46.0
	entryWidth  = 300.0
	lineHeight  = textSize * 1.35
)

// legend writes entries in columns and paragraphs below, and returns where it ends.
func legend(s *scene.Scene, y, width float64, entries []entry, paragraphs []string) float64 {
	columns := max(1, int(width/entryWidth))
	w := width / float64(columns)
	rows := (len(entries) + columns - 1) / columns
	for row := range rows {
		height := 0.0
		for c := range columns {
			i := c*rows + row
			if i >= len(entries) {
				continue
			}
			x := margin + float64(c)*w
			lines := scene.Wrap(entries[i].text, textSize, false, w-entryIndent-12)
			entries[i].draw(s, scene.Point{X: x + 20, Y: y + lineHeight/2})
			for k, line := range lines {
				s.Add(&scene.Text{At: scene.Point{X: x + entryIndent, Y: y + lineHeight*(float64(k)+0.5) + 0.36*textSize}, Size: textSize, Fill: ink, Halo: scene.None, String: line})
			}
			height = math.Max(height, lineHeight*float64(len(lines))+6)
		}
		y += height
	}
	y += 4
	for _, p := range paragraphs {
		for _, line := range scene.Wrap(p, textSize, false, width) {
			y += lineHeight
			s.Add(&scene.Text{At: scene.Point{X: margin, Y: y}, Size: textSize, Fill: ink, Halo: scene.None, String: line})
		}
		y += 3
	}
	return y + margin
}

// notes are the paragraphs under every picture.
func notes(v *view.Drawing, more ...string) []string {
	out := append(v.LeftOut(), more...)
	for _, w := range v.Warnings {
		out = append(out, w.Message)
	}
	return append(out, v.Caution)
}

func sample(style linkStyle, e view.DrawnLink) func(*scene.Scene, scene.Point) {
	return func(s *scene.Scene, at scene.Point) {
		drawLink(s, style, &e, []scene.Point{{X: at.X - 19, Y: at.Y}, {X: at.X + 19, Y: at.Y}})
	}
}

// linkEntries explain the lines that occur in the drawing.
func linkEntries(v *view.Drawing) []entry {
	style := newLinkStyle(v.Threshold, len(v.Edges))
	var out []entry
	for _, c := range []float64{1, (1 + v.Threshold) / 2, v.Threshold} {
		out = append(out, entry{sample(style, view.DrawnLink{Decode: c, Both: true}), fmt.Sprintf("a frame decodes with %s", view.Percent(c))})
	}
	out[0].text += " both ways"
	var one, stale, dotted bool
	for i := range v.Edges {
		e := &v.Edges[i]
		one = one || !e.Both
		stale = stale || e.Stale && !e.Inferred && !e.Guessed
		dotted = dotted || e.Inferred || e.Guessed
	}
	if one {
		out = append(out, entry{sample(style, view.DrawnLink{Decode: 0.9}), "open this way only"})
	}
	if stale {
		out = append(out, entry{
			sample(style, view.DrawnLink{Decode: 0.9, Both: true, Stale: true}),
			fmt.Sprintf("newest evidence over %s old (%d)", view.Age(view.StaleAfter), v.StaleLinks),
		})
	}
	if dotted {
		out = append(out, entry{sample(style, view.DrawnLink{Decode: 0.9, Both: true, Guessed: true}), "inferred from the way back, or guessed"})
	}
	if c := v.Chain; c != nil && c.Known {
		out = append(out, entry{func(s *scene.Scene, at scene.Point) {
			drawHop(s, []scene.Point{{X: at.X - 19, Y: at.Y}, {X: at.X + 19, Y: at.Y}})
		}, "the chosen chain"})
	}
	return out
}

// stationEntries explain the marks that occur.
func stationEntries(v *view.Drawing) []entry {
	group := v.GroupOf()
	has := map[kind]bool{}
	loose := false
	for i := range v.Nodes {
		k := kindOf(&v.Nodes[i])
		has[k] = true
		loose = loose || k == member && group[i] == 0
	}
	dot := func(k kind, g int) func(*scene.Scene, scene.Point) {
		return func(s *scene.Scene, at scene.Point) { mark(s, at, k, g, 7) }
	}
	var out []entry
	for i, g := range v.Groups {
		if len(g) > 1 && i < len(groupColours) {
			out = append(out, entry{dot(member, i+1), fmt.Sprintf("group %d: %d stations, all reach each other", i+1, len(g))})
		}
	}
	for _, k := range []struct {
		kind kind
		is   bool
		text string
	}{
		{single, has[single], "its loss cuts others off"},
		{member, loose, "joined one way only, in no group"},
		{oneWay, has[oneWay], "deaf (hears nobody) or unheard"},
		{cutOff, has[cutOff], "isolated"},
		{unknown, has[unknown], "unknown: no evidence either way"},
		{asleep, has[asleep], "off the air at this hour by the plan"},
	} {
		if k.is {
			g := 0
			if k.kind == single {
				g = 1
			}
			out = append(out, entry{dot(k.kind, g), k.text})
		}
	}
	return out
}

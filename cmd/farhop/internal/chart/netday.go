package chart

import (
	"fmt"
	"slices"
	"strconv"
	"time"

	"farhop/cmd/farhop/internal/scene"
	"farhop/cmd/farhop/internal/view"
)

const (
	netdayRow   = 20.0
	netdayLanes = 16 // stations shown one by one, of each kind
)

// netday is the day of a net being drawn: hours across.
type netday struct {
	*scene.Scene
	v    *view.NetDay
	x    float64 // where the hours begin
	cell float64 // width of an hour
	y    float64 // where the next row begins
}

// NetDay draws how the net holds together by the hour: its stations as stacked blocks,
// groups from below, then who is in none, then who is off the air; the worst reach; how
// much is unknown; and a row for each station whose loss would cut others off, and for
// each that is in no group.
func NetDay(v *view.NetDay) *scene.Scene {
	words := append(append(v.Summary(), v.Compared()...), "The same in figures: farhop draw --view day --format text.")
	s, y := sheet(&v.Head, "whole or in parts, by the hour", words, sheetWidth)
	d := &netday{Scene: s, v: v, x: margin + stripLabel, cell: (sheetWidth - stripLabel) / float64(max(1, len(v.Hours))), y: y}
	d.say(v.Summary(), v.Compared())
	var hours []time.Time
	for k := range v.Hours {
		hours = append(hours, v.Hours[k].At)
	}
	d.y += 20
	hourHeads(s, hours, d.x, d.y, d.cell)
	d.y += 12
	d.blocks()
	d.reach()
	d.unknown()
	d.lanes("Its loss cuts others off", v.Singles())
	d.lanes("On the air, but in no group", v.Alone())
	footing(s, &v.Head, d.y+16, sheetWidth, d.entries(), append(v.LeftOut(),
		"Worst reach: the least chance that some chain is open, of the pairs that have one (sampled, within 2 points). Unknown directions: how many, and "+
			"hatched their share of all that could be used. "+
			"Forecasts from what is known now: hours further ahead are less sure than they may look.")...)
	return s
}

// say writes the gist in bold, and the day without what was assumed below it.
func (d *netday) say(summary, compared []string) {
	for _, line := range scene.Wrap(summary[0], labelSize, true, sheetWidth) {
		d.Add(write(margin, d.y+6, labelSize, ink, line, strong))
		d.y += lineHeight
	}
	for _, text := range compared {
		for _, line := range scene.Wrap(text, textSize, false, sheetWidth) {
			d.Add(write(margin, d.y+6, textSize, ink, line))
			d.y += lineHeight
		}
	}
}

// label names a row on its left.
func (d *netday) label(mid float64, text string, ways ...func(*scene.Text)) {
	d.Add(write(d.x-8, mid+0.36*textSize, textSize, ink, scene.Cut(text, textSize, true, stripLabel-10), append(ways, toRight)...))
}

// box is the place of an hour from y on.
func (d *netday) box(hour int, y, height float64) scene.Box {
	x := d.x + float64(hour)*d.cell
	return scene.Box{X0: x, Y0: y, X1: x + d.cell, Y1: y + height}
}

// part is one block of a column.
type part struct {
	stations int
	group    int // from 1; 0: none
	state    view.LaneState
}

// parts are the blocks of an hour from below.
func parts(h *view.Hour) []part {
	var list []part
	for i, g := range h.Members {
		list = append(list, part{stations: len(g), group: i + 1})
	}
	isolated, unknown := 0, 0
	for _, call := range h.Alone {
		switch {
		case slices.Contains(h.Unknown, call):
			unknown++
		case slices.Contains(h.Isolated, call):
			isolated++
		}
	}
	for _, p := range []part{
		{len(h.Alone) - isolated - unknown, 0, view.LaneOneWay},
		{isolated, 0, view.LaneIsolated},
		{unknown, 0, view.LaneUnknown},
		{len(h.OffAir), 0, view.LaneOffAir},
	} {
		if p.stations > 0 {
			list = append(list, p)
		}
	}
	return list
}

// blocks stacks the stations of each hour.
func (d *netday) blocks() {
	n := float64(max(1, d.v.Stations))
	p := &plot{s: d.Scene, x1: 1, y1: n, box: scene.Box{X0: d.x, Y0: d.y, X1: d.x + d.cell*float64(len(d.v.Hours)), Y1: d.y + clamp(14*n, 100, 260)}}
	lines := &scene.Path{Style: scene.Style{Fill: scene.None, Stroke: hair, Width: 0.8}}
	step := 1.0
	for _, step = range []float64{1, 2, 5, 10, 20, 50, 100, 200, 500, 1000} {
		if n/step <= 8 {
			break
		}
	}
	for at := 0.0; at <= n; at += step {
		y := p.y(at)
		lines.Lines = append(lines.Lines, []scene.Point{{X: d.x - 4, Y: y}, {X: p.box.X1, Y: y}})
		d.Add(write(d.x-8, y+0.36*smallSize, smallSize, quiet, view.Whole(at), toRight))
	}
	d.Add(lines, write(margin, d.y+10, textSize, ink, "Stations", strong))
	for k := range d.v.Hours {
		done := 0
		for _, x := range parts(&d.v.Hours[k]) {
			b := d.box(k, p.y(float64(done+x.stations)), p.y(0)-p.y(float64(x.stations)))
			b.X0, b.X1, b.Y0 = b.X0+1.5, b.X1-1.5, b.Y0+1
			d.block(b, x)
			done += x.stations
		}
	}
	d.y = p.box.Y1 + 14
}

// block is one block with its number of stations where there is room.
func (d *netday) block(b scene.Box, x part) {
	text := strconv.Itoa(x.stations)
	room := b.Height() >= 11.5
	switch {
	case x.group > 0:
		c := groupColour(x.group)
		d.Add(scene.Rectangle(b, 0, scene.Style{Fill: c, Stroke: scene.None}))
		if room {
			d.Add(figureIn(b, text, on(c)))
		}
		return
	case x.state == view.LaneOffAir:
		d.Add(scene.Rectangle(b, 0, scene.Style{Fill: hair, Stroke: scene.None}))
	case x.state == view.LaneUnknown:
		d.Add(scene.Rectangle(b, 0, scene.Style{Fill: paper, Stroke: quiet, Width: 0.8}), hatch(b, 6, 0x8a8a8a))
	case x.state == view.LaneIsolated:
		d.Add(scene.Rectangle(b.Grow(-0.6), 0, scene.Style{Fill: paper, Stroke: ink, Width: 1.4}))
	default:
		d.Add(scene.Rectangle(b.Grow(-0.6), 0, scene.Style{Fill: paper, Stroke: ink, Width: 1.2, Dash: []float64{2, 2}}))
	}
	if room {
		t := figureIn(b, text, ink)
		if x.state == view.LaneUnknown {
			t.Halo = paper
		}
		d.Add(t)
	}
}

// reach is the row of the worst reach.
func (d *netday) reach() {
	d.label(d.y+netdayRow/2, "Worst reach, %")
	for k := range d.v.Hours {
		b := d.box(k, d.y, netdayRow)
		edge := scene.Rectangle(b, 0, scene.Style{Fill: paper, Stroke: hair, Width: 0.7})
		r := d.v.Hours[k].WorstReach
		if r == nil {
			d.Add(edge, cross(b.Centre(), 3, quiet, 1.2))
			continue
		}
		edge.Fill = shade(*r)
		d.Add(edge, figureIn(b, view.DrawnPercents(*r), on(edge.Fill)))
	}
	d.y += netdayRow + 5
}

// unknown is the row of directions of which too little is known: their number, and
// below it their share of all as a hatched part of a bar.
func (d *netday) unknown() {
	const figure, bar = 14.0, 8.0
	d.label(d.y+(figure+bar)/2, "Unknown directions")
	for k := range d.v.Hours {
		h := &d.v.Hours[k]
		t := figureIn(d.box(k, d.y, figure), briefly(h.UnknownLinks), ink)
		t.Size = smallSize
		b := d.box(k, d.y+figure, bar)
		b.X0, b.X1 = b.X0+1.5, b.X1-1.5
		d.Add(t, scene.Rectangle(b, 0, scene.Style{Fill: paper, Stroke: faint, Width: 0.7}))
		if all := h.KnownLinks + h.UnknownLinks; h.UnknownLinks > 0 {
			b.X1 = b.X0 + b.Width()*float64(h.UnknownLinks)/float64(all)
			d.Add(hatch(b, 4, quiet), scene.Rectangle(b, 0, scene.Style{Fill: scene.None, Stroke: quiet, Width: 0.7}))
		}
	}
	d.y += figure + bar + 6
}

// lanes is a row for each station of which there is something to tell.
func (d *netday) lanes(title string, list []view.Lane) {
	if len(list) == 0 {
		return
	}
	d.y += lineHeight
	d.Add(write(margin, d.y, textSize, ink, title, strong))
	d.y += 6
	for i := range list {
		if i == netdayLanes {
			d.Add(write(margin, d.y+12, textSize, quiet, "and "+view.Count(len(list)-i, "more", "more")+": farhop draw --view day --format text tells of all"))
			d.y += lineHeight
			break
		}
		d.label(d.y+netdayRow/2, list[i].Call)
		for k, state := range list[i].States {
			d.laneCell(d.box(k, d.y, netdayRow), state, list[i].Lost[k])
		}
		d.y += netdayRow
	}
	d.y += 4
}

// laneCell is one station at one hour.
func (d *netday) laneCell(b scene.Box, state view.LaneState, lost int) {
	c := b.Centre()
	d.Add(scene.Rectangle(b, 0, scene.Style{Fill: paper, Stroke: hair, Width: 0.7}))
	switch state {
	case view.LaneCertain:
		d.Add(scene.Rectangle(b.Grow(-1.5), 0, scene.Style{Fill: ink, Stroke: scene.None}), figureIn(b, briefly(lost), paper))
	case view.LaneSingle:
		d.Add(scene.Rectangle(b.Grow(-2.2), 0, scene.Style{Fill: paper, Stroke: ink, Width: 1.5}), figureIn(b, briefly(lost), ink))
	case view.LaneUnknown:
		d.Add(hatch(b, 6, 0x8a8a8a))
	case view.LaneIsolated:
		d.Add(cross(c, 4, ink, 1.8))
	case view.LaneOneWay:
		d.Add(&scene.Circle{Centre: c, Radius: 4, Style: scene.Style{Fill: paper, Stroke: ink, Width: 1.6}})
	case view.LaneOffAir:
		d.Add(scene.Rectangle(b.Grow(-0.4), 0, scene.Style{Fill: hair, Stroke: scene.None}),
			scene.Line(quiet, 1.4, scene.Point{X: c.X - 5, Y: c.Y}, scene.Point{X: c.X + 5, Y: c.Y}))
	}
}

// briefly fits a count into a cell.
func briefly(n int) string {
	switch {
	case n < 10_000:
		return strconv.Itoa(n)
	case n < 1_000_000:
		return strconv.Itoa(n/1000) + "k"
	}
	return strconv.Itoa(n/1_000_000) + "M"
}

// entries explain what occurs.
func (d *netday) entries() []entry {
	sample := func(draw func(b scene.Box)) func(*scene.Scene, scene.Point) {
		return func(_ *scene.Scene, at scene.Point) {
			draw(scene.Box{X0: at.X - 15, Y0: at.Y - 8, X1: at.X + 15, Y1: at.Y + 8})
		}
	}
	var out []entry
	groups, states := 0, map[view.LaneState]int{}
	for k := range d.v.Hours {
		groups = max(groups, len(d.v.Hours[k].Members))
		for _, p := range parts(&d.v.Hours[k]) {
			states[p.state] = max(states[p.state], p.stations)
		}
	}
	for g := 1; g <= min(groups, len(groupColours)); g++ {
		text := "the largest group, how many: all in it reach each other both ways"
		if g > 1 {
			text = fmt.Sprintf("group %d by size at that hour", g)
		}
		out = append(out, entry{sample(func(b scene.Box) { d.block(b, part{d.largest(g), g, 0}) }), text})
	}
	if g := len(groupColours) + 1; groups >= g {
		out = append(out, entry{sample(func(b scene.Box) { d.block(b, part{d.largest(g), g, 0}) }), "smaller groups"})
	}
	for _, x := range []struct {
		state view.LaneState
		text  string
	}{
		{view.LaneOneWay, "on the air, but deaf, unheard or joined one way only"},
		{view.LaneIsolated, "isolated: hears nobody, heard by nobody"},
		{view.LaneUnknown, "unknown: too little evidence either way"},
		{view.LaneOffAir, "off the air by the plan"},
	} {
		if n := states[x.state]; n > 0 {
			out = append(out, entry{func(s *scene.Scene, at scene.Point) {
				d.block(scene.Box{X0: at.X - 19, Y0: at.Y - 8, X1: at.X - 1, Y1: at.Y + 8}, part{n, 0, x.state})
				d.laneCell(scene.Box{X0: at.X + 2, Y0: at.Y - 8, X1: at.X + 20, Y1: at.Y + 8}, x.state, 0)
			}, x.text})
		}
	}
	for _, x := range []struct {
		state view.LaneState
		text  string
	}{
		{view.LaneCertain, "its loss cuts others off, whether links count as open from 20, 50 or 80 %: ordered pairs lost"},
		{view.LaneSingle, "its loss cuts others off, but not at all of 20, 50 and 80 %: ordered pairs lost"},
	} {
		if lost, has := d.lost(x.state); has {
			out = append(out, entry{sample(func(b scene.Box) { d.laneCell(b, x.state, lost) }), x.text})
		}
	}
	return out
}

// largest is the most stations that the group of a rank has at any hour.
func (d *netday) largest(rank int) int {
	most := 0
	for k := range d.v.Hours {
		if m := d.v.Hours[k].Members; len(m) >= rank {
			most = max(most, len(m[rank-1]))
		}
	}
	return most
}

// lost is an example of the pairs lost in a state.
func (d *netday) lost(state view.LaneState) (int, bool) {
	for _, l := range d.v.Singles() {
		for k, s := range l.States {
			if s == state {
				return l.Lost[k], true
			}
		}
	}
	return 0, false
}

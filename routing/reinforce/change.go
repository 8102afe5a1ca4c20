package reinforce

import (
	"math"

	"farhop/mesh"
	"farhop/observations/locator"
)

// Kind says what a change is.
type Kind uint8

const (
	Power   Kind = iota // a station sends with more power
	Window              // a station is on the air longer
	Channel             // a station gets another channel
	Relay               // a new station
)

// String is the word for it.
func (k Kind) String() string {
	return [...]string{"power", "window", "channel", "relay"}[min(int(k), 3)]
}

// Change is one thing to do.
type Change struct {
	Kind     Kind
	Station  int          // index in the plan; of a relay, the one after all stations and earlier relays
	Watts    float64      // power: the new one; relay: assumed
	Windows  mesh.Windows // window: the new ones
	Channel  int          // channel: the new one
	Locator  string       // relay: the square
	Position locator.Position
}

// apply returns the world with the change made.
func (w *world) apply(c *Change) (*world, error) {
	after := w.clone()
	if c.Kind == Relay {
		after.net.Stations = append(after.net.Stations, mesh.Station{
			Locator: c.Locator, Position: c.Position, PowerW: c.Watts, Channels: allChannels(w.net), OnAir: mesh.Always(),
		})
		after.sites = append(after.sites, after.place(c.Position))
		return after, nil
	}
	members := w.links.Net().Clone()
	for _, net := range []*mesh.Net{members, after.net} {
		s := &net.Stations[c.Station]
		switch c.Kind {
		case Power:
			s.PowerW = c.Watts
		case Window:
			s.OnAir = c.Windows
		case Channel:
			s.Channels = append(s.Channels, c.Channel)
		}
	}
	if c.Kind != Power {
		after.touched[c.Station] = true
	}
	links, err := w.links.Replan(members)
	if err != nil {
		return nil, err
	}
	after.links = links
	return after, nil
}

// place enters a place into every law and returns its number there.
func (w *world) place(p locator.Position) int {
	site := -1
	var done *sites
	for _, law := range w.laws {
		if law == nil {
			continue
		}
		if law.sites != done {
			site = law.sites.add(p)
			done = law.sites
		}
	}
	return site
}

func allChannels(n *mesh.Net) []int {
	all := make([]int, len(n.Channels))
	for i := range all {
		all[i] = i
	}
	return all
}

// candidates lists the single changes worth looking at.
func (w *world) candidates(before Figures, squares int) []Change {
	var list []Change
	for i := range w.members {
		s := &w.net.Stations[i]
		if s.MaxPowerW > s.PowerW {
			list = append(list, Change{Kind: Power, Station: i, Watts: s.MaxPowerW})
		}
	}
	for i := range w.members {
		for _, windows := range w.longer(i) {
			list = append(list, Change{Kind: Window, Station: i, Windows: windows})
		}
	}
	for i := range w.members {
		for ch := range w.net.Channels {
			if !uses(&w.net.Stations[i], ch) {
				list = append(list, Change{Kind: Channel, Station: i, Channel: ch})
			}
		}
	}
	return append(list, w.relays(before, squares)...)
}

func uses(s *mesh.Station, channel int) bool {
	for _, c := range s.Channels {
		if c == channel {
			return true
		}
	}
	return false
}

// longer are windows that have a station on the air at more of the moments. For
// one moment: the shortest lengthening, in half hours, that holds it and the hour
// after. For several: three hours later off, three hours earlier on, or always.
func (w *world) longer(station int) []mesh.Windows {
	on := w.net.Stations[station].OnAir
	missing := 0
	for _, t := range w.moments {
		if !w.net.OnAir(station, w.net.Slots.Start(t)) {
			missing++
		}
	}
	if missing == 0 {
		return nil
	}
	if len(w.moments) > 1 || on.Empty() {
		const more = 3 * 3600
		return []mesh.Windows{lengthened(on, 0, more), lengthened(on, more, 0), mesh.Always()}
	}
	const half = 1800
	second := int(w.moments[0] % mesh.DaySeconds)
	best, length := mesh.Always(), mesh.DaySeconds
	for _, s := range on.Spans() {
		end := s.Start + s.Seconds
		later := roundUp(wrap(second-end)+3600, half)
		earlier := roundUp(wrap(s.Start-second), half)
		if later < length {
			best, length = joined(on, end, later), later
		}
		if earlier < length {
			best, length = joined(on, s.Start-earlier, earlier), earlier
		}
	}
	return []mesh.Windows{best}
}

func wrap(seconds int) int {
	return ((seconds % mesh.DaySeconds) + mesh.DaySeconds) % mesh.DaySeconds
}

func roundUp(n, step int) int { return (n + step - 1) / step * step }

// joined adds so many seconds from a start to windows.
func joined(w mesh.Windows, start, seconds int) mesh.Windows {
	return w.Union(span(start, seconds))
}

// lengthened has every window begin and end so many seconds earlier and later.
func lengthened(w mesh.Windows, before, after int) mesh.Windows {
	out := w
	for _, s := range w.Spans() {
		out = out.Union(span(s.Start-before, s.Seconds+before+after))
	}
	return out
}

// span is the windows that hold one stretch of the day.
func span(start, seconds int) mesh.Windows {
	if seconds >= mesh.DaySeconds {
		return mesh.Always()
	}
	from := wrap(start)
	w, err := mesh.ParseWindows([]string{clock(from) + "-" + clock(wrap(from+seconds))})
	if err != nil {
		return mesh.Windows{}
	}
	return w
}

func clock(second int) string {
	digits := func(n int) string { return string([]byte{'0' + byte(n/10), '0' + byte(n%10)}) }
	return digits(second/3600) + ":" + digits(second/60%60) + ":" + digits(second%60)
}

const (
	leastGridKM = 12.0
	beside      = 6 // characters of the locators given out
)

// relays are places for a new station: beside each single point of failure, and
// on a grid of at most so many squares over the area of the net.
func (w *world) relays(before Figures, squares int) []Change {
	law := w.anyLaw()
	if law == nil {
		return nil
	}
	var powers []float64
	for i := range w.members {
		powers = append(powers, w.net.Stations[i].PowerW)
	}
	watts := median(powers)
	var list []Change
	seen := make(map[string]bool)
	add := func(p locator.Position) {
		square, err := locator.Format(p, beside)
		if err != nil || seen[square] {
			return
		}
		seen[square] = true
		centre, err := locator.Parse(square)
		if err == nil {
			list = append(list, Change{Kind: Relay, Station: len(w.net.Stations), Watts: watts, Locator: square, Position: centre})
		}
	}
	for _, s := range before.Single {
		if site := w.site(law, s); site >= 0 {
			add(law.sites.place[site])
		}
	}
	for _, p := range gridOver(law.sites.place, squares) {
		add(p)
	}
	return list
}

func (w *world) anyLaw() *Law {
	for _, law := range w.laws {
		if law != nil {
			return law
		}
	}
	return nil
}

// gridOver lays at most so many points over the rectangle that holds the places,
// at equal distances north and east, row by row. Longitudes are counted from the
// first place, so that a net may lie across 180°.
func gridOver(places []locator.Position, most int) []locator.Position {
	if len(places) == 0 || most < 1 {
		return nil
	}
	const kmPerDegree = 111.2
	home := places[0].Lon
	south, north, west, east := 90.0, -90.0, 180.0, -180.0
	for _, p := range places {
		lon := math.Remainder(p.Lon-home, 360)
		south, north = min(south, p.Lat), max(north, p.Lat)
		west, east = min(west, lon), max(east, lon)
	}
	narrow := math.Cos((south + north) / 2 * math.Pi / 180)
	high, wide := (north-south)*kmPerDegree, (east-west)*kmPerDegree*narrow
	step := max(leastGridKM, math.Sqrt(high*wide/float64(most)))
	rows, columns := int(high/step)+1, int(wide/step)+1
	for rows*columns > most {
		step *= 1.05
		rows, columns = int(high/step)+1, int(wide/step)+1
	}
	var list []locator.Position
	for r := range rows {
		for c := range columns {
			lat := (south+north)/2 + (float64(r)-float64(rows-1)/2)*step/kmPerDegree
			lon := (west+east)/2 + (float64(c)-float64(columns-1)/2)*step/kmPerDegree/max(narrow, 0.05)
			list = append(list, locator.Position{Lat: lat, Lon: math.Remainder(lon+home, 360)})
		}
	}
	return list
}

package reinforce

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"farhop/mesh"
	"farhop/mesh/link"
	"farhop/routing/cut"
)

// Link is a link at a moment with what is not known of its climate.
type Link struct {
	cut.Link
	ClimateSD float64 // dB, part of Way.SD; 0 for links that the plan states
	Expected  bool    // nobody has measured it
}

// world is a net with some changes made to it: the members with their evidence, and
// relays of which only the place is known.
type world struct {
	links   *mesh.Links // of the members
	net     *mesh.Net   // members, then relays; not prepared, for questions of slots only
	members int
	moments []int64
	laws    []*Law // by moment; entries are nil where nothing can be expected
	use     cut.Use
	sites   []int // by relay: its place in every law
	touched map[int]bool
}

func (w *world) clone() *world {
	c := *w
	c.net = w.net.Clone()
	c.sites = append([]int(nil), w.sites...)
	c.touched = make(map[int]bool)
	for s := range w.touched {
		c.touched[s] = true
	}
	return &c
}

// own is the world for one goroutine: places may be entered into its laws while others
// do the same.
func (w *world) own() *world {
	c := w.clone()
	c.laws = make([]*Law, len(w.laws))
	copies := make(map[*sites]*sites)
	for k, law := range w.laws {
		if law == nil {
			continue
		}
		if copies[law.sites] == nil {
			copies[law.sites] = law.sites.clone()
		}
		mine := *law
		mine.sites = copies[law.sites]
		c.laws[k] = &mine
	}
	return c
}

// site is the place of a member or relay in the laws, −1 where it is not known.
func (w *world) site(law *Law, station int) int {
	if station < w.members {
		return law.site[station]
	}
	return w.sites[station-w.members]
}

// all lists the links of every moment.
func (w *world) all() [][]Link {
	moments := make([][]Link, len(w.moments))
	for k := range moments {
		for from := range w.net.Stations {
			for to := range w.net.Stations {
				moments[k] = w.between(moments[k], k, from, to)
			}
		}
		w.expected(k, moments[k], nil)
	}
	return moments
}

// touching replaces, in the links of every moment, those of one station. sd is
// what to take for the uncertainty of expected links, nil to work it out.
func (w *world) touching(before [][]Link, station int, sd *float64) [][]Link {
	moments := make([][]Link, len(w.moments))
	for k := range moments {
		for _, l := range before[k] {
			if l.From != station && l.To != station {
				moments[k] = append(moments[k], l)
			}
		}
		kept := len(moments[k])
		for other := range w.net.Stations {
			moments[k] = w.between(moments[k], k, station, other)
			moments[k] = w.between(moments[k], k, other, station)
		}
		w.expected(k, moments[k][kept:], sd)
		slices.SortFunc(moments[k], compare)
	}
	return moments
}

// between adds the links from one station to another that can be used at a moment.
// Of expected ones only the ends are filled in.
func (w *world) between(list []Link, k, from, to int) []Link {
	if from == to {
		return list
	}
	slot := w.net.Slots.Start(w.moments[k])
	for ch := range w.net.Channels {
		if !w.net.OpenSlot(from, to, ch, slot) {
			continue
		}
		if l, ok := w.learnt(k, from, to, ch); ok {
			list = append(list, l)
		}
	}
	return list
}

func (w *world) learnt(k, from, to, ch int) (Link, bool) {
	l := Link{Link: cut.Link{From: from, To: to, Channel: ch, Band: ch}}
	if law := w.laws[k]; law != nil {
		l.Band = law.band[ch]
	}
	if from < w.members && to < w.members {
		e, ok := w.links.Edge(from, to, ch, w.moments[k])
		l.Decode, l.Known, l.Way, l.ClimateSD = e.Decode, e.Known && !e.Inferred, e.Direction, e.ClimateSD
		l.Use = l.Known || e.Inferred && w.use.Inferred || !e.Known && w.use.Unknown
		if e.Fixed {
			l.Band = len(w.net.Channels) + ch
		}
		if ok && (l.Use || e.Fixed) {
			return l, true
		}
		if !w.touched[from] && !w.touched[to] {
			return l, ok
		}
	}
	law := w.laws[k]
	if law == nil || w.site(law, from) < 0 || w.site(law, to) < 0 {
		return l, false
	}
	l.Expected = true
	return l, true
}

// expected fills in the expected ones of a list of links.
func (w *world) expected(k int, list []Link, sd *float64) {
	law := w.laws[k]
	var paths []path
	var which []int
	for i := range list {
		if list[i].Expected {
			which = append(which, i)
			paths = append(paths, path{law.band[list[i].Channel], w.site(law, list[i].From), w.site(law, list[i].To)})
		}
	}
	if len(which) == 0 {
		return
	}
	var spread *mat.SymDense
	if sd == nil {
		spread = law.spread(paths)
	}
	for j, i := range which {
		climate := 0.0
		if spread != nil {
			climate = math.Sqrt(spread.At(j, j))
		} else {
			climate = *sd
		}
		w.fill(&list[i], law.expect(paths[j]), climate, law.fluctuation)
	}
}

// fill makes an expected link of the climate at 1 W.
func (w *world) fill(l *Link, mean, climate, fluctuation float64) {
	s := w.net.Link
	power := w.net.Stations[l.From].PowerW
	sd := math.Hypot(climate, fluctuation)
	l.ClimateSD = climate
	l.Way = link.Direction{
		Kind: link.Gaussian, Margin: mean + 10*math.Log10(power) - w.net.Slots.HalfDecodeDB, SD: sd,
		Common: min(w.net.CommonDB, sd), Noise: math.Hypot(s.SlotSD, w.net.Slots.SpreadDB),
	}
	l.Decode = l.Way.Mean()
	l.Use = climate <= vaguestDB
}

// climateKnown is the link with its climate so many of its standard deviations
// off and no longer uncertain.
func (l Link) climateKnown(deviate float64) Link {
	if l.Way.Kind != link.Gaussian || l.ClimateSD <= 0 {
		return l
	}
	l.Way.Margin += deviate * l.ClimateSD
	l.Way.SD = math.Sqrt(max(l.Way.SD*l.Way.SD-l.ClimateSD*l.ClimateSD, 0))
	l.Way.Common = min(l.Way.Common, l.Way.SD)
	l.Decode = l.Way.Mean()
	l.ClimateSD = 0
	return l
}

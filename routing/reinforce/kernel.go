package reinforce

import (
	"math"
	"slices"

	"farhop/observations/locator"
)

// What makes links alike, as standard deviations in dB. They are choices, but
// for the ground's share and reach, which are chosen by how well they explain
// the net's own links.
const (
	baseDB     = 25.0 // what all links of a band have in common
	distanceDB = 12.0 // what distance does, as a smooth curve
	siteDB     = 5.0  // a site's aerial and ground, the same for sending and hearing
	siteBandDB = 2.5  // of that, what differs from band to band
	noiseDB    = 5.0  // a site's receiving noise
	noiseBand  = 2.5  // of that, what differs from band to band
	pairDB     = 3.0  // what is peculiar to a pair on a band, the same both ways
	waysDB     = 1.5  // what is peculiar to one direction

	placeShare = 0.6 // of a site's share, what belongs to the place and not to the station
	placeKM    = 4.0 // over which a place is the same

	distanceScaleKM = 50.0 // distances count as ln(1 + d/50 km): near ones more
	distanceWidth   = 0.8  // over which the curve may bend, in that measure
)

// ground is how far what lies between two places is alike for paths whose ends
// are near each other's: mountains, the layer above.
type ground struct {
	db float64 // standard deviation
	km float64 // distance of ends over which it is alike
}

// path is one direction on one band between two sites.
type path struct {
	band     int
	from, to int // sites: numbers of places
}

// sites are the places of a net and what the covariances need of them.
type sites struct {
	place []locator.Position
	km    [][]float64
	log   [][]float64
	// How much more than usual a site and its receiving noise may differ from
	// others: factors to siteDB and noiseDB, at least about 0.9. A deep valley or a
	// generator next door is no matter of 5 dB, and one of them must not spoil
	// what is learnt of the rest.
	rough, loud []float64
	common      [][]float64 // what two sites have in common as places
	alike       [][]float64 // how alike the ground is at two sites
	alikeKM     float64     // over which distance, 0 for none
}

func newSites(places []locator.Position) *sites {
	s := &sites{}
	for _, p := range places {
		s.add(p)
	}
	return s
}

// clone is a copy to which places can be added.
func (s *sites) clone() *sites {
	c := *s
	c.place, c.rough, c.loud = slices.Clone(s.place), slices.Clone(s.rough), slices.Clone(s.loud)
	for _, table := range []*[][]float64{&c.km, &c.log, &c.common, &c.alike} {
		*table = slices.Clone(*table)
		for i, row := range *table {
			(*table)[i] = slices.Clone(row)
		}
	}
	return &c
}

// add adds a place and returns its number.
func (s *sites) add(p locator.Position) int {
	n := len(s.place)
	s.place = append(s.place, p)
	s.rough, s.loud = append(s.rough, 1), append(s.loud, 1)
	d := make([]float64, n+1)
	for i, q := range s.place[:n] {
		d[i] = locator.Distance(p, q)
	}
	border(&s.km, d, func(km float64) float64 { return km })
	border(&s.log, d, func(km float64) float64 { return math.Log1p(km / distanceScaleKM) })
	border(&s.common, d, func(km float64) float64 { return placeShare * near(km, placeKM) })
	border(&s.alike, d, func(km float64) float64 { return near(km, s.alikeKM) })
	return n
}

// border adds a row and column to a symmetric table.
func border(table *[][]float64, km []float64, value func(km float64) float64) {
	row := make([]float64, len(km))
	for i, d := range km {
		row[i] = value(d)
		if i < len(*table) {
			(*table)[i] = append((*table)[i], row[i])
		}
	}
	*table = append(*table, row)
}

// drop takes the last places away again.
func (s *sites) drop(n int) {
	s.place, s.rough, s.loud = s.place[:n], s.rough[:n], s.loud[:n]
	for _, table := range []*[][]float64{&s.km, &s.log, &s.common, &s.alike} {
		*table = (*table)[:n]
		for i := range *table {
			(*table)[i] = (*table)[i][:n]
		}
	}
}

// setGround makes the table of alike ground.
func (s *sites) setGround(km float64) {
	if km == s.alikeKM {
		return
	}
	s.alikeKM = km
	for i, row := range s.km {
		for j, d := range row {
			s.alike[i][j] = near(d, km)
		}
	}
}

// near falls from 1 to 0 over a distance, both in km.
func near(d, over float64) float64 {
	if over == 0 {
		return 0
	}
	x := d / over
	return math.Exp(-x * x / 2)
}

// covariance is how much the climates of two paths have in common, in dB². The
// ground is that of setGround.
func (s *sites) covariance(a, b path, g ground) float64 {
	sites := s.same(a.from, b.from, s.rough) + s.same(a.to, b.to, s.rough) +
		s.same(a.from, b.to, s.rough) + s.same(a.to, b.from, s.rough)
	hears := s.same(a.to, b.to, s.loud)
	c := sites*siteDB*siteDB + hears*noiseDB*noiseDB
	if a.band != b.band {
		return c
	}
	c += sites*siteBandDB*siteBandDB + hears*noiseBand*noiseBand + baseDB*baseDB
	bend := (s.log[a.from][a.to] - s.log[b.from][b.to]) / distanceWidth
	c += distanceDB * distanceDB * math.Exp(-bend*bend/2)
	if g.db > 0 {
		straight := s.alike[a.from][b.from] * s.alike[a.to][b.to]
		crossed := s.alike[a.from][b.to] * s.alike[a.to][b.from]
		c += g.db * g.db * (straight + crossed) / 2
	}
	switch {
	case a == b:
		c += pairDB*pairDB + waysDB*waysDB
	case a.from == b.to && a.to == b.from:
		c += pairDB * pairDB
	}
	return c
}

// same is how much two sites have in common, with a factor for each.
func (s *sites) same(a, b int, factor []float64) float64 {
	if a == b {
		return factor[a] * factor[a]
	}
	return s.common[a][b] * factor[a] * factor[b]
}

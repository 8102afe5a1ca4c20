package reinforce

import (
	"math"

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
}

func newSites(places []locator.Position) *sites {
	s := &sites{}
	for _, p := range places {
		s.add(p)
	}
	return s
}

// add adds a place and returns its number.
func (s *sites) add(p locator.Position) int {
	n := len(s.place)
	row, logs := make([]float64, n+1), make([]float64, n+1)
	for i, q := range s.place {
		row[i] = locator.Distance(p, q)
		logs[i] = math.Log1p(row[i] / distanceScaleKM)
		s.km[i] = append(s.km[i], row[i])
		s.log[i] = append(s.log[i], logs[i])
	}
	s.place, s.km, s.log = append(s.place, p), append(s.km, row), append(s.log, logs)
	s.rough, s.loud = append(s.rough, 1), append(s.loud, 1)
	return n
}

// drop takes the last places away again.
func (s *sites) drop(n int) {
	s.place, s.km, s.log, s.rough, s.loud = s.place[:n], s.km[:n], s.log[:n], s.rough[:n], s.loud[:n]
	for i := range s.km {
		s.km[i], s.log[i] = s.km[i][:n], s.log[i][:n]
	}
}

// covariance is how much the climates of two paths have in common, in dB².
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
		straight := s.near(a.from, b.from, g.km) * s.near(a.to, b.to, g.km)
		crossed := s.near(a.from, b.to, g.km) * s.near(a.to, b.from, g.km)
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

func (s *sites) near(a, b int, km float64) float64 {
	x := s.km[a][b] / km
	return math.Exp(-x * x / 2)
}

// same is how much two sites have in common, with a factor for each.
func (s *sites) same(a, b int, factor []float64) float64 {
	switch {
	case a == b:
		return factor[a] * factor[a]
	case s.km[a][b] > 5*placeKM:
		return 0
	}
	return placeShare * s.near(a, b, placeKM) * factor[a] * factor[b]
}

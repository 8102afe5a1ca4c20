package reinforce

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"farhop/mesh"
	"farhop/observations"
	"farhop/observations/locator"
)

const (
	leastLinks = 8    // fewer known links teach nothing about others
	mostLinks  = 300  // a law learns from at most so many: its time grows with the cube
	vaguestDB  = 12.0 // a link expected less well than this is unknown
	teachesDB  = 25.0 // a link known less well than this teaches nothing
)

// Law is what a net's links teach about links that nobody has measured, at one
// hour of the day: the climate of a path, in dB of SNR in 2500 Hz at 1 W, from its
// band, distance, sites and ground.
//
// It is a Gaussian process regression (C. E. Rasmussen, C. K. I. Williams, Gaussian
// Processes for Machine Learning, MIT Press 2006, chapter 2; from memory). What a link was heard
// with at that hour, less what the settings alone would say, is one measurement with
// its own variance; a link of which little is known at that hour weighs little, one
// only ever missed says 'below'. Sites and ground are alike as kernel.go says.
// A law is not safe for use by two goroutines at once.
type Law struct {
	sites       *sites
	site        []int // by station: number of its place, −1 where it has none
	band        []int // by channel
	bands       int
	mean        float64
	paths       []path
	ground      ground
	factor      mat.Cholesky
	weight      *mat.VecDense // K⁻¹(y − mean)
	fluctuation float64       // dB: what the weather adds to a climate
	power       []float64     // by station, W
}

// lesson is a link as the law learns from it.
type lesson struct {
	path
	y, variance float64
}

// LearnLaw learns from every link of a net that has evidence, at the hour of a
// moment. It is nil where fewer than eight links are known well enough. With more
// than 300, an even choice of them is used. Time grows with their cube.
func LearnLaw(l *mesh.Links, unix int64) *Law {
	return learnLaw(l, unix, nil)
}

// learnLaw takes ground and oddness of the sites from another hour's law when
// there is one.
func learnLaw(l *mesh.Links, unix int64, other *Law) *Law {
	law := newLaw(l)
	if other != nil {
		law.sites = other.sites
	}
	list := thinned(law.measure(l, unix), mostLinks)
	if len(list) < leastLinks {
		return nil
	}
	if other != nil {
		fit, _ := law.fit(list, other.ground)
		return fit
	}
	for range oddRounds {
		fit, _ := law.fit(list, ground{})
		if fit == nil {
			return nil
		}
		fit.judgeSites()
	}
	best, found := math.Inf(-1), (*Law)(nil)
	for _, g := range law.grounds() {
		if fit, likelihood := law.fit(list, g); likelihood > best {
			best, found = likelihood, fit
		}
	}
	if found != nil {
		found.sites.setGround(found.ground.km)
	}
	return found
}

const (
	oddRounds   = 6
	oddFreedoms = 4 // of the t distribution that sites come from
)

// judgeSites lets the sites that turn out odd be so: one round of expectation
// maximisation for effects from a t distribution, whose weight for a site with
// the effect e is (ν + 1)/(ν + e²/s²).
func (law *Law) judgeSites() {
	n := len(law.sites.place)
	effect, heard := make([]float64, n), make([]float64, n)
	for i, p := range law.paths {
		w := law.weight.AtVec(i)
		effect[p.from] += w * siteDB
		effect[p.to] += w * siteDB
		heard[p.to] += w * noiseDB
	}
	odd := func(e, factor float64) float64 {
		e *= factor * factor // in units of the standard deviation
		return math.Sqrt((oddFreedoms + e*e) / (oddFreedoms + 1))
	}
	for i := range n {
		law.sites.rough[i] = odd(effect[i], law.sites.rough[i])
		law.sites.loud[i] = odd(heard[i], law.sites.loud[i])
	}
}

func newLaw(l *mesh.Links) *Law {
	net := l.Net()
	law := &Law{sites: newSites(nil)}
	for i := range net.Stations {
		law.power = append(law.power, net.Stations[i].PowerW)
		place, err := locator.Parse(l.Place(i))
		if err != nil {
			law.site = append(law.site, -1)
			continue
		}
		law.site = append(law.site, law.sites.add(place))
	}
	law.band, law.bands = bandsOf(net)
	s := net.Link
	law.fluctuation = math.Hypot(s.FastSD, s.SlowSD)
	return law
}

// bandsOf numbers the bands of the channels.
func bandsOf(net *mesh.Net) (band []int, count int) {
	var seen []observations.Band
	for _, c := range net.Channels {
		b := observations.BandOf(c.Frequency)
		i := slices.Index(seen, b)
		if i < 0 {
			i = len(seen)
			seen = append(seen, b)
		}
		band = append(band, i)
	}
	return band, len(seen)
}

// measure lists what the evidence alone says about each link's climate: what the
// filter holds, less what it held before any evidence.
func (law *Law) measure(l *mesh.Links, unix int64) []lesson {
	net := l.Net()
	s := net.Link
	prior := s.LevelSD * s.LevelSD
	for k, sd := 0, s.HarmonicSD; k < s.Harmonics; k++ {
		prior += sd * sd
		sd *= s.HarmonicRatio
	}
	priorMean := s.HalfDecodeDB + s.MeanDB
	law.mean = priorMean - 10*math.Log10(median(law.power))
	first := make([]int, law.bands) // a channel of each band
	for c := len(law.band) - 1; c >= 0; c-- {
		first[law.band[c]] = c
	}
	var list []lesson
	for from := range net.Stations {
		for to := range net.Stations {
			if law.site[from] < 0 || law.site[to] < 0 || from == to {
				continue
			}
			for band := range first {
				e, ok := law.edge(l, from, to, band, unix)
				if !ok || e.Inferred || !e.HasSNR || !e.Fixed && e.Reports+e.Misses == 0 {
					continue
				}
				y, v := e.Climate, e.ClimateSD*e.ClimateSD
				if e.Fixed {
					y, v = e.SNR, e.SD*e.SD
				} else {
					keep := 1/v - 1/prior
					if keep <= 1/(teachesDB*teachesDB) {
						continue
					}
					y, v = (y/v-priorMean/prior)/keep, 1/keep
				}
				if v <= teachesDB*teachesDB {
					p := path{band, law.site[from], law.site[to]}
					list = append(list, lesson{p, y - 10*math.Log10(law.power[from]) - law.mean, v})
				}
			}
		}
	}
	return list
}

// edge is the first of a band's channels on which there is a link.
func (law *Law) edge(l *mesh.Links, from, to, band int, unix int64) (mesh.Edge, bool) {
	for c, b := range law.band {
		if b != band {
			continue
		}
		if e, ok := l.Edge(from, to, c, unix); ok {
			return e, true
		}
	}
	return mesh.Edge{}, false
}

// thinned keeps at most so many, evenly spread over the list.
func thinned(list []lesson, most int) []lesson {
	if len(list) <= most {
		return list
	}
	kept := make([]lesson, most)
	for i := range kept {
		kept[i] = list[i*len(list)/most]
	}
	return kept
}

// grounds are the guesses at the ground's share and reach: none, and some that
// reach as far as stations stand apart, or twice that.
func (law *Law) grounds() []ground {
	var nearest []float64
	for i, row := range law.sites.km {
		best := math.Inf(1)
		for j, d := range row {
			if i != j && d > 1 {
				best = min(best, d)
			}
		}
		if !math.IsInf(best, 1) {
			nearest = append(nearest, best)
		}
	}
	list := []ground{{}}
	if len(nearest) == 0 {
		return list
	}
	apart := median(nearest)
	for _, db := range []float64{8, 16} {
		for _, times := range []float64{0.7, 1.5} {
			list = append(list, ground{db, times * apart})
		}
	}
	return list
}

// fit solves for the measurements with a ground, and returns how well they are
// explained: the logarithm of their marginal likelihood, −∞ where it fails.
func (law *Law) fit(list []lesson, g ground) (*Law, float64) {
	f := *law
	f.ground = g
	f.sites.setGround(g.km)
	f.paths = make([]path, len(list))
	k, y := mat.NewSymDense(len(list), nil), mat.NewVecDense(len(list), nil)
	for i, m := range list {
		f.paths[i] = m.path
		y.SetVec(i, m.y)
		for j := range i {
			k.SetSym(i, j, f.sites.covariance(m.path, list[j].path, g))
		}
		k.SetSym(i, i, f.sites.covariance(m.path, m.path, g)+m.variance+1e-6)
	}
	f.factor, f.weight = mat.Cholesky{}, new(mat.VecDense)
	if !f.factor.Factorize(k) || f.factor.SolveVecTo(f.weight, y) != nil {
		return nil, math.Inf(-1)
	}
	return &f, -(mat.Dot(y, f.weight) + f.factor.LogDet()) / 2
}

// Links is how many links the law was learnt from.
func (law *Law) Links() int { return len(law.paths) }

// Ground is how much the ground does, as a standard deviation in dB, and over what
// distance in km it is alike, as the links suggest; 0 where they suggest none.
func (law *Law) Ground() (db, km float64) { return law.ground.db, law.ground.km }

// expect returns the mean climate in dB at 1 W.
func (law *Law) expect(p path) float64 {
	mean := law.mean
	for i, q := range law.paths {
		mean += law.weight.AtVec(i) * law.sites.covariance(p, q, law.ground)
	}
	return mean
}

// spread returns the covariance of the climates of paths, given the measurements.
func (law *Law) spread(paths []path) *mat.SymDense {
	n, m := len(paths), len(law.paths)
	cross := mat.NewDense(m, n, nil)
	for i, q := range law.paths {
		for j, p := range paths {
			cross.Set(i, j, law.sites.covariance(p, q, law.ground))
		}
	}
	var solved, taken mat.Dense
	left := mat.NewSymDense(n, nil)
	if m > 0 {
		if law.factor.SolveTo(&solved, cross) != nil {
			solved = *mat.NewDense(m, n, nil)
		}
		taken.Mul(cross.T(), &solved)
	}
	for i := range n {
		for j := range i + 1 {
			c := law.sites.covariance(paths[i], paths[j], law.ground)
			if m > 0 {
				c -= (taken.At(i, j) + taken.At(j, i)) / 2
			}
			if i == j {
				c = max(c, 1e-6)
			}
			left.SetSym(i, j, c)
		}
	}
	return left
}

// Typical returns what two ordinary sites so far apart would hear of each other
// on a channel at the given power: the mean SNR in dB and the standard deviation of
// its climate. Ordinary means: like the average of the members.
func (law *Law) Typical(channel int, km, watts float64) (snr, sd float64) {
	n := len(law.sites.place)
	defer law.sites.drop(n)
	// Two places so far from everywhere that no ground is known.
	a := law.sites.add(locator.Position{Lat: 89, Lon: 0})
	b := law.sites.add(locator.Position{Lat: 89, Lon: 90})
	law.sites.km[a][b], law.sites.km[b][a] = km, km
	law.sites.log[a][b] = math.Log1p(km / distanceScaleKM)
	law.sites.log[b][a] = law.sites.log[a][b]
	p := path{law.band[channel], a, b}
	return law.expect(p) + 10*math.Log10(watts), math.Sqrt(law.spread([]path{p}).At(0, 0))
}

func median(values []float64) float64 {
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	n := len(sorted)
	if n == 0 {
		return 1
	}
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}

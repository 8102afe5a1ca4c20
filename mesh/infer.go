package mesh

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// What goes into an inferred link beside the opposite direction. Both are
// choices, not measurements.
const (
	// InferredSDDB is the extra standard deviation of an inferred link in dB.
	InferredSDDB = 6.0
	// siteSDDB is the ridge penalty of the least squares: how far receiving sites
	// are thought to differ before anything is known of them.
	siteSDDB = 20.0
	// pairSDDB is how far the two directions of a pair differ beyond powers and
	// receiving sites.
	pairSDDB = 3.0
	// mostSites bounds the least squares, whose time grows with the cube.
	mostSites = 1000
)

// Site is what the links say about a station's reception on one band.
type Site struct {
	Station  int
	Band     int     // index into Account.Bands
	OffsetDB float64 // how much better it hears than the average of the stations it can be compared with
	SDDB     float64 // standard error of that
	Links    int     // links known both ways that it rests on
}

// siteOffsets are the receiving offsets on one band: dB and standard error by
// station, and how many pairs speak of it.
type siteOffsets struct {
	db, sd []float64
	links  []int
}

// Sites lists the receiving offsets of the stations that have links known both
// ways, by band and station.
//
// The path loss is the same both ways, power and noise at the receiving site are
// not. So the SNR from i to j less that from j to i is the difference of the powers
// in dB plus the offset of j less that of i. The offsets are the least squares
// solution over all links known both ways, each averaged over the hours at which
// both are, with a ridge penalty. Only differences between stations that such links
// join, directly or through others, are known; their average is 0.
func (l *Links) Sites() []Site {
	var list []Site
	for b := range l.bands.list {
		o := l.offsetsOf(int32(b))
		for i, links := range o.links {
			if links > 0 {
				list = append(list, Site{i, b, o.db[i], o.sd[i], links})
			}
		}
	}
	return list
}

// offsetsOf is the receiving offsets of a band, estimated when first asked for.
func (l *Links) offsetsOf(band int32) *siteOffsets {
	l.sitesOnce.Do(func() {
		l.sites = make([]siteOffsets, len(l.bands.list))
		for b := range l.sites {
			l.sites[b] = l.offsets(int32(b))
		}
	})
	return &l.sites[band]
}

// bothWays is a pair of stations whose links are known in both directions.
type bothWays struct {
	a, b       int32
	difference float64 // offset of b less that of a, as these two links have it
	weight     float64 // 1/variance
}

func (l *Links) offsets(band int32) siteOffsets {
	n := len(l.net.Stations)
	o := siteOffsets{make([]float64, n), make([]float64, n), make([]int, n)}
	for i := range o.sd {
		o.sd[i] = siteSDDB
	}
	if n > mostSites {
		return o
	}
	var pairs []bothWays
	for i, p := range l.table.pairs {
		if p.Band != band || p.From > p.To {
			continue
		}
		back := l.table.find(p.To, p.From, band)
		if back < 0 {
			continue
		}
		if d, ok := l.compare(&l.records[i], &l.records[back]); ok {
			d.a, d.b = p.From, p.To
			d.difference -= l.learntDB(p.From) - l.learntDB(p.To)
			pairs = append(pairs, d)
			o.links[p.From]++
			o.links[p.To]++
		}
	}
	o.solve(pairs)
	return o
}

// powerDB is a station's planned power in dB over 1 W.
func (l *Links) powerDB(station int32) float64 {
	return 10 * math.Log10(l.net.Stations[station].PowerW)
}

// learntDB is the power that a station's links were learnt at.
func (l *Links) learntDB(station int32) float64 { return l.powerDB(station) - l.gainOf(int(station)) }

// compare averages the difference of the two directions over the hours of the
// day to come at which both are known.
func (l *Links) compare(there, back *record) (bothWays, bool) {
	var sum, variance float64
	hours := 0
	for h := range int64(24) {
		x := l.model.Forecast(there.state, l.at+h*3600)
		y := l.model.Forecast(back.state, l.at+h*3600)
		if x.Known && y.Known {
			sum += x.SNR - y.SNR
			variance += x.ClimateSD*x.ClimateSD + y.ClimateSD*y.ClimateSD
			hours++
		}
	}
	if hours == 0 {
		return bothWays{}, false
	}
	n := float64(hours)
	return bothWays{difference: sum / n, weight: 1 / (variance/n + pairSDDB*pairSDDB)}, true
}

// solve finds the offsets that fit the pairs best, each offset being held
// towards 0 as if it had been measured so with siteSDDB. The matrix is then
// positive definite whatever the pairs are.
func (o *siteOffsets) solve(pairs []bothWays) {
	var stations []int // those that any pair speaks of
	at := make([]int, len(o.links))
	for i, links := range o.links {
		if links > 0 {
			at[i] = len(stations)
			stations = append(stations, i)
		}
	}
	if len(stations) == 0 {
		return
	}
	normal, right := mat.NewSymDense(len(stations), nil), mat.NewVecDense(len(stations), nil)
	for i := range stations {
		normal.SetSym(i, i, 1/(siteSDDB*siteSDDB))
	}
	parts := newParts(len(stations))
	for _, p := range pairs {
		i, j := at[p.a], at[p.b]
		normal.SetSym(i, i, normal.At(i, i)+p.weight)
		normal.SetSym(j, j, normal.At(j, j)+p.weight)
		normal.SetSym(i, j, normal.At(i, j)-p.weight)
		right.SetVec(i, right.AtVec(i)-p.weight*p.difference)
		right.SetVec(j, right.AtVec(j)+p.weight*p.difference)
		parts.join(i, j)
	}
	var factor mat.Cholesky
	if !factor.Factorize(normal) {
		return
	}
	var x mat.VecDense
	var inverse mat.SymDense
	if factor.SolveVecTo(&x, right) != nil || factor.InverseTo(&inverse) != nil {
		return
	}
	for k, station := range stations {
		// Nothing but the penalty holds the average of a part of n stations: it is 0,
		// and adds siteSDDB²/n to every variance in the part.
		own := inverse.At(k, k) - siteSDDB*siteSDDB/float64(parts.size(k))
		o.db[station], o.sd[station] = x.AtVec(k), math.Sqrt(max(own, 0))
	}
}

// parts are sets of things that have been joined.
type parts struct{ parent, count []int }

func newParts(n int) *parts {
	p := &parts{make([]int, n), make([]int, n)}
	for i := range n {
		p.parent[i], p.count[i] = i, 1
	}
	return p
}

func (p *parts) root(i int) int {
	for p.parent[i] != i {
		p.parent[i] = p.parent[p.parent[i]]
		i = p.parent[i]
	}
	return i
}

func (p *parts) join(i, j int) {
	i, j = p.root(i), p.root(j)
	if i != j {
		p.parent[j] = i
		p.count[i] += p.count[j]
	}
}

func (p *parts) size(i int) int { return p.count[p.root(i)] }

// inferred fills in a direction from the opposite one, false where that is not
// known at the moment.
func (l *Links) inferred(e *Edge, back *record, band int32, unix int64) bool {
	f := l.model.Forecast(back.state, unix)
	if !f.Known || !l.attested(e.From, e.To, e.Channel, unix) {
		return false
	}
	o := l.offsetsOf(band)
	gain := l.powerDB(int32(e.From)) - l.learntDB(int32(e.To)) + o.db[e.To] - o.db[e.From]
	l.fill(e, f, gain, InferredSDDB)
	e.Inferred = true
	if back.newest != math.MinInt64 {
		e.Newest = back.newest
	}
	return true
}

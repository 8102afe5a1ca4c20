package mesh

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// What goes into the receiving offsets beside the links. All are choices, not
// measurements.
const (
	// siteSDDB is the ridge penalty of the least squares: how far receiving sites
	// are thought to differ before anything is known of them.
	siteSDDB = 20.0
	// pairSDDB is how far the two directions of a pair are thought to differ
	// beyond powers and receiving sites before many pairs have shown it, and
	// pairWeight, above 2, how many pairs that counts for.
	pairSDDB   = 3.0
	pairWeight = 3.0
	// middleDB is how far from the middle of the stations one counts at most in it.
	middleDB = 3.0
	// mostSites bounds the least squares, whose time grows with the cube.
	mostSites = 1000
)

// Site is what the links say about a station's reception on one band.
type Site struct {
	Station  int
	Band     int     // index into Account.Bands
	Channels []int   // of the plan on that band
	OffsetDB float64 // how much better it hears than the typical one of the stations it can be compared with
	SDDB     float64 // standard error of that
	Links    int     // pairs of links known both ways that it rests on
	Group    int     // stations of one band and group, numbered from 0, can be compared with each other
}

// Sites lists the receiving offsets of the stations that have links known both
// ways, by band and station.
//
// The path loss is the same both ways, power and noise at the receiving site are
// not. So the SNR from i to j less that from j to i is the difference of the powers
// in dB plus the offset of j less that of i. The offsets are the least squares
// solution over all links known both ways, each averaged over the hours at which
// both are, with a ridge penalty. Only differences between stations that such links
// join, directly or through others, are known. They are told against the middle of
// those stations (middle), which one bad site among them doesn't shift.
//
// Most of what is uncertain of a link, its climate and fluctuations, is common to
// both directions and drops out. What doesn't is the noise of single slots, by the
// number of reports, and whatever else makes the directions differ, as the pairs
// themselves show by how badly they fit: pairs of variance v + σ² each, σ² such that
// their squared misfits in that unit add up to as many as there are pairs more than
// offsets (the estimate of R. C. Paule and J. Mandel, J. Res. Nat. Bur. Standards 87
// (1982) 377–385, from memory), held towards pairSDDB where there are few, and errors
// widened as those of Student's t for what isn't known of σ².
func (l *Links) Sites() []Site {
	var list []Site
	for b := range l.bands.list {
		o, channels := l.offsetsOf(int32(b)), l.bands.channels(b)
		for i, links := range o.links {
			if links > 0 {
				list = append(list, Site{i, b, channels, o.db[i], o.sd[i], links, o.group[i]})
			}
		}
	}
	return list
}

// siteOffsets are the receiving offsets on one band: dB and standard error by
// station, how many pairs speak of it, and which stations it can be compared with.
type siteOffsets struct {
	db, sd []float64
	links  []int
	group  []int
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
	variance   float64 // of that, by the noise of slots
}

func (l *Links) offsets(band int32) siteOffsets {
	n := len(l.net.Stations)
	o := siteOffsets{make([]float64, n), make([]float64, n), make([]int, n), make([]int, n)}
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

// compare averages the difference of the two directions over the hours of the
// day to come at which both are known. One without a report says nothing of how much.
func (l *Links) compare(there, back *record) (bothWays, bool) {
	if there.reports == 0 || back.reports == 0 {
		return bothWays{}, false
	}
	sum, hours, variance := 0.0, 0.0, [2]float64{}
	for h := range int64(dayHours) {
		x := l.model.Forecast(there.state, l.at+h*hourSeconds)
		y := l.model.Forecast(back.state, l.at+h*hourSeconds)
		if x.Known && y.Known {
			sum += x.Climate - y.Climate
			variance[0] += x.ClimateSD * x.ClimateSD
			variance[1] += y.ClimateSD * y.ClimateSD
			hours++
		}
	}
	if hours == 0 {
		return bothWays{}, false
	}
	return bothWays{
		difference: sum / hours,
		variance:   l.ownVariance(there, variance[0]/hours) + l.ownVariance(back, variance[1]/hours),
	}, true
}

// ownVariance is what is uncertain of one direction's climate, of the given variance,
// and not common to both. Of what its reports say that is the noise of slots. Misses
// only say 'below', at another level in either direction, and what they leave open
// differs: all of it in the end, by the square of their share. A rule of thumb.
func (l *Links) ownVariance(r *record, climate float64) float64 {
	slot, missed := l.model.Settings().SlotSD, float64(r.misses)/float64(r.reports+r.misses)
	return slot*slot/float64(r.reports) + climate*missed*missed
}

// solve finds the offsets that fit the pairs best, each offset being held
// towards 0 as if it had been measured so with siteSDDB. The matrix is then
// positive definite whatever the pairs are.
func (o *siteOffsets) solve(pairs []bothWays) {
	f := newOffsetFit(o.links, pairs)
	if len(f.stations) == 0 {
		return
	}
	extra := priorExtra
	const rounds = 4 // misfits hardly depend on the weights, so these settle at once
	for range rounds {
		if !f.solve(extra) {
			return
		}
		extra = f.extra()
	}
	var inverse mat.SymDense
	if !f.solve(extra) || f.factor.InverseTo(&inverse) != nil {
		return
	}
	widen := f.weight() / (f.weight() - 2)
	for _, part := range f.members() {
		db, weights := f.middle(part)
		// Against the middle Σ wⱼxⱼ the variance is that of xₖ − Σ wⱼxⱼ. What only the
		// penalty holds, the average of a part, is common to all of it and drops out.
		with, all := make([]float64, len(part)), 0.0
		for i, k := range part {
			for j, other := range part {
				with[i] += weights[j] * inverse.At(k, other)
			}
			all += weights[i] * with[i]
		}
		for i, k := range part {
			station := f.stations[k]
			o.db[station] = f.x.AtVec(k) - db
			o.sd[station] = math.Sqrt(max(inverse.At(k, k)-2*with[i]+all, 0) * widen)
			o.group[station] = f.groups[f.parts.root(k)]
		}
	}
}

// members lists the stations of each part, in order.
func (f *offsetFit) members() [][]int {
	parts := make([][]int, len(f.groups))
	for k := range f.stations {
		g := f.groups[f.parts.root(k)]
		parts[g] = append(parts[g], k)
	}
	return parts
}

// middle is the offset of the typical station of a part: the m for which the offsets
// less m, each cut off at ±middleDB, add up to 0 (P. J. Huber, Annals of Mathematical
// Statistics 35 (1964) 73–101, from memory). It is between the mean, which one bad site shifts, and
// the median, of which nobody knows how sure it is where many are nearly alike. The
// weights say how m follows the offsets: those within middleDB of it share it.
func (f *offsetFit) middle(part []int) (m float64, weights []float64) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, k := range part {
		low, high = min(low, f.x.AtVec(k)), max(high, f.x.AtVec(k))
	}
	for range 60 {
		m = (low + high) / 2
		sum := 0.0
		for _, k := range part {
			sum += min(max(f.x.AtVec(k)-m, -middleDB), middleDB)
		}
		switch {
		case sum > 0:
			low = m
		case sum < 0:
			high = m
		}
	}
	weights, within := make([]float64, len(part)), 0.0
	for i, k := range part {
		if math.Abs(f.x.AtVec(k)-m) < middleDB {
			weights[i] = 1
			within++
		}
	}
	for i := range weights {
		if within == 0 { // two and two far from each other, say
			weights[i] = 1 / float64(len(part))
		} else {
			weights[i] /= within
		}
	}
	return m, weights
}

// offsetFit is the least squares under way.
type offsetFit struct {
	pairs    []bothWays
	stations []int // those that any pair speaks of
	at       []int // where each station is among them
	parts    *parts
	groups   map[int]int // number of each part by its root
	factor   mat.Cholesky
	x        mat.VecDense
}

func newOffsetFit(links []int, pairs []bothWays) *offsetFit {
	f := &offsetFit{pairs: pairs, at: make([]int, len(links)), groups: make(map[int]int)}
	for i, n := range links {
		if n > 0 {
			f.at[i] = len(f.stations)
			f.stations = append(f.stations, i)
		}
	}
	f.parts = newParts(len(f.stations))
	for _, p := range pairs {
		f.parts.join(f.at[p.a], f.at[p.b])
	}
	for k := range f.stations {
		if f.parts.root(k) == k {
			f.groups[k] = len(f.groups)
		}
	}
	return f
}

// solve finds the offsets where each pair has so much variance beyond its own.
func (f *offsetFit) solve(extra float64) bool {
	n := len(f.stations)
	normal, right := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for i := range n {
		normal.SetSym(i, i, 1/(siteSDDB*siteSDDB))
	}
	for _, p := range f.pairs {
		i, j, weight := f.at[p.a], f.at[p.b], 1/(p.variance+extra)
		normal.SetSym(i, i, normal.At(i, i)+weight)
		normal.SetSym(j, j, normal.At(j, j)+weight)
		normal.SetSym(i, j, normal.At(i, j)-weight)
		right.SetVec(i, right.AtVec(i)-weight*p.difference)
		right.SetVec(j, right.AtVec(j)+weight*p.difference)
	}
	return f.factor.Factorize(normal) && f.factor.SolveVecTo(&f.x, right) == nil
}

// weight is how many pairs the misfits count for: those beyond what the offsets
// take up, and pairWeight.
func (f *offsetFit) weight() float64 {
	return float64(len(f.pairs)-len(f.stations)+len(f.groups)) + pairWeight
}

// priorExtra is the variance beyond their own of pairs of which nothing is known.
// Widened as in solve it comes to the square of pairSDDB.
const priorExtra = pairSDDB * pairSDDB * (pairWeight - 2) / pairWeight

// extra is the variance beyond their own that the misfits of the pairs show:
//
//	Σ misfit²/(v + σ²) + pairWeight·priorExtra/σ² = weight.
//
// The left side falls with σ², so there is one solution.
func (f *offsetFit) extra() float64 {
	low, high := math.Log(1e-3), math.Log(1e4)
	for range 60 {
		middle := (low + high) / 2
		extra := math.Exp(middle)
		sum := pairWeight * priorExtra / extra
		for _, p := range f.pairs {
			d := p.difference - (f.x.AtVec(f.at[p.b]) - f.x.AtVec(f.at[p.a]))
			sum += d * d / (p.variance + extra)
		}
		if sum > f.weight() {
			low = middle
		} else {
			high = middle
		}
	}
	return math.Exp((low + high) / 2)
}

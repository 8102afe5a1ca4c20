package reinforce

import (
	"math"
	"slices"

	"farhop/routing/cut"
)

// Figures say how well a net holds together over one or several moments. Pairs
// are ordered pairs of members; one of whom either end is off the air is a pair
// without reach. Relays that are added are no members: they help, and their loss
// counts, but nobody writes to them.
type Figures struct {
	// Worst is the least reach of any pair that counts for it: those that had a
	// chain of open links at that moment before any change. NaN when there is none.
	Worst     float64
	WorstPair [2]int
	WorstAt   int     // which of the moments
	Mean      float64 // reach averaged over all pairs and moments
	Joined    float64 // share of pairs with a chain of open links
	Firm      float64 // share of pairs that have one and keep one whichever single other station is lost
	// Singles counts single points of failure, over all moments; Single lists
	// the stations that are one at any of them, ascending.
	Singles int
	Single  []int
}

// Score joins what a change is ranked by, in points: the worst reach, the share
// of pairs that no single loss parts and the mean reach, each in hundredths. The
// equal weights are a choice.
func (f *Figures) Score() float64 {
	worst := f.Worst
	if math.IsNaN(worst) {
		worst = 0
	}
	return 100 * (worst + f.Firm + f.Mean)
}

// Options say how nets are measured.
type Options struct {
	Threshold float64 // a link is open from this frame decode chance on
	TwoWay    bool    // and only if the answer has cut.AckThreshold
	Seed      uint64  // of the draws
	Samples   int     // draws; rounded up to a multiple of 64
}

// Measure returns the figures of a net whose first members stations count as ends
// of pairs, from its links at each moment, none of them twice. Reach is sampled: its
// standard error is at most 0.5/√Samples.
func Measure(members int, moments [][]cut.Link, opt Options) Figures {
	f, _ := newMeter(members, opt).measure(measured(moments), nil)
	return f
}

// Compare returns the figures of two states of a net whose first members stations
// count as ends of pairs, from the links at each moment, as Measure wants them. Both
// are measured with the same draws, and Worst over the same pairs.
func Compare(members int, before, after [][]cut.Link, opt Options) (b, a Figures) {
	m := newMeter(members, opt)
	b, among := m.measure(measured(before), nil)
	a, _ = m.measure(measured(after), among)
	return b, a
}

func measured(moments [][]cut.Link) [][]Link {
	all := make([][]Link, len(moments))
	for k, links := range moments {
		for _, l := range links {
			all[k] = append(all[k], Link{Link: l})
		}
	}
	return all
}

// meter measures nets that differ little from one another.
type meter struct {
	members int
	opt     Options
	sampler *sampler
	known   []map[[2]int]drawn // by moment: what was drawn for a pair before
}

// drawn is a pair's ways and which draws they gave.
type drawn struct {
	ways []way
	open []uint64
}

func newMeter(members int, opt Options) *meter {
	return &meter{members: members, opt: opt, sampler: newSampler(opt.Seed, opt.Samples)}
}

// keep has the meter remember the draws of these links, to be used again where
// a link is the same.
func (m *meter) keep(moments [][]Link) {
	m.known = nil
	known := make([]map[[2]int]drawn, len(moments))
	for k, links := range moments {
		known[k] = make(map[[2]int]drawn)
		for _, p := range m.pairs(links) {
			known[k][[2]int{p.from, p.to}] = drawn{p.ways, m.sampler.draw(p.from, p.to, p.ways)}
		}
	}
	m.known = known
}

// pair is an ordered pair of stations with the links that may be used.
type pair struct {
	from, to int
	open     bool
	ways     []way
}

// pairs joins the links of each ordered pair: one way a band, the best.
func (m *meter) pairs(links []Link) []pair {
	sorted := links
	if !slices.IsSortedFunc(links, compare) {
		sorted = slices.Clone(links)
		slices.SortFunc(sorted, compare)
	}
	list := make([]pair, 0, len(links))
	for i := range sorted {
		l := &sorted[i]
		if !l.Use || m.opt.TwoWay && !answered(sorted, l) {
			continue
		}
		if k := len(list); k == 0 || list[k-1].from != l.From || list[k-1].to != l.To {
			list = append(list, pair{from: l.From, to: l.To})
		}
		p := &list[len(list)-1]
		p.open = p.open || l.Decode >= m.opt.Threshold
		p.add(way{l.Band, l.Way})
	}
	return list
}

// add takes in a way; of several on one band the best is kept.
func (p *pair) add(w way) {
	for i := range p.ways {
		if p.ways[i].band == w.band {
			if w.Mean() > p.ways[i].Mean() {
				p.ways[i] = w
			}
			return
		}
	}
	p.ways = append(p.ways, w)
}

func compare(a, b Link) int {
	for _, d := range [...]int{a.From - b.From, a.To - b.To, a.Channel - b.Channel} {
		if d != 0 {
			return d
		}
	}
	return 0
}

// answered reports whether the opposite of a link is good enough for acknowledgments.
func answered(sorted []Link, l *Link) bool {
	var back Link
	back.From, back.To, back.Channel = l.To, l.From, l.Channel
	i, ok := slices.BinarySearchFunc(sorted, back, compare)
	return ok && sorted[i].Use && sorted[i].Decode >= cut.AckThreshold
}

// measure returns the figures and which pairs have a chain at each moment. Worst
// is taken over the pairs of among, those with a chain when that is nil.
func (m *meter) measure(moments [][]Link, among []grid) (Figures, []grid) {
	f := Figures{Worst: math.NaN()}
	joined := make([]grid, len(moments))
	count := float64(m.members*(m.members-1)) * float64(len(moments))
	if count == 0 {
		return f, joined
	}
	for k, links := range moments {
		open, out := m.wire(k, links)
		var firm grid
		var single []int
		joined[k], firm, single = open.losses(m.members)
		f.Joined += float64(joined[k].count()) / count
		f.Firm += float64(firm.count()) / count
		f.Singles += len(single)
		f.Single = append(f.Single, single...)
		worst := joined[k]
		if among != nil {
			worst = among[k]
		}
		m.reach(&f, k, out, worst, count)
	}
	slices.Sort(f.Single)
	f.Single = slices.Compact(f.Single)
	return f, joined
}

// wire lays out the links of a moment: the open ones, and the draws of all.
func (m *meter) wire(k int, links []Link) (*wired, [][]arc) {
	n := m.members
	for i := range links {
		n = max(n, links[i].From+1, links[i].To+1)
	}
	open, out := newWired(n), make([][]arc, n)
	for _, p := range m.pairs(links) {
		if p.open {
			open.join(p.from, p.to)
		}
		if draws := m.draws(k, &p); draws != nil {
			out[p.from] = append(out[p.from], arc{p.to, draws})
		}
	}
	return open, out
}

// reach adds the reach of the k-th moment to the figures; count is that of all pairs
// at all moments.
func (m *meter) reach(f *Figures, k int, out [][]arc, among grid, count float64) {
	var reach []uint64
	words := m.sampler.words()
	for s := range m.members {
		reach = flood(s, out, words, reach)
		for t := range m.members {
			if t == s {
				continue
			}
			r := float64(countBits(reach[t*words:(t+1)*words])) / float64(m.sampler.samples)
			f.Mean += r / count
			if among.has(s, t) && !(f.Worst <= r) {
				f.Worst, f.WorstPair, f.WorstAt = r, [2]int{s, t}, k
			}
		}
	}
}

// draws are those of a pair, remembered or new.
func (m *meter) draws(k int, p *pair) []uint64 {
	if m.known != nil {
		if d, ok := m.known[k][[2]int{p.from, p.to}]; ok && slices.Equal(d.ways, p.ways) {
			return d.open
		}
	}
	return m.sampler.draw(p.from, p.to, p.ways)
}

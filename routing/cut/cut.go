// Package cut says what would break a net: who is cut off already, which
// stations and links nothing can replace, how many relay-disjoint chains join
// two stations, and how sure it is that any chain between them is open.
//
// A link is open when its frame decode chance is at least a threshold; the
// figures about single points, groups and chains treat the open links as a
// plain digraph and are exact. Reach alone looks at chances: each link is open
// or not with the chance that its mean SNR is at or above the half-decode SNR.
//
// Stations are numbers 0…n−1 throughout. Equal input gives equal results, on
// any number of processors.
package cut

import (
	"context"
	"fmt"

	"farhop/mesh/workers"
)

// AckThreshold is the frame decode chance that the opposite direction needs for
// a link to count with Options.TwoWay: acknowledgments are sent again, so less
// is enough than for the link itself. Chosen, no source.
const AckThreshold = 0.2

// CertainThresholds are the open thresholds at which a single point of failure
// must show to be called certain.
var CertainThresholds = [...]float64{0.2, 0.5, 0.8}

// Budget and sample size used when Options leave them 0.
const (
	DefaultWork    = int64(400e6) // at most about a second of one processor
	DefaultSamples = 20_000       // a 95 % interval of at most ±0.7 points
)

// Options say what to work out, and how.
type Options struct {
	Threshold    float64  // open threshold, 0…1
	TwoWay       bool     // a link counts only where its opposite has AckThreshold on the same channel
	StationPairs bool     // look for pairs of stations as well: cost grows as links × links
	Pairs        [][2]int // ordered pairs to find chains, cuts and reach for
	Reach        bool     // work out reach of Pairs
	Work         int64    // budget of exact reach over all Pairs, in elementary steps; 0 = DefaultWork
	Samples      int      // sample size where the budget does not do; 0 = DefaultSamples
	Seed         uint64   // of the samples
}

// Defaults returns the options of a plain question: threshold 0.5, station
// pairs and reach, no Pairs.
func Defaults() Options {
	return Options{Threshold: 0.5, StationPairs: true, Reach: true, Work: DefaultWork, Samples: DefaultSamples}
}

// AllPairs returns all ordered pairs of distinct stations in order.
func AllPairs(stations int) [][2]int {
	var pairs [][2]int
	for s := range stations {
		for t := range stations {
			if s != t {
				pairs = append(pairs, [2]int{s, t})
			}
		}
	}
	return pairs
}

func (o *Options) check(stations int) error {
	if !(o.Threshold >= 0 && o.Threshold <= 1) {
		return fmt.Errorf("cut: open threshold %v is outside 0…1", o.Threshold)
	}
	if o.Work < 0 || o.Samples < 0 {
		return fmt.Errorf("cut: negative budget (%d) or sample size (%d)", o.Work, o.Samples)
	}
	for _, p := range o.Pairs {
		if min(p[0], p[1]) < 0 || max(p[0], p[1]) >= stations || p[0] == p[1] {
			return fmt.Errorf("cut: no pair of stations: %d, %d of %d", p[0], p[1], stations)
		}
	}
	if o.Work == 0 {
		o.Work = DefaultWork
	}
	if o.Samples == 0 {
		o.Samples = DefaultSamples
	}
	return nil
}

// Report is what would break a net at one moment. Lists are ordered as their
// comments say and may be nil when empty.
type Report struct {
	Threshold      float64
	TwoWay         bool
	Stations       int
	OpenLinks      int // ordered pairs with an open link on some channel
	KnownLinks     int // ordered pairs with a known link
	UnknownLinks   int // ordered pairs with an unknown link and no known one
	ConnectedPairs int // ordered pairs with a chain of open links

	// Over open links, ascending. A station of Unknown that has no open link is
	// in Isolated as well: nothing says otherwise.
	Isolated []int // hear nobody, heard by nobody
	Deaf     []int // heard, but hear nobody
	Unheard  []int // hear, but nobody hears them
	Unknown  []int // unknown links only, in either direction

	Groups         [][]int         // strongly connected; the largest first, then by lowest member, members ascending
	SingleStations []SingleStation // most pairs lost first, then by number
	SingleLinks    []SingleLink    // most pairs lost first, then by sender and receiver
	StationPairs   []StationPair   // most pairs lost first, then by numbers
	Pairs          []Pair          // as asked for
	Warnings       []Warning
}

// Pair is what joins an ordered pair of stations.
type Pair struct {
	From, To int
	Direct   bool // there is an open link between them
	// Chains are as many chains of open links without a common relay as there
	// can be, From and To included, a direct link among them; the shortest
	// first, equal ones by their stations.
	Chains [][]int
	// Cut is a smallest set of relays without which there is no chain, of all
	// such sets the one nearest From, ascending: as many as Chains. Empty when
	// there is no chain anyway, nil when Direct.
	Cut []int

	// Reach is the chance that some chain is open, links independent given the
	// net-wide deviation. Low and High are its 95 % interval when it was
	// sampled, equal to it when Exact.
	Reach, Low, High float64
	Exact            bool
	// Lowest and Highest are the bounds on Reach under any dependence between
	// links that keeps each one's chance; no narrower ones exist.
	Lowest, Highest float64
}

// Analyse answers for the net. It fails on options out of range and when the
// context ends.
func Analyse(ctx context.Context, g *Graph, opt Options) (*Report, error) {
	if err := opt.check(g.stations); err != nil {
		return nil, err
	}
	a := g.open(opt.Threshold, opt.TwoWay)
	r := &Report{
		Threshold: opt.Threshold, TwoWay: opt.TwoWay, Stations: g.stations,
		OpenLinks: len(a.head), Groups: groups(a),
	}
	c := g.census()
	r.KnownLinks, r.UnknownLinks, r.Unknown = c.known, c.unknown, c.nothing
	r.Isolated, r.Deaf, r.Unheard = roles(a)
	lost, err := countLosses(ctx, a)
	if err != nil {
		return nil, err
	}
	r.ConnectedPairs = lost.connected
	r.SingleStations = singleStations(a, lost)
	r.SingleLinks = singleLinks(a, lost)
	if err := r.markCertain(ctx, g, opt.TwoWay); err != nil {
		return nil, err
	}
	if opt.StationPairs {
		if r.StationPairs, err = stationPairs(ctx, a, lost); err != nil {
			return nil, err
		}
	}
	if err := r.findChains(ctx, a, opt.Pairs); err != nil {
		return nil, err
	}
	if opt.Reach && len(opt.Pairs) > 0 {
		if err := r.findReach(ctx, g.chances(opt.TwoWay), opt); err != nil {
			return nil, err
		}
	}
	r.warn(c, opt)
	return r, nil
}

// markCertain sets SingleStation.Certain.
func (r *Report) markCertain(ctx context.Context, g *Graph, twoWay bool) error {
	left := make([]int, len(r.SingleStations))
	for i, p := range r.SingleStations {
		left[i] = p.Station
	}
	for _, threshold := range CertainThresholds {
		if threshold == r.Threshold {
			continue
		}
		shown, err := stillSingle(ctx, g.open(threshold, twoWay), left)
		if err != nil {
			return err
		}
		kept := left[:0]
		for _, v := range left {
			if shown[v] {
				kept = append(kept, v)
			}
		}
		left = kept
	}
	certain := make(map[int]bool, len(left))
	for _, v := range left {
		certain[v] = true
	}
	for i := range r.SingleStations {
		r.SingleStations[i].Certain = certain[r.SingleStations[i].Station]
	}
	return nil
}

// findChains fills r.Pairs but for reach.
func (r *Report) findChains(ctx context.Context, a *arcs, pairs [][2]int) error {
	r.Pairs = make([]Pair, len(pairs))
	return workers.Run(ctx, len(pairs), func() (func(int), func()) {
		f := newDisjoint(a)
		return func(i int) {
			s, t := int32(pairs[i][0]), int32(pairs[i][1])
			p := Pair{From: int(s), To: int(t), Direct: a.has(s, t)}
			p.Chains, p.Cut = f.separate(s, t)
			r.Pairs[i] = p
		}, nil
	})
}

// Package reinforce says which single change would help a net most: more power
// at a station, a longer window on the air, another channel, or a new relay.
//
// Links that nobody has measured, such as those of a relay that does not exist
// yet, are expected from what the net's own links teach about distance, band,
// hour, sites and ground (Law). How well a net holds together is one set of
// Figures, measured the same way before and after a change. A gain is promised
// with an interval that comes of what is not known of the climate of the links,
// measured and expected ones.
//
// Stations are numbers as in the mesh; relays that are added come after them.
// Nothing here depends on the order of a map or on the clock: equal input gives
// equal results.
package reinforce

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"farhop/mesh"
	"farhop/mesh/workers"
	"farhop/observations/locator"
	"farhop/routing/cut"
)

// Request says what to look for. The zero values of the numbers stand for the
// defaults given.
type Request struct {
	Moments      []int64 // Unix seconds at which the net is to hold together; none: that of the links
	Threshold    float64 // a link is open from this frame decode chance on; 0.5
	TwoWay       bool    // and only if the answer has cut.AckThreshold
	Use          cut.Use // which uncertain links count
	Changes      int     // how many changes in a row; 1
	Alternatives int     // how many first changes to tell; 6
	Squares      int     // places for a new relay on the grid; 64
	Seed         uint64  // of the draws
	Samples      int     // draws behind each figure told; 4096
	Draws        int     // guesses at the climate behind each gain; 40
}

// MostStations is the largest net for which Advise works: beyond it the search
// would take minutes.
const MostStations = 300

// Advice is what would help.
type Advice struct {
	Before Figures
	Steps  []Option // greedy: each the best after those before it; may be fewer than asked for
	First  []Option // what else could come first, the best first; Steps[0] leads it
	Law    *Law     // what links are expected from, at the first moment; nil where nothing can be
	Looked int      // changes looked at for the first step
}

// Option is a change with what it is expected to do to the net before it.
type Option struct {
	Change
	Before, After Figures
	// The gains are averages over guesses at the climate of all links, so they are
	// not quite After less Before.
	Score      Gain  // points of Figures.Score
	Firm       Gain  // share of pairs
	Mean       Gain  // mean reach
	Worst      Gain  // worst reach
	Removed    []int // single points of failure that are none any more
	Added      []int // new ones, a relay among them
	Expected   int   // links that it rests on and nobody has measured
	ExpectedSD float64
}

// Gain is by how much a figure rises, with the interval in which nine of ten
// guesses at the climate have it.
type Gain struct{ Mean, Low, High float64 }

// leastPoints is the least score for which a change is worth telling.
const leastPoints = 0.5

func (r *Request) defaults(l *mesh.Links) error {
	if len(r.Moments) == 0 {
		r.Moments = []int64{l.At()}
	}
	if r.Threshold == 0 {
		r.Threshold = 0.5
	}
	for _, d := range []struct {
		n   *int
		def int
	}{{&r.Changes, 1}, {&r.Alternatives, 6}, {&r.Squares, 64}, {&r.Samples, 4096}, {&r.Draws, 40}} {
		if *d.n == 0 {
			*d.n = d.def
		}
		if *d.n < 0 {
			return fmt.Errorf("reinforce: a number asked for is negative: %d", *d.n)
		}
	}
	if !(r.Threshold > 0 && r.Threshold <= 1) {
		return fmt.Errorf("reinforce: open threshold %v is not over 0 and up to 1", r.Threshold)
	}
	if n := len(l.Net().Stations); n > MostStations {
		return fmt.Errorf("reinforce: %d stations, more than the %d that can be looked at", n, MostStations)
	}
	return nil
}

// Advise looks for the changes that help most: every station with power left,
// every lengthening of a window, every channel a station lacks, and places for a
// relay. Each is measured over all moments and ranked by the rise of
// Figures.Score, then the kind that costs least. Errors are numbers out of range
// and the end of the context.
func Advise(ctx context.Context, l *mesh.Links, r Request) (*Advice, error) {
	if err := r.defaults(l); err != nil {
		return nil, err
	}
	w := newWorld(l, &r)
	a := &advisor{Request: r, coarse: newMeter(w.members, r.options(2*r.rough(w.members))), fine: newMeter(w.members, r.options(r.Samples))}
	links := w.all()
	before, among := a.fine.measure(links, nil)
	a.among = among
	advice := &Advice{Before: before, Law: w.laws[0]}
	for step := range r.Changes {
		ranked, looked, err := a.rank(ctx, w, links, before)
		if err != nil {
			return nil, err
		}
		told := 1
		if step == 0 {
			advice.Looked, told = looked, r.Alternatives
		}
		ranked = ranked[:min(len(ranked), told)]
		if step == 0 {
			advice.First = ranked
		}
		if len(ranked) == 0 {
			break
		}
		advice.Steps = append(advice.Steps, ranked[0])
		if w, err = w.apply(&ranked[0].Change); err != nil {
			return nil, err
		}
		links, before = w.all(), ranked[0].After
	}
	return advice, nil
}

func (r *Request) options(samples int) Options {
	return Options{Threshold: r.Threshold, TwoWay: r.TwoWay, Seed: r.Seed, Samples: samples}
}

func newWorld(l *mesh.Links, r *Request) *world {
	w := &world{
		links: l, net: l.Net().Clone(), members: len(l.Net().Stations), moments: r.Moments, use: r.Use,
		touched: make(map[int]bool),
	}
	var first *Law
	for _, t := range r.Moments {
		law := learnLaw(l, t, first) // all share the places; the hills stay where they are
		if first == nil {
			first = law
		}
		w.laws = append(w.laws, law)
	}
	return w
}

type advisor struct {
	Request
	coarse, fine *meter
	among        []grid // pairs that had a chain at first, which the worst reach is taken over
}

// finalists is how many candidates are measured finely, at least.
const finalists = 8

// rank measures every candidate coarsely and those that do best finely.
func (a *advisor) rank(ctx context.Context, w *world, links [][]Link, before Figures) (best []Option, looked int, err error) {
	list := w.candidates(before, a.Squares)
	if list, err = a.shortlist(ctx, w, links, list, &looked); err != nil {
		return nil, 0, err
	}
	all, err := a.guess(ctx, w, links)
	if err != nil {
		return nil, 0, err
	}
	a.fine.keep(links)
	options := make([]Option, len(list))
	err = a.eachOf(ctx, w, list, func(w *world, i int) error {
		o := Option{Change: list[i], Before: before}
		err := w.try(&o.Change, links, nil, func(after *world, links [][]Link) {
			o.After, _ = a.fine.measure(links, a.among)
			o.Removed = lacking(o.Before.Single, o.After.Single)
			o.Added = lacking(o.After.Single, o.Before.Single)
			o.expected(links)
			a.promise(after, links, all, &o)
		})
		options[i] = o
		return err
	})
	if err != nil {
		return nil, 0, err
	}
	for _, o := range options {
		if o.Score.Mean >= leastPoints {
			best = append(best, o)
		}
	}
	slices.SortStableFunc(best, func(x, y Option) int {
		return cmp.Or(cmp.Compare(tenth(y.Score.Mean), tenth(x.Score.Mean)), cmp.Compare(x.Kind, y.Kind), cmp.Compare(x.Station, y.Station))
	})
	return best, looked, nil
}

// shortlist takes the candidates that look best at first sight, and of each kind
// at least the best.
func (a *advisor) shortlist(ctx context.Context, w *world, links [][]Link, list []Change, looked *int) ([]Change, error) {
	a.coarse.keep(links)
	base, _ := a.coarse.measure(links, a.among)
	nominal := w.nominalSD()
	points := make([]float64, len(list))
	order := make([]int, len(list))
	err := a.eachOf(ctx, w, list, func(w *world, i int) error {
		return w.try(&list[i], links, &nominal, func(_ *world, links [][]Link) {
			f, _ := a.coarse.measure(links, a.among)
			points[i], order[i] = f.Score()-base.Score(), i
		})
	})
	if err != nil {
		return nil, err
	}
	*looked = len(list)
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(tenth(points[j]), tenth(points[i])) })
	var short []Change
	seen := make(map[Kind]int)
	for _, i := range order {
		c := &list[i]
		beside := c.Kind == Relay && w.isBeside(c)
		if len(short) < max(finalists, a.Alternatives) || seen[c.Kind] == 0 || beside {
			short = append(short, *c)
			seen[c.Kind]++
		}
	}
	return short, nil
}

// eachOf looks at every change on all processors, in a world of the goroutine's own,
// and returns their errors.
func (a *advisor) eachOf(ctx context.Context, w *world, list []Change, look func(w *world, i int) error) error {
	errs := make([]error, len(list))
	err := workers.Run(ctx, len(list), func() (func(int), func()) {
		mine := w.own()
		return func(i int) { errs[i] = look(mine, i) }, nil
	})
	return cmp.Or(err, errors.Join(errs...))
}

// isBeside reports whether a relay would stand where a member does.
func (w *world) isBeside(c *Change) bool {
	law := w.anyLaw()
	for i := range w.members {
		if s := law.site[i]; s >= 0 && locator.Distance(law.sites.place[s], c.Position) < placeKM {
			return true
		}
	}
	return false
}

// try has a measurement made with a change, and takes it back.
func (w *world) try(c *Change, links [][]Link, sd *float64, measure func(after *world, links [][]Link)) error {
	if law := w.anyLaw(); law != nil {
		n := len(law.sites.place)
		defer law.sites.drop(n)
	}
	after, err := w.apply(c)
	if err != nil {
		return err
	}
	measure(after, after.touching(links, c.Station, sd))
	return nil
}

// tenth rounds to tenths, so that ties are ties.
func tenth(x float64) float64 { return math.Round(10 * x) }

// nominalSD is how uncertain links of a relay in the middle of the net would be,
// for the first look at many places.
func (w *world) nominalSD() float64 {
	law := w.anyLaw()
	if law == nil || len(law.sites.place) == 0 {
		return vaguestDB
	}
	n := len(law.sites.place)
	defer law.sites.drop(n)
	middle := gridOver(law.sites.place, 1)[0]
	site := law.sites.add(middle)
	var paths []path
	for i := range n {
		paths = append(paths, path{law.paths[0].band, site, i})
	}
	spread := law.spread(paths)
	var all []float64
	for i := range paths {
		all = append(all, math.Sqrt(spread.At(i, i)))
	}
	return median(all)
}

// lacking is what is in the first list and not in the second.
func lacking(first, second []int) (list []int) {
	for _, s := range first {
		if !slices.Contains(second, s) {
			list = append(list, s)
		}
	}
	return list
}

// expected counts the links of the change that nobody has measured, each once.
func (o *Option) expected(after [][]Link) {
	var all []float64
	seen := make(map[[3]int]bool)
	for _, links := range after {
		for i := range links {
			l := &links[i]
			if !l.Expected || !l.Use || l.From != o.Station && l.To != o.Station {
				continue
			}
			all = append(all, l.ClimateSD)
			seen[[3]int{l.From, l.To, l.Channel}] = true
		}
	}
	if o.Expected = len(seen); o.Expected > 0 {
		o.ExpectedSD = median(all)
	}
}

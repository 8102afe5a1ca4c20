package cut

import (
	"cmp"
	"context"
	"slices"
	"sync"

	"farhop/mesh/workers"
)

// SingleStation is a station whose loss leaves some ordered pair of other
// stations, connected before, without any chain.
type SingleStation struct {
	Station   int
	PairsLost int // ordered pairs of other stations that lose every chain, > 0
	// CutsOff are the stations, ascending, that lose the rest of the net. Take
	// the largest group that is left (of several as large the one with the
	// lowest station): a station outside it is cut off when, before, it had a
	// chain to that group or one from it, and has lost one of those it had. It
	// can be empty: then stations that keep all they had with the largest group
	// lose each other.
	CutsOff []int
	Certain bool // a single point of failure at each of CertainThresholds
}

// SingleLink is an ordered pair of stations whose direct link, on whatever
// channel, is the only thing that connects some ordered pair.
type SingleLink struct {
	From, To  int
	PairsLost int // ordered pairs that lose every chain, > 0
}

// losses counts, by station and by arc, the ordered pairs lost with it.
type losses struct {
	connected     int
	station, link []int
}

func (l *losses) add(o *losses) {
	l.connected += o.connected
	for v, k := range o.station {
		l.station[v] += k
	}
	for e, k := range o.link {
		l.link[e] += k
	}
}

// countLosses adds up the dominator trees of all roots: without v, a root loses
// just those that v dominates, and without an arc those behind it when it is a
// bridge. Exact, O(n·m) in practice, on all processors.
func countLosses(ctx context.Context, a *arcs) (*losses, error) {
	total := &losses{station: make([]int, a.n), link: make([]int, len(a.head))}
	var lock sync.Mutex
	err := workers.Run(ctx, a.n, func() (func(int), func()) {
		d := newDominators(a.n)
		mine := &losses{station: make([]int, a.n), link: make([]int, len(a.head))}
		work := func(root int) {
			d.build(a, int32(root), none)
			mine.connected += d.n - 1
			for i := int32(1); i < int32(d.n); i++ {
				mine.station[d.vertex[i]] += int(d.size[i]) - 1
				if e := d.bridge(a, i); e != none {
					mine.link[e] += int(d.size[i])
				}
			}
		}
		return work, func() {
			lock.Lock()
			defer lock.Unlock()
			total.add(mine)
		}
	})
	return total, err
}

// singleStations lists the stations with losses, most pairs lost first, then by
// number.
func singleStations(a *arcs, l *losses) []SingleStation {
	var points []SingleStation
	w := newWalker(a.n)
	for v, lost := range l.station {
		if lost > 0 {
			points = append(points, SingleStation{Station: v, PairsLost: lost, CutsOff: w.cutOff(a, int32(v))})
		}
	}
	slices.SortStableFunc(points, func(x, y SingleStation) int { return cmp.Compare(y.PairsLost, x.PairsLost) })
	return points
}

// singleLinks lists the arcs with losses, most pairs lost first, then by sender
// and receiver.
func singleLinks(a *arcs, l *losses) []SingleLink {
	var points []SingleLink
	for e, lost := range l.link {
		if lost > 0 {
			points = append(points, SingleLink{From: int(a.tail[e]), To: int(a.head[e]), PairsLost: lost})
		}
	}
	slices.SortStableFunc(points, func(x, y SingleLink) int { return cmp.Compare(y.PairsLost, x.PairsLost) })
	return points
}

// cutOff returns whom the loss of v cuts off, as SingleStation.CutsOff says. O(n + m).
func (w *walker) cutOff(a *arcs, v int32) []int {
	_, base := w.largest(w.components(a, v, none))
	if base == none {
		return nil
	}
	lost := make([]bool, a.n)
	for _, back := range []bool{false, true} {
		w.reach(a, base, none, back)
		before := slices.Clone(w.seen)
		w.reach(a, base, v, back)
		for x := range lost {
			lost[x] = lost[x] || before[x] && !w.seen[x]
		}
	}
	var off []int
	for x, is := range lost {
		if is && x != int(v) {
			off = append(off, x)
		}
	}
	return off
}

// stillSingle returns which of the stations are single points of failure in a
// as well. A station v is one if and only if some station that v hears loses
// some station that hears v: on a chain that is lost with v, the stations
// before and after v are such a pair. So the dominator trees of the stations
// that are heard by one of them suffice.
func stillSingle(ctx context.Context, a *arcs, stations []int) ([]bool, error) {
	root, shown := make([]bool, a.n), make([]bool, a.n)
	for _, v := range stations {
		for _, u := range a.into(int32(v)) {
			root[u] = true
		}
	}
	var roots []int32
	for u, is := range root {
		if is {
			roots = append(roots, int32(u))
		}
	}
	var lock sync.Mutex
	err := workers.Run(ctx, len(roots), func() (func(int), func()) {
		d, mine := newDominators(a.n), make([]bool, a.n)
		work := func(r int) {
			d.build(a, roots[r], none)
			for i := 1; i < d.n; i++ {
				mine[d.vertex[i]] = mine[d.vertex[i]] || d.size[i] > 1
			}
		}
		return work, func() {
			lock.Lock()
			defer lock.Unlock()
			for v, is := range mine {
				shown[v] = shown[v] || is
			}
		}
	})
	return shown, err
}

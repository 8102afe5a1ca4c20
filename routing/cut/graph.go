package cut

import (
	"cmp"
	"fmt"
	"slices"

	"farhop/mesh/link"
)

// Link is one direction between two stations on one channel at one moment.
// Links that the plan closes at that moment are left out altogether.
type Link struct {
	From, To, Channel int
	Band              int            // links of an ordered pair on one band share one state: they open together
	Decode            float64        // chance that one frame decodes, 0…1
	Known             bool           // false: a third state, counted and no edge unless Use
	Use               bool           // may be an edge
	Way               link.Direction // for the chance of being open
}

// Graph is the links of a net at one moment in a compact form, sorted by
// sender, receiver and channel. It does not change once made.
type Graph struct {
	stations int
	links    []Link
	back     []float64 // decode chance of the opposite direction on the same channel, by link
}

// New returns the graph of the links between the stations 0…stations−1. Links
// may come in any order; a second link of the same sender, receiver and channel
// is an error, and so are indexes out of range, links from a station to itself
// and chances outside 0…1. O(m log m) for m links.
func New(stations int, links []Link) (*Graph, error) {
	if stations < 0 {
		return nil, fmt.Errorf("cut: %d stations", stations)
	}
	for i, l := range links {
		if l.From < 0 || l.From >= stations || l.To < 0 || l.To >= stations {
			return nil, fmt.Errorf("cut: link %d joins stations %d and %d, but there are %d", i, l.From, l.To, stations)
		}
		if l.From == l.To {
			return nil, fmt.Errorf("cut: link %d joins station %d to itself", i, l.From)
		}
		if !(l.Decode >= 0 && l.Decode <= 1) {
			return nil, fmt.Errorf("cut: link %d has the chance %v", i, l.Decode)
		}
	}
	g := &Graph{stations: stations, links: slices.Clone(links)}
	slices.SortFunc(g.links, compareLinks)
	for i := 1; i < len(g.links); i++ {
		if compareLinks(g.links[i-1], g.links[i]) == 0 {
			l := g.links[i]
			return nil, fmt.Errorf("cut: two links from station %d to %d on channel %d", l.From, l.To, l.Channel)
		}
	}
	g.back = make([]float64, len(g.links))
	for i, l := range g.links {
		j, ok := slices.BinarySearchFunc(g.links, Link{From: l.To, To: l.From, Channel: l.Channel}, compareLinks)
		if ok && g.links[j].Use {
			g.back[i] = g.links[j].Decode
		}
	}
	return g, nil
}

func compareLinks(a, b Link) int {
	return cmp.Or(cmp.Compare(a.From, b.From), cmp.Compare(a.To, b.To), cmp.Compare(a.Channel, b.Channel))
}

// Stations returns the number of stations.
func (g *Graph) Stations() int { return g.stations }

// Links returns a copy of the links, sorted by sender, receiver and channel.
func (g *Graph) Links() []Link { return slices.Clone(g.links) }

// counts says whether link i may be an edge, the threshold aside.
func (g *Graph) counts(i int, twoWay bool) bool {
	return g.links[i].Use && (!twoWay || g.back[i] >= AckThreshold)
}

// open returns the ordered pairs that have a link with a decode chance of at
// least threshold on some channel.
func (g *Graph) open(threshold float64, twoWay bool) *arcs {
	var pairs [][2]int32
	for i, l := range g.links {
		if l.Decode < threshold || !g.counts(i, twoWay) {
			continue
		}
		p := [2]int32{int32(l.From), int32(l.To)}
		if k := len(pairs); k == 0 || pairs[k-1] != p {
			pairs = append(pairs, p)
		}
	}
	return newArcs(g.stations, pairs)
}

// arcs is a digraph as adjacency arrays in both directions. Arc e, in the order
// of sender then receiver, goes from tail[e] to head[e]; the arcs that leave v
// are first[v]…first[v+1]−1. The arcs that enter v are the numbers
// in[firstIn[v]…firstIn[v+1]−1], senders ascending.
type arcs struct {
	n              int
	tail, head     []int32
	first, firstIn []int32
	in             []int32
	inTail         []int32 // tail[in[i]]
}

// newArcs returns the digraph of distinct pairs sorted by sender, then receiver.
func newArcs(n int, pairs [][2]int32) *arcs {
	m := len(pairs)
	a := &arcs{
		n: n, tail: make([]int32, m), head: make([]int32, m), first: make([]int32, n+1),
		firstIn: make([]int32, n+1), in: make([]int32, m), inTail: make([]int32, m),
	}
	for e, p := range pairs {
		a.tail[e], a.head[e] = p[0], p[1]
		a.first[p[0]+1]++
		a.firstIn[p[1]+1]++
	}
	for v := range n {
		a.first[v+1] += a.first[v]
		a.firstIn[v+1] += a.firstIn[v]
	}
	next := slices.Clone(a.firstIn[:n])
	for e, p := range pairs {
		i := next[p[1]]
		next[p[1]]++
		a.in[i], a.inTail[i] = int32(e), p[0]
	}
	return a
}

// out returns the receivers of v, ascending.
func (a *arcs) out(v int32) []int32 { return a.head[a.first[v]:a.first[v+1]] }

// into returns the senders to v, ascending.
func (a *arcs) into(v int32) []int32 { return a.inTail[a.firstIn[v]:a.firstIn[v+1]] }

// has reports whether there is an arc from u to v. O(log degree).
func (a *arcs) has(u, v int32) bool {
	_, ok := slices.BinarySearch(a.out(u), v)
	return ok
}

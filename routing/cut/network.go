package cut

import "math/bits"

// maxStations is the most stations that exact reach handles, the two ends included.
const maxStations = 64

// network is what is left of a net between two stations while its reach is
// being worked out: up to 64 stations, sets as bits, and for each link its
// chances of being open at all points. direct holds what has been found of a
// link from s straight to t.
type network struct {
	k       int
	s, t    int
	live    uint64
	out, in [maxStations]uint64
	chance  []int32 // row of memory, at from·k + to
	direct  int32   // row, none for none
	dead    bool    // no chain beside direct
}

// copyTo makes c the same as n, in c's own memory.
func (n *network) copyTo(c *network) {
	chance := append(c.chance[:0], n.chance...)
	*c = *n
	c.chance = chance
}

func (n *network) drop(u, v int) {
	n.out[u] &^= 1 << v
	n.in[v] &^= 1 << u
}

// join adds a link from u to v that is open with the chances p, independent of
// one that is there already.
func (n *network) join(u, v int, p int32, m *memory) {
	if n.out[u]>>v&1 != 0 {
		p = m.either(n.chance[u*n.k+v], p)
	}
	n.out[u] |= 1 << v
	n.in[v] |= 1 << u
	n.chance[u*n.k+v] = p
}

// reduce takes out what does not matter and puts together what can be, without
// changing the chance of a chain from s to t: links on no chain that repeats no
// station, direct links, and relays with only two neighbours.
func (n *network) reduce(m *memory) {
	for changed := true; changed && !n.dead; {
		n.prune()
		n.loops()
		changed = n.takeDirect(m)
		changed = n.series(m) || changed
	}
}

// prune keeps the stations that s reaches and that reach t, neither way through the other.
func (n *network) prune() {
	s, t := uint64(1)<<n.s, uint64(1)<<n.t
	n.live &= flood(&n.out, n.s, n.live, t) & flood(&n.in, n.t, n.live, s)
	if n.dead = n.live&s == 0 || n.live&t == 0; n.dead {
		return
	}
	for v := range n.k {
		n.out[v] &= n.live &^ s
		n.in[v] &= n.live &^ t
		if n.live>>v&1 == 0 {
			n.out[v], n.in[v] = 0, 0
		}
	}
	n.out[n.t], n.in[n.s] = 0, 0
}

// flood returns the stations among live that from reaches over near, going no further at stop.
func flood(near *[maxStations]uint64, from int, live, stop uint64) uint64 {
	seen := uint64(1) << from
	for edge := seen; edge != 0; {
		v := bits.TrailingZeros64(edge)
		edge &= edge - 1
		more := near[v] & live &^ seen
		seen |= more
		edge |= more &^ stop
	}
	return seen
}

// loops drops every link u → v where all chains from s to u pass v, or all
// chains from v to t pass u: a chain over it would come by a station twice.
func (n *network) loops() {
	var before, after [maxStations]uint64
	n.dominating(&before, &n.in, n.s)
	n.dominating(&after, &n.out, n.t)
	for rest := n.live; rest != 0; rest &= rest - 1 {
		u := bits.TrailingZeros64(rest)
		for heads := n.out[u]; heads != 0; heads &= heads - 1 {
			v := bits.TrailingZeros64(heads)
			if before[u]>>v&1 != 0 || after[v]>>u&1 != 0 {
				n.drop(u, v)
			}
		}
	}
}

// dominating fills in, for each live station, the stations on all its ways from
// root, itself included, by sets until nothing changes; from gives the stations
// a way comes from.
func (n *network) dominating(dom, from *[maxStations]uint64, root int) {
	for v := range n.k {
		dom[v] = n.live
	}
	dom[root] = 1 << root
	for changed := true; changed; {
		changed = false
		for rest := n.live &^ (1 << root); rest != 0; rest &= rest - 1 {
			v := bits.TrailingZeros64(rest)
			all := n.live
			for tails := from[v]; tails != 0; tails &= tails - 1 {
				all &= dom[bits.TrailingZeros64(tails)]
			}
			all |= 1 << v
			changed = changed || all != dom[v]
			dom[v] = all
		}
	}
}

// takeDirect moves a link from s to t into n.direct.
func (n *network) takeDirect(m *memory) bool {
	if n.out[n.s]>>n.t&1 == 0 {
		return false
	}
	p := n.chance[n.s*n.k+n.t]
	if n.direct != none {
		p = m.either(n.direct, p)
	}
	n.direct = p
	n.drop(n.s, n.t)
	return true
}

// series replaces a relay with two neighbours by links between these.
func (n *network) series(m *memory) bool {
	for rest := n.live &^ (1<<n.s | 1<<n.t); rest != 0; rest &= rest - 1 {
		v := bits.TrailingZeros64(rest)
		if bits.OnesCount64(n.in[v]|n.out[v]) > 2 {
			continue
		}
		from, to := n.in[v], n.out[v]
		n.remove(v)
		for tails := from; tails != 0; tails &= tails - 1 {
			u := bits.TrailingZeros64(tails)
			for heads := to &^ (1 << u); heads != 0; heads &= heads - 1 {
				w := bits.TrailingZeros64(heads)
				n.join(u, w, m.both(n.chance[u*n.k+v], n.chance[v*n.k+w]), m)
			}
		}
		return true
	}
	return false
}

// remove takes the station v out with its links.
func (n *network) remove(v int) {
	for tails := n.in[v]; tails != 0; tails &= tails - 1 {
		n.out[bits.TrailingZeros64(tails)] &^= 1 << v
	}
	for heads := n.out[v]; heads != 0; heads &= heads - 1 {
		n.in[bits.TrailingZeros64(heads)] &^= 1 << v
	}
	n.in[v], n.out[v] = 0, 0
	n.live &^= 1 << v
}

// contract merges v into s when s reaches it for sure, or into t when it
// reaches t for sure.
func (n *network) contract(v int, intoSource bool, m *memory) {
	near, k := n.out[v], n.k
	if !intoSource {
		near = n.in[v]
	}
	n.remove(v)
	for ; near != 0; near &= near - 1 {
		w := bits.TrailingZeros64(near)
		if intoSource && w != n.s {
			n.join(n.s, w, n.chance[v*k+w], m)
		} else if !intoSource && w != n.t {
			n.join(w, n.t, n.chance[w*k+v], m)
		}
	}
}

// waypoints returns the relays that every chain from s to t passes, in order,
// between s and t themselves.
func (n *network) waypoints() []int {
	var dom [maxStations]uint64
	n.dominating(&dom, &n.in, n.s)
	var way []int
	for rest := dom[n.t]; rest != 0; rest &= rest - 1 {
		way = append(way, bits.TrailingZeros64(rest))
	}
	for i := 1; i < len(way); i++ { // a waypoint has as many waypoints before it as its place says
		for j := i; j > 0 && bits.OnesCount64(dom[way[j]]) < bits.OnesCount64(dom[way[j-1]]); j-- {
			way[j], way[j-1] = way[j-1], way[j]
		}
	}
	return way
}

// memory holds rows of chances, one chance a point, and takes back all rows from
// one on at once.
type memory struct {
	points int
	values []float64
	used   int32
}

// row returns a new row; its values are left over from before. Slices got from
// at do not hold after it.
func (m *memory) row() int32 {
	m.used++
	if need := int(m.used) * m.points; need > len(m.values) {
		m.values = append(m.values, make([]float64, max(need, 64*m.points))...)
	}
	return m.used - 1
}

func (m *memory) at(row int32) []float64 {
	start := int(row) * m.points
	return m.values[start : start+m.points]
}

// keep returns a row with these values.
func (m *memory) keep(values []float64) int32 {
	r := m.row()
	copy(m.at(r), values)
	return r
}

// either returns the chances that one or the other of two independent links is open.
func (m *memory) either(p, q int32) int32 {
	r := m.row()
	to, a, b := m.at(r), m.at(p), m.at(q)
	for i := range to {
		to[i] = a[i] + b[i] - a[i]*b[i]
	}
	return r
}

// both returns the chances that two independent links are open.
func (m *memory) both(p, q int32) int32 {
	r := m.row()
	to, a, b := m.at(r), m.at(p), m.at(q)
	for i := range to {
		to[i] = a[i] * b[i]
	}
	return r
}

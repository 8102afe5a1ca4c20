package cut

import "math/bits"

// maxSum is the most relays that are summed over as sets: 3^maxSum steps.
const maxSum = 8

// factorer finds the chance that some chain between two stations is open by
// reductions and the factoring theorem, at all points of a rule together.
//
//	R(net) = p·R(net with the link certain) + (1 − p)·R(net without the link)
//
// The link is one at s or at t, so that a certain link merges two stations. A net whose
// chains all pass the same relay falls apart into two: no link lies on chains of
// both parts, so their chances multiply. What has at most maxSum relays left is
// summed over sets of stations reached. One value serves one goroutine.
type factorer struct {
	*chances
	memory
	sets   subsets
	nets   []*network // by depth
	budget int64      // steps left
	local  []int32
	closed []float64
}

func newFactorer(c *chances) *factorer {
	return &factorer{chances: c, memory: memory{points: len(c.eta)}, local: make([]int32, c.n)}
}

// pair returns the chance that a chain from s to t is open; false when it would
// take more than budget steps, or when more than 64 stations matter.
func (f *factorer) pair(s, t int32, budget int64) (float64, bool) {
	f.budget, f.used = budget, 0
	n := f.net(0)
	if !f.load(n, s, t) {
		return 0, false
	}
	if n.dead {
		return 0, true
	}
	at, ok := f.solve(0)
	if !ok {
		return 0, false
	}
	return f.mean(f.at(at)), true
}

func (f *factorer) net(depth int) *network {
	for len(f.nets) <= depth {
		f.nets = append(f.nets, &network{})
	}
	return f.nets[depth]
}

// load fills n with what lies between s and t, numbered in station order.
func (f *factorer) load(n *network, s, t int32) bool {
	ahead := f.between(s, t, false)
	behind := f.between(t, s, true)
	var all []int32
	for v := range int32(f.n) {
		f.local[v] = none
		if ahead[v] && behind[v] {
			f.local[v] = int32(len(all))
			all = append(all, v)
		}
	}
	n.k = len(all)
	if n.dead = !ahead[t]; n.dead {
		return true
	}
	if n.k > maxStations {
		return false
	}
	n.s, n.t, n.direct, n.live = int(f.local[s]), int(f.local[t]), none, 1<<n.k-1
	n.out, n.in = [maxStations]uint64{}, [maxStations]uint64{}
	n.chance = append(n.chance[:0], make([]int32, n.k*n.k)...)
	for i, v := range all {
		for e := f.first[v]; e < f.first[v+1]; e++ {
			if j := f.local[f.head[e]]; j != none {
				n.join(i, int(j), f.keep(f.open[int(e)*f.points:][:f.points]), &f.memory)
			}
		}
	}
	return true
}

// between marks what from reaches (what reaches it, with back), stop included but not passed.
func (f *factorer) between(from, stop int32, back bool) []bool {
	seen := make([]bool, f.n)
	seen[from] = true
	queue := []int32{from}
	for i := 0; i < len(queue); i++ {
		near := f.out(queue[i])
		if back {
			near = f.into(queue[i])
		}
		for _, y := range near {
			if !seen[y] {
				seen[y] = true
				if y != stop {
					queue = append(queue, y)
				}
			}
		}
	}
	return seen
}

// spend takes steps from the budget and reports whether it holds.
func (f *factorer) spend(steps int64) bool {
	f.budget -= steps * int64(f.points)
	return f.budget >= 0
}

// solve returns the chances for the network at the depth, which it uses up.
func (f *factorer) solve(depth int) (int32, bool) {
	n := f.net(depth)
	if !f.spend(1 + int64(n.k*n.k)/32) {
		return none, false
	}
	n.reduce(&f.memory)
	if n.dead {
		if n.direct != none {
			return n.direct, true
		}
		zero := f.row()
		clear(f.at(zero))
		return zero, true
	}
	direct := n.direct
	n.direct = none
	var rest int32
	var ok bool
	switch way := n.waypoints(); {
	case len(way) > 2:
		rest, ok = f.legs(depth, way)
	case bits.OnesCount64(n.live)-2 <= maxSum:
		rest, ok = f.sum(n)
	default:
		rest, ok = f.branch(depth)
	}
	if ok && direct != none {
		rest = f.either(direct, rest)
	}
	return rest, ok
}

// legs multiplies the chances from waypoint to waypoint.
func (f *factorer) legs(depth int, way []int) (int32, bool) {
	product := none
	for i := 1; i < len(way); i++ {
		leg := f.net(depth + 1)
		f.net(depth).copyTo(leg)
		leg.s, leg.t = way[i-1], way[i]
		r, ok := f.solve(depth + 1)
		if !ok {
			return none, false
		}
		if product == none {
			product = r
		} else {
			product = f.both(product, r)
		}
	}
	return product, true
}

// pivot picks the relay whose link with s (or with t) is factored on: at the end
// that has the fewer links, the relay with the most links beyond.
func (n *network) pivot() (pick int, atSource bool) {
	atSource = bits.OnesCount64(n.out[n.s]) <= bits.OnesCount64(n.in[n.t])
	near, onward := n.out[n.s], &n.out
	if !atSource {
		near, onward = n.in[n.t], &n.in
	}
	most := -1
	for ; near != 0; near &= near - 1 {
		v := bits.TrailingZeros64(near)
		if k := bits.OnesCount64(onward[v]); k > most {
			pick, most = v, k
		}
	}
	return pick, atSource
}

// branch applies the factoring theorem to the link of the pivot.
func (f *factorer) branch(depth int) (int32, bool) {
	n := f.net(depth)
	pick, atSource := n.pivot()
	p, u, v := n.chance[n.s*n.k+pick], n.s, pick
	if !atSource {
		p, u, v = n.chance[pick*n.k+n.t], pick, n.t
	}
	result := f.row()
	with := f.net(depth + 1)
	n.copyTo(with)
	with.contract(pick, atSource, &f.memory)
	r, ok := f.solve(depth + 1)
	if !ok {
		return none, false
	}
	to, chance, at := f.at(result), f.at(p), f.at(r)
	for i := range to {
		to[i] = chance[i] * at[i]
	}
	f.used = result + 1
	without := f.net(depth + 1)
	n.copyTo(without)
	without.drop(u, v)
	if r, ok = f.solve(depth + 1); !ok {
		return none, false
	}
	to, chance, at = f.at(result), f.at(p), f.at(r)
	for i := range to {
		to[i] += (1 - chance[i]) * at[i]
	}
	f.used = result + 1
	return result, true
}

// sum adds up, at each point, over the sets of relays reached, the chance that
// none of them has an open link to t.
func (f *factorer) sum(n *network) (int32, bool) {
	var relays []int
	for rest := n.live &^ (1<<n.s | 1<<n.t); rest != 0; rest &= rest - 1 {
		relays = append(relays, bits.TrailingZeros64(rest))
	}
	k := len(relays)
	if !f.spend(steps(k)) {
		return none, false
	}
	from := append(relays, n.s)
	result := f.row()
	f.closed = append(f.closed[:0], make([]float64, (k+1)*(k+1))...)
	for i := range f.points {
		last := f.closed[(k+1)*k:] // by station: its link to t
		for a, u := range from {
			for b, v := range relays {
				f.closed[a*k+b] = f.closedAt(n, u, v, i)
			}
			last[a] = f.closedAt(n, u, n.t, i)
		}
		f.sets.run(k, f.closed[:(k+1)*k])
		missed := 0.0
		for set, p := range f.sets.exact[:1<<k] {
			p *= last[k]
			for rest := uint(set); rest != 0; rest &= rest - 1 {
				p *= last[bits.TrailingZeros(rest)]
			}
			missed += p
		}
		f.at(result)[i] = max(1-missed, 0)
	}
	return result, true
}

// closedAt returns the chance that the link from u to v is closed at a point, 1 without a link.
func (f *factorer) closedAt(n *network, u, v, point int) float64 {
	if n.out[u]>>v&1 == 0 {
		return 1
	}
	return 1 - f.at(n.chance[u*n.k+v])[point]
}

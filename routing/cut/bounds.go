package cut

import "math"

// bounds returns the lowest and the highest chance that some chain from s to t
// is open under any dependence whatever between links with these chances p.
//
// Lowest: 1 less the length of the shortest chain with lengths 1 − p, not below
// 0. Highest: the least sum of p over sets of links that separate t from s, not
// above 1. Both are reached by some dependence: the shares in which a separating
// set is closed together can be packed up to the length of the shortest chain,
// and those in which a chain is open together up to the least cut (linear
// programming duality; Ford and Fulkerson 1956, Fulkerson 1968). For one chain and
// for one set of parallel links they are Fréchet's bounds (1935).
func (c *chances) bounds(s, t int32) (lowest, highest float64) {
	return c.lowest(s, t), c.highest(s, t)
}

// lowest finds the shortest chain by Dijkstra's algorithm on an array, O(n² + m).
func (c *chances) lowest(s, t int32) float64 {
	far := make([]float64, c.n)
	done := make([]bool, c.n)
	for v := range far {
		far[v] = 1 // a length of 1 or more says nothing
	}
	far[s] = 0
	for {
		u := none
		for v := range int32(c.n) {
			if !done[v] && far[v] < 1 && (u == none || far[v] < far[u]) {
				u = v
			}
		}
		if u == none || u == t {
			return 1 - far[t]
		}
		done[u] = true
		for e := c.first[u]; e < c.first[u+1]; e++ {
			best := 0.0
			for _, d := range c.ways[e] {
				best = max(best, marginal(d))
			}
			far[c.head[e]] = min(far[c.head[e]], far[u]+1-best)
		}
	}
}

// highest finds the least cut as a greatest flow (Edmonds and Karp), stopping
// once it reaches 1.
func (c *chances) highest(s, t int32) float64 {
	left := make([]float64, len(c.head)) // residual capacity
	for e, ways := range c.ways {
		for _, d := range ways {
			left[e] += marginal(d)
		}
	}
	back := make([]float64, len(c.head)) // flow that can be taken back
	total := 0.0
	for total < 1 {
		amount := c.augment(s, t, left, back)
		if amount == 0 {
			return total
		}
		total += amount
	}
	return 1
}

// augment sends what it can along a shortest way from s to t and returns it.
func (c *chances) augment(s, t int32, left, back []float64) float64 {
	by := c.room(s, t, left, back)
	if by[t] == 0 {
		return 0
	}
	amount := math.Inf(1)
	c.walk(s, t, by, func(e int32, forward bool) {
		if forward {
			amount = min(amount, left[e])
		} else {
			amount = min(amount, back[e])
		}
	})
	c.walk(s, t, by, func(e int32, forward bool) {
		sent := amount
		if !forward {
			sent = -amount
		}
		left[e] -= sent
		back[e] += sent
	})
	return amount
}

// room looks breadth first for a way from s with room for more, until it comes to
// t, and returns the arc + 1 by which each station was reached, negative when
// backwards. Room of 1e-15 and less counts as nothing.
func (c *chances) room(s, t int32, left, back []float64) []int32 {
	const nothing = 1e-15
	by := make([]int32, c.n)
	queue := []int32{s}
	for i := 0; i < len(queue) && by[t] == 0; i++ {
		u := queue[i]
		reach := func(v, arc int32, room float64) {
			if v != s && by[v] == 0 && room > nothing {
				by[v] = arc
				queue = append(queue, v)
			}
		}
		for e := c.first[u]; e < c.first[u+1]; e++ {
			reach(c.head[e], e+1, left[e])
		}
		for k := c.firstIn[u]; k < c.firstIn[u+1]; k++ {
			reach(c.inTail[k], -c.in[k]-1, back[c.in[k]])
		}
	}
	return by
}

// walk calls visit for the arcs of the way that by describes, from t back to s.
func (c *chances) walk(s, t int32, by []int32, visit func(e int32, forward bool)) {
	for v := t; v != s; {
		if by[v] > 0 {
			e := by[v] - 1
			visit(e, true)
			v = c.tail[e]
		} else {
			e := -by[v] - 1
			visit(e, false)
			v = c.head[e]
		}
	}
}

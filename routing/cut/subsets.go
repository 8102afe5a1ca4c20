package cut

import "math/bits"

// subsets finds the chance of every set of stations that a source can reach, by
// a sum over sets (Buzacott, A recursive algorithm for finding reliability
// measures related to the connection of nodes in a graph, Networks 10 (1980)
// 311–327). With R(S) the chance that the source reaches all of S over links
// inside S, and the stations it does reach inside S being exactly T or another,
//
//	R(S) = 1 − Σ R(T)·Π (chance that the link i → j is closed; i in T, j in S∖T)   over T ⊂ S, T ≠ S,
//
// and S is the whole set reached with chance R(S) times the chance that all links
// out of S are closed. 3^k steps for k stations beside the source; no division, and sums
// of positive terms only but for the leading 1, so the error is near 1e-15·2^k.
type subsets struct {
	miss    []float64 // chance that a set is not all reached
	exact   []float64 // chance that a set is what is reached
	row     []float64 // at set·k + j: chance that no link from the set or the source to j is open
	product []float64
	union   []int
}

// negligible is the chance below which a set is passed over.
const negligible = 1e-14

// run fills x.exact by set (bit j for station j) from the chances that links are
// closed: closed[i·k + j] for the link from station i to j, i = k being the source.
func (x *subsets) run(k int, closed []float64) {
	sets := 1 << k
	x.grow(k)
	copy(x.row[:k], closed[k*k:])
	for t := range sets {
		if t > 0 {
			low := bits.TrailingZeros(uint(t))
			rest := t & (t - 1)
			for j := range k {
				x.row[t*k+j] = x.row[rest*k+j] * closed[low*k+j]
			}
		}
		all := 1 - x.miss[t]
		if all <= negligible {
			x.exact[t] = 0
			continue
		}
		x.exact[t] = x.spreadSet(t, k, all)
	}
}

// spreadSet adds the chance that t is reached inside each larger set, and no
// more of it, to what that set misses, and returns the chance in the whole net.
func (x *subsets) spreadSet(t, k int, all float64) float64 {
	x.product[0], x.union[0] = all, t
	size := 1
	for j := range k {
		if t>>j&1 != 0 {
			continue
		}
		q := x.row[t*k+j]
		low, high := x.product[:size], x.product[size:2*size]
		lowUnion, highUnion := x.union[:size], x.union[size:2*size]
		for i, p := range low {
			p *= q
			set := lowUnion[i] | 1<<j
			high[i], highUnion[i] = p, set
			x.miss[set] += p
		}
		size *= 2
	}
	return x.product[size-1]
}

func (x *subsets) grow(k int) {
	sets := 1 << k
	if len(x.exact) < sets {
		x.miss, x.exact = make([]float64, sets), make([]float64, sets)
		x.product, x.union = make([]float64, sets), make([]int, sets)
	}
	if len(x.row) < sets*k+k {
		x.row = make([]float64, sets*k+k)
	}
	clear(x.miss[:sets])
}

// steps is what run costs, for the budget: 3^k.
func steps(k int) int64 {
	n := int64(1)
	for range min(k, 39) {
		n *= 3
	}
	return n
}

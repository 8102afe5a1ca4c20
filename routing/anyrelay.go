package routing

import (
	"cmp"
	"math"
	"slices"
)

// TakeOn is who may take a single frame on from a station.
type TakeOn struct {
	Station int
	Channel int     // the channel it is sent on
	By      []int   // in the order of preference
	Cost    float64 // expected transmissions from here to the destination
}

// AnyRelay is what a single frame would need if every station that happens to
// hear it could take it on, with ideal coordination and no acknowledgments: a
// lower bound on transmissions, not a plan.
type AnyRelay struct {
	Transmissions float64  // expected, from the origin
	SingleChain   float64  // the same over the best single chain
	TakeOn        []TakeOn // origin first, then by growing cost
}

// ear is one receiver of a transmission on a channel and the chance that it
// decodes one frame.
type ear struct {
	station int
	decode  float64
}

// hearers[v][c] are those who may decode a frame of station v on channel c.
type hearers [][][]ear

// settled is the state of shortest-anypath-first at one station and channel.
type settled struct {
	by     []int
	miss   float64 // Π (1 − p) over by
	onward float64 // Σ p · Π before (1 − p) · D, not yet divided by 1 − miss
}

// cost is D = (1 + Σ weights·D) / (1 − miss): expected transmissions.
func (s settled) cost() float64 {
	if s.miss >= 1 {
		return math.Inf(1)
	}
	return (1 + s.onward) / (1 - s.miss)
}

// with adds a receiver of cost d at the end of the order.
func (s settled) with(e ear, d float64) settled {
	return settled{
		by:     append(slices.Clone(s.by), e.station),
		miss:   s.miss * (1 - e.decode),
		onward: s.onward + s.miss*e.decode*d,
	}
}

// anypath computes, for every station, the expected transmissions of one frame
// to the destination and the ordered set that may take it on, by
// shortest-anypath-first (R. Laufer, H. Dubois-Ferrière, L. Kleinrock,
// Multirate anypath routing in wireless mesh networks, IEEE INFOCOM 2009,
// 37–45): stations settle in order of cost, and each settled one joins the sets
// it improves; the best set is always a beginning of the neighbours in order of
// cost. Every station sends on the one channel that costs it least. Receptions
// are taken as independent between receivers. O(stations² + links).
func anypath(heard hearers, to int) []TakeOn {
	n := len(heard)
	best := make([]TakeOn, n)
	sets := make([][]settled, n)
	for v := range heard {
		best[v] = TakeOn{Station: v, Channel: -1, Cost: math.Inf(1)}
		sets[v] = make([]settled, len(heard[v]))
		for c := range sets[v] {
			sets[v][c].miss = 1
		}
	}
	best[to].Cost = 0
	done := make([]bool, n)
	for {
		u := cheapest(best, done)
		if u < 0 {
			return best
		}
		done[u] = true
		for v := range heard {
			if !done[v] {
				admit(&best[v], sets[v], heard[v], u, best[u].Cost)
			}
		}
	}
}

// cheapest is the unsettled station of least finite cost, the first of equals;
// −1 when there is none.
func cheapest(best []TakeOn, done []bool) int {
	u := -1
	for v, b := range best {
		if !done[v] && !math.IsInf(b.Cost, 1) && (u < 0 || b.Cost < best[u].Cost) {
			u = v
		}
	}
	return u
}

// admit lets the settled station u of cost d join v's sets where that helps.
func admit(best *TakeOn, sets []settled, heard [][]ear, u int, d float64) {
	for c, ears := range heard {
		i, ok := slices.BinarySearchFunc(ears, u, func(e ear, u int) int { return cmp.Compare(e.station, u) })
		if !ok || ears[i].decode <= 0 || d >= sets[c].cost() {
			continue
		}
		sets[c] = sets[c].with(ears[i], d)
		if cost := sets[c].cost(); cost < best.Cost {
			best.Channel, best.By, best.Cost = c, sets[c].by, cost
		}
	}
}

// singlePath is the least Σ 1/p over chains from one station to another.
func singlePath(heard hearers, from, to int) float64 {
	best := make([]TakeOn, len(heard))
	for v := range best {
		best[v] = TakeOn{Station: v, Cost: math.Inf(1)}
	}
	best[to].Cost = 0
	done := make([]bool, len(heard))
	for u := cheapest(best, done); u >= 0 && u != from; u = cheapest(best, done) {
		done[u] = true
		for v := range heard {
			for _, ears := range heard[v] {
				for _, e := range ears {
					if e.station == u && e.decode > 0 {
						best[v].Cost = min(best[v].Cost, 1/e.decode+best[u].Cost)
					}
				}
			}
		}
	}
	return best[from].Cost
}

// anyRelay is the any-relay figure from one station to another, nil when no
// frame can get there.
func anyRelay(heard hearers, from, to int) *AnyRelay {
	cost := anypath(heard, to)
	if from == to || math.IsInf(cost[from].Cost, 1) {
		return nil
	}
	a := &AnyRelay{Transmissions: cost[from].Cost, SingleChain: singlePath(heard, from, to), TakeOn: []TakeOn{cost[from]}}
	reached := map[int]bool{from: true, to: true}
	for i := 0; i < len(a.TakeOn); i++ {
		for _, v := range a.TakeOn[i].By {
			if !reached[v] {
				reached[v] = true
				a.TakeOn = append(a.TakeOn, cost[v])
			}
		}
	}
	slices.SortStableFunc(a.TakeOn[1:], func(x, y TakeOn) int {
		return cmp.Or(cmp.Compare(x.Cost, y.Cost), cmp.Compare(x.Station, y.Station))
	})
	return a
}

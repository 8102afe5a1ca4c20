package routing

import (
	"cmp"
	"math"
	"slices"
)

// leastChance is the chance below which a chain does not count as one.
const leastChance = 1e-9

// never is the key of a time or an airtime that is not reached.
const never = math.MaxInt32

// key is what chains are compared by: rounded figures, then the chain itself.
// Stations are in order of call sign because the net's indexes are.
type key struct {
	chance             int // tenths of a point
	time               int // slots until half of all tries have arrived, or never
	air                int // frames keyed for a delivered message, or never
	hops               int
	stations, channels []int
}

// tenths rounds a chance to tenths of a point.
func tenths(chance float64) int { return int(math.Round(chance * 1000)) }

// perDelivery is airtime in frames for a delivered message, rounded.
func perDelivery(frames, chance float64) int {
	if chance <= 0 || frames/chance > never-1 {
		return never
	}
	return int(math.Round(frames / chance))
}

// compare puts the better chain first. A chain that is not finished yet may be
// given by its first stations and channels and the best figures it could reach;
// it then compares no later than what it can become.
func (o Order) compare(a, b key) int {
	return cmp.Or(o.compareFigures(a, b), cmp.Compare(a.hops, b.hops),
		slices.Compare(a.stations, b.stations), slices.Compare(a.channels, b.channels))
}

func (o Order) compareFigures(a, b key) int {
	switch o {
	case Soonest:
		return cmp.Compare(a.time, b.time)
	case Lightest:
		return cmp.Compare(a.air, b.air)
	default:
		return cmp.Or(cmp.Compare(b.chance, a.chance), cmp.Compare(a.time, b.time))
	}
}

// beats reports whether a is as good as b in chance, time and airtime for a
// delivered message, and better in one.
func (a key) beats(b key) bool {
	return a.chance >= b.chance && a.time <= b.time && a.air <= b.air &&
		(a.chance > b.chance || a.time < b.time || a.air < b.air)
}

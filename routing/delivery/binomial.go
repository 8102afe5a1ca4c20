package delivery

import "math"

// Chances below these are left out of the tables. They are far under the 1e-9
// to which probability is conserved, and their sums stay under 1e-12.
const (
	leastState = 1e-19 // one state of a table of states
	leastShare = 1e-15 // one entry of a distribution
	leastTail  = 1e-38 // one entry of a binomial distribution
)

// binomial holds the distributions of the number of frames still missing after
// o frames were sent, for o = 0…n, each frame being missed with the same chance.
type binomial struct {
	lo   []int       // smallest count with a chance worth keeping, by o
	rows [][]float64 // chances of lo[o], lo[o]+1, …
	buf  []float64
}

// set fills the table for up to n frames that each decode with chance hit, and
// are missed with chance miss = 1 − hit. O(n × width of the distribution).
func (b *binomial) set(n int, hit, miss float64) {
	// No row is wider than 27 deviations, of √n/2 at most.
	width := min((n+2)/2+1, 14*int(math.Sqrt(float64(n)))+30)
	if need := (n + 1) * width; cap(b.buf) < need {
		b.buf = make([]float64, need)
	}
	if cap(b.lo) < n+1 {
		b.lo = make([]int, n+1)
		b.rows = make([][]float64, n+1)
	}
	b.lo, b.rows = b.lo[:n+1], b.rows[:n+1]
	b.lo[0], b.rows[0] = 0, b.buf[:1]
	b.rows[0][0] = 1
	used := 1
	for o := 1; o <= n; o++ {
		prev := b.rows[o-1]
		row := b.buf[used : used+len(prev)+1]
		row[0] = prev[0] * hit
		for x := 1; x < len(prev); x++ {
			row[x] = prev[x]*hit + prev[x-1]*miss
		}
		row[len(prev)] = prev[len(prev)-1] * miss
		lo := b.lo[o-1]
		for len(row) > 1 && row[0] < leastTail {
			row = row[1:]
			lo++
		}
		for len(row) > 1 && row[len(row)-1] < leastTail {
			row = row[:len(row)-1]
		}
		b.lo[o], b.rows[o] = lo, row
		used += len(prev) + 1
	}
}

// at returns the chance that x of o frames are missed.
func (b *binomial) at(o, x int) float64 {
	if x -= b.lo[o]; x < 0 || x >= len(b.rows[o]) {
		return 0
	}
	return b.rows[o][x]
}

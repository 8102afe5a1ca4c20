package delivery

import (
	"math"
	"math/bits"
)

// Counting over subsets of rounds takes 2^rounds polynomials.
const (
	countRounds = 10
	countNoise  = 1e-13 // rounding, as a share of the ways to decode within the rounds, polls aside
)

// count fills the table of histories by counting.
//
// F(J, S), the ways to decode n frames in the fill rounds J with S sent, is the
// coefficient of x^S in (Σ x^t, t in J)ⁿ. By inclusion and exclusion the ways
// that use all of J are Σ (−1)^|J∖I| F(I, S) over the subsets I, and summing over
// all J of k − z of the rounds 1…k, with k among them, leaves for I of j rounds
// the factor (−1)^(k−z−j) times the number of ways to choose the z empty rounds
// outside I and other than k.
func (h *histories) count(sums int) *ways {
	n, rounds := h.frames, h.rounds
	poly := newPowers(n, rounds, sums)
	// sum[k][j] is ΣF over the subsets of j rounds with last round k, and
	// below[j] that over those with a last round before k.
	sum, below := make([][]float64, rounds+1), make([][]float64, rounds+1)
	table := newWays(rounds, sums, false)
	for j := range sum {
		sum[j], below[j] = make([]float64, sums), make([]float64, sums)
	}
	for k := 1; k <= rounds; k++ {
		for j := range sum {
			clear(sum[j])
		}
		for mask := uint(1) << (k - 1); mask < 1<<k; mask++ {
			poly.add(mask, sum[bits.OnesCount(mask)])
		}
		for z := 0; z < k && z+k <= rounds; z++ {
			table.by[z][k] = chosen(k, z, sum, below, sums)
		}
		for j := range sum {
			addScaled(below[j], 1, sum[j])
		}
	}
	h.logN = make([]float64, sums)
	for i := range h.logN {
		table.floor(i, countNoise*sum[rounds][i])
		total := table.total(i)
		h.logN[i] = math.Log(total) + float64(poly.base[i])*scaleLog
		for _, row := range table.by {
			for _, of := range row {
				if of != nil && total > 0 {
					of[i] /= total
				}
			}
		}
	}
	return table
}

// chosen is the inclusion and exclusion for one (k, z).
func chosen(k, z int, sum, below [][]float64, sums int) []float64 {
	of := make([]float64, sums)
	for j := 1; j <= k; j++ {
		sign := 1.0
		if (k-z-j)%2 != 0 {
			sign = -1
		}
		addScaled(of, sign*choose(k-j, z), sum[j])
		addScaled(of, sign*choose(k-j-1, z), below[j])
	}
	return of
}

// floor takes what is too small to be told from rounding for none.
func (w *ways) floor(i int, least float64) {
	for _, row := range w.by {
		for _, of := range row {
			if of != nil && of[i] < least {
				of[i] = 0
			}
		}
	}
}

// choose is the binomial coefficient, 0 where none can be chosen.
func choose(n, k int) float64 {
	if k < 0 || k > n {
		return 0
	}
	c := 1.0
	for i := range k {
		c = c * float64(n-i) / float64(i+1)
	}
	return math.Round(c)
}

// powers computes the n-th powers of sums of x^t. Coefficients reach far beyond
// what a float64 holds, so each has a scale: it stands for c·2^(scaleBits·scale).
type powers struct {
	n, sums  int
	inverse  []float64
	up, down scaled
	base     []int32 // scales of the coefficients for all rounds, which none exceeds
	plain    bool    // they are all 0
}

type scaled struct {
	c     []float64
	scale []int32
}

const (
	scaleBits = 500
	scaleLog  = scaleBits * math.Ln2
	scaleUp   = 0x1p500
)

func newPowers(n, rounds, sums int) *powers {
	p := &powers{n: n, sums: sums, base: make([]int32, sums)}
	degree := n*(rounds-1) + 1
	p.inverse = make([]float64, degree)
	for i := 1; i < degree; i++ {
		p.inverse[i] = 1 / float64(i)
	}
	p.up = scaled{make([]float64, degree), make([]int32, degree)}
	p.down = scaled{make([]float64, degree), make([]int32, degree)}
	p.visit(1<<rounds-1, func(i int, _ float64, scale int32) { p.base[i] = scale })
	p.plain = true
	for _, scale := range p.base {
		p.plain = p.plain && scale == 0
	}
	return p
}

// add adds the coefficients of (Σ x^t, bit t−1 of mask set)ⁿ to dst, in which
// entry i is for x^(n+i) and has the scale base[i].
func (p *powers) add(mask uint, dst []float64) {
	if p.plain {
		p.visit(mask, func(i int, c float64, _ int32) { dst[i] += c })
		return
	}
	p.visit(mask, func(i int, c float64, scale int32) {
		switch p.base[i] - scale {
		case 0:
			dst[i] += c
		case 1:
			dst[i] += c / scaleUp
		}
	})
}

// visit shows the coefficients one by one.
//
// c of P(x)ⁿ follows from P·(Pⁿ)′ = n·P′·Pⁿ: with P = 1 + Σ x^d,
// s·c_s = Σ (d(n+1) − s) c_(s−d). That loses all digits once the coefficients
// fall, so it is run from either end up to where they are largest.
func (p *powers) visit(mask uint, show func(i int, c float64, scale int32)) {
	lowest := bits.TrailingZeros(mask)
	high := bits.Len(mask) - 1
	degree := p.n * (high - lowest)
	mean := 0
	for t := lowest; t <= high; t++ {
		mean += (t - lowest) * int(mask>>t&1)
	}
	peak := p.n * mean / bits.OnesCount(mask)
	from := p.n * lowest
	if from >= p.sums {
		return
	}
	rise := min(peak, p.sums-1-from)
	p.run(&p.up, mask>>lowest, rise)
	for i := range rise + 1 {
		show(from+i, p.up.c[i], p.up.scale[i])
	}
	if from+peak+1 >= p.sums || peak == degree {
		return
	}
	p.run(&p.down, bits.Reverse(mask)>>(bits.UintSize-1-high), degree-peak-1)
	for at := from + peak + 1; at < min(p.sums, from+degree+1); at++ {
		i := from + degree - at
		show(at, p.down.c[i], p.down.scale[i])
	}
}

// run computes coefficients 0…last of P(x)ⁿ, P having bit d of shape for x^d.
func (p *powers) run(to *scaled, shape uint, last int) {
	var gaps [countRounds]int
	k, widest := 0, 0
	for d := 1; shape>>d != 0; d++ {
		if shape>>d&1 != 0 {
			gaps[k] = d
			k++
			widest = d
		}
	}
	c, scale := to.c, int32(0)
	c[0], to.scale[0] = 1, 0
	up := float64(p.n + 1)
	for s := 1; s <= last; s++ {
		v, fs := 0.0, float64(s)
		for _, d := range gaps[:k] {
			if d > s {
				break
			}
			v += (float64(d)*up - fs) * c[s-d]
		}
		c[s], to.scale[s] = v*p.inverse[s], scale
		if c[s] > scaleUp {
			scale++
			for i := max(0, s-widest); i <= s; i++ {
				c[i] /= scaleUp
				to.scale[i] = scale
			}
		}
	}
}

package cut

import (
	"context"
	"math"
	"math/bits"
	"math/rand/v2"
	"sync"

	"farhop/mesh/link"
	"farhop/mesh/workers"
)

// sampleChunk samples come from one stream of random numbers, so that the
// result does not depend on who draws which.
const sampleChunk = 500

// sample estimates reach for the pairs with the numbers which from draws of the
// net-wide deviation and of every link, the same draws for all pairs, with
// Wilson's interval. The streams are PCG with the seed and the chunk's number.
func (c *chances) sample(ctx context.Context, pairs []Pair, which []int, samples int, seed uint64) error {
	targets := make([][]int, c.n)
	for _, i := range which {
		targets[pairs[i].From] = append(targets[pairs[i].From], i)
	}
	hits := make([]int, len(pairs))
	var lock sync.Mutex
	err := workers.Run(ctx, (samples+sampleChunk-1)/sampleChunk, func() (func(int), func()) {
		d := newDrawer(c)
		mine := make([]int, len(pairs))
		work := func(chunk int) {
			rng := rand.New(rand.NewPCG(seed, uint64(chunk)))
			for range min(sampleChunk, samples-chunk*sampleChunk) {
				d.draw(rng)
				for s, list := range targets {
					if len(list) == 0 {
						continue
					}
					d.flood(int32(s))
					for _, i := range list {
						if d.reached(int32(pairs[i].To)) {
							mine[i]++
						}
					}
				}
			}
		}
		return work, func() {
			lock.Lock()
			defer lock.Unlock()
			for i, k := range mine {
				hits[i] += k
			}
		}
	})
	for _, i := range which {
		p := &pairs[i]
		p.Reach = float64(hits[i]) / float64(samples)
		p.Low, p.High = wilson(hits[i], samples)
	}
	return err
}

// wilson returns the 95 % interval of a share of which hits of samples were
// seen. E. B. Wilson, Probable inference, the law of succession, and statistical
// inference, J. Amer. Statist. Assoc. 22 (1927) 209–212.
func wilson(hits, samples int) (low, high float64) {
	const z = 1.959963984540054 // Φ(z) = 0.975
	n, p := float64(samples), float64(hits)/float64(samples)
	middle := (p + z*z/(2*n)) / (1 + z*z/n)
	half := z / (1 + z*z/n) * math.Sqrt(p*(1-p)/n+z*z/(4*n*n))
	low, high = max(middle-half, 0), min(middle+half, 1)
	if hits == 0 {
		low = 0
	}
	if hits == samples {
		high = 1
	}
	return low, high
}

// coin is one direction as the drawer needs it: open with the chance p when
// certain, else when margin + common·η + own·ζ ≥ 0 for a normal ζ of its own.
type coin struct {
	arc                 int32
	certain             bool
	p                   float64
	margin, common, own float64
}

// drawer draws which links are open and finds who is reached over them.
type drawer struct {
	*chances
	coins []coin
	state []bool // open, by arc
	near  []uint64
	words int
	seen  []uint64
	queue []int32
}

func newDrawer(c *chances) *drawer {
	d := &drawer{chances: c, state: make([]bool, len(c.head)), words: (c.n + 63) / 64}
	d.near, d.seen = make([]uint64, c.n), make([]uint64, d.words)
	for e, ways := range c.ways {
		for _, w := range ways {
			k := coin{arc: int32(e), certain: w.Kind == link.Certain, p: w.Decode}
			if !k.certain {
				k.margin, k.common = w.Margin, w.Common
				k.own = math.Sqrt(max((w.SD-w.Common)*(w.SD+w.Common), 0))
			}
			d.coins = append(d.coins, k)
		}
	}
	return d
}

// draw decides for every link whether it is open.
func (d *drawer) draw(rng *rand.Rand) {
	clear(d.state)
	eta := rng.NormFloat64()
	for i := range d.coins {
		k := &d.coins[i]
		open := false
		if k.certain {
			open = k.p == 1 || rng.Float64() < k.p
		} else {
			x := k.margin + k.common*eta
			if k.own > 0 {
				x += k.own * rng.NormFloat64()
			}
			open = x >= 0
		}
		d.state[k.arc] = d.state[k.arc] || open
	}
	if d.words == 1 {
		clear(d.near)
		for e, open := range d.state {
			if open {
				d.near[d.tail[e]] |= 1 << d.head[e]
			}
		}
	}
}

// flood finds whom s reaches over the open links.
func (d *drawer) flood(s int32) {
	if d.words == 1 {
		seen := uint64(1) << s
		for edge := seen; edge != 0; {
			v := bits.TrailingZeros64(edge)
			edge &= edge - 1
			more := d.near[v] &^ seen
			seen |= more
			edge |= more
		}
		d.seen[0] = seen
		return
	}
	clear(d.seen)
	d.seen[s/64] |= 1 << (s % 64)
	d.queue = append(d.queue[:0], s)
	for i := 0; i < len(d.queue); i++ {
		v := d.queue[i]
		for e := d.first[v]; e < d.first[v+1]; e++ {
			if y := d.head[e]; d.state[e] && d.seen[y/64]>>(y%64)&1 == 0 {
				d.seen[y/64] |= 1 << (y % 64)
				d.queue = append(d.queue, y)
			}
		}
	}
}

// reached reports whether the last flood came to v.
func (d *drawer) reached(v int32) bool { return d.seen[v/64]>>(v%64)&1 != 0 }

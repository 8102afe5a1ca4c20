package reinforce

import (
	"math/bits"

	"gonum.org/v1/gonum/stat/distuv"

	"farhop/mesh/link"
)

// strata is into how many parts of equal chance the net-wide deviate is cut; the
// middle of each stands for it in an equal share of the draws. Where all of a chance
// hangs on that deviate, reach is off by half a part at most.
const strata = 64

// sampler draws which links are open. A link's draws depend on the seed and its
// own ends and band only, so that two nets which differ by one change differ in
// nothing else: the gain is seen without the noise of the rest.
type sampler struct {
	seed    uint64
	samples int // a multiple of 64
	eta     [strata]float64
}

func newSampler(seed uint64, samples int) *sampler {
	s := &sampler{seed: seed, samples: (samples + 63) / 64 * 64}
	for i := range s.eta {
		s.eta[i] = distuv.UnitNormal.Quantile((float64(i) + 0.5) / strata)
	}
	return s
}

// words is how many words the draws of one link take.
func (s *sampler) words() int { return s.samples / 64 }

// way is one direction on one band, as far as draws care.
type way struct {
	band int
	link.Direction
}

// draw returns the draws in which at least one of the ways from one station to
// another is open, a bit each; nil when there are none.
func (s *sampler) draw(from, to int, ways []way) []uint64 {
	var open []uint64
	for _, w := range ways {
		var chance [strata]uint64
		any := false
		for i, eta := range s.eta {
			chance[i] = fraction(w.Open(eta))
			any = any || chance[i] > 0
		}
		if !any {
			continue
		}
		if open == nil {
			open = make([]uint64, s.words())
		}
		stream := hash(s.seed, uint64(from), uint64(to), uint64(w.band))
		for k := range s.samples {
			c := chance[k*strata/s.samples]
			if c > 0 && mix(stream+uint64(k)*golden) < c {
				open[k/64] |= 1 << (k % 64)
			}
		}
	}
	return open
}

// fraction scales a chance to the range of a random word; certainty keeps one
// value in 2⁶⁴ out.
func fraction(p float64) uint64 {
	switch {
	case p <= 1e-12:
		return 0
	case p >= 1-1e-12:
		return ^uint64(0)
	}
	return uint64(p * (1 << 32) * (1 << 32))
}

// golden is the step of the counter-based generator: 2⁶⁴ divided by the golden
// ratio, odd. mix is its finisher; both after G. Steele, D. Lea, C. Flood, Fast
// splittable pseudorandom number generators, OOPSLA 2014, 453–472 (from memory).
const golden = 0x9e3779b97f4a7c15

func mix(z uint64) uint64 {
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// hash makes one word of several.
func hash(words ...uint64) uint64 {
	h := uint64(golden)
	for _, w := range words {
		h = mix(h + golden ^ mix(w+golden))
	}
	return h
}

// normal is the standard normal deviate that belongs to the words.
func normal(words ...uint64) float64 {
	u := (float64(hash(words...)>>11) + 0.5) / (1 << 53)
	return distuv.UnitNormal.Quantile(u)
}

// arc is a link of the sampled net with its draws.
type arc struct {
	to   int
	open []uint64
}

// flood returns, for every station, the draws in which the source reaches it.
// All draws are followed at once, a word at a time.
func flood(source int, out [][]arc, words int, reach []uint64) []uint64 {
	n := len(out)
	if cap(reach) < n*words {
		reach = make([]uint64, n*words)
	}
	reach = reach[:n*words]
	clear(reach)
	for w := range words {
		reach[source*words+w] = ^uint64(0)
	}
	queued := make([]bool, n)
	queue := []int{source}
	for len(queue) > 0 {
		v := queue[0]
		queue, queued[v] = queue[1:], false
		here := reach[v*words : (v+1)*words]
		for _, a := range out[v] {
			there, grew := reach[a.to*words:(a.to+1)*words], uint64(0)
			for w, o := range a.open {
				more := here[w] & o &^ there[w]
				there[w] |= more
				grew |= more
			}
			if grew != 0 && !queued[a.to] {
				queued[a.to] = true
				queue = append(queue, a.to)
			}
		}
	}
	return reach
}

func countBits(words []uint64) int {
	n := 0
	for _, w := range words {
		n += bits.OnesCount64(w)
	}
	return n
}

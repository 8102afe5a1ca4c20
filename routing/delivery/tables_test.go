package delivery

import (
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"testing"
	"time"
)

// Counting over subsets of rounds and playing the rounds are independent ways
// to the same numbers.
func TestHistoriesTwoWays(t *testing.T) {
	for _, c := range [][2]int{{1, 1}, {1, 2}, {1, 9}, {2, 3}, {9, 6}, {40, 8}, {30, 10}, {120, 5}, {260, 4}} {
		frames, rounds := c[0], c[1]
		t.Run(fmt.Sprint(c), func(t *testing.T) {
			a := newHistories(frames, rounds, false)
			b := &histories{frames: frames, rounds: rounds}
			b.trim(b.tilted(usefulSums(frames, rounds), false))
			if len(a.logN) != len(b.logN) {
				t.Fatalf("%d and %d sums", len(a.logN), len(b.logN))
			}
			of := map[[3]int]float64{}
			for _, s := range b.shares {
				for i, v := range s.of {
					of[[3]int{s.fills, s.empty, s.lo + i}] = v
				}
			}
			for _, s := range a.shares {
				for i, v := range s.of {
					key := [3]int{s.fills, s.empty, s.lo + i}
					near(t, fmt.Sprint(key), v, of[key], 1e-11)
					delete(of, key)
				}
			}
			for key, v := range of {
				near(t, fmt.Sprint(key), 0, v, 1e-11)
			}
			for i := range a.logN {
				near(t, fmt.Sprint("ways ", i), a.logN[i], b.logN[i], 1e-11*max(1, math.Abs(a.logN[i])))
			}
		})
	}
}

// The coefficients of (x^a + x^b + …)ⁿ against whole numbers.
func TestPowersAgainstWholeNumbers(t *testing.T) {
	for _, c := range [][2]int{{40, 8}, {300, 4}} {
		frames, rounds := c[0], c[1]
		sums := frames*(rounds-1) + 1
		p := newPowers(frames, rounds, sums)
		if c[0] == 300 && p.plain {
			t.Fatal("nothing to scale")
		}
		for _, mask := range []uint{0b11111111, 0b10000001, 0b10010110, 0b1, 0b100, 0b1011} {
			if mask &= 1<<rounds - 1; mask == 0 {
				continue
			}
			got := make([]float64, sums)
			p.add(mask, got)
			for i, want := range exactPowers(mask, frames, rounds) {
				f := new(big.Float).SetInt(want)
				scaled, _ := f.SetMantExp(f, -scaleBits*int(p.base[i])).Float64()
				near(t, fmt.Sprintf("%b: %d", mask, i), got[i], scaled, 1e-12*scaled+1e-150)
			}
		}
	}
}

func exactPowers(mask uint, frames, rounds int) []*big.Int {
	c := []*big.Int{big.NewInt(1)}
	for range frames {
		next := make([]*big.Int, len(c)+rounds-1)
		for i := range next {
			next[i] = new(big.Int)
		}
		for i, v := range c {
			for t := range rounds {
				if mask>>t&1 != 0 {
					next[i+t].Add(next[i+t], v)
				}
			}
		}
		c = next
	}
	return c
}

func TestBusySlots(t *testing.T) {
	table := busyTable{share: 0.3}
	for _, n := range []int{0, 1, 5, 40} {
		r := table.row(n)
		sum, mean := 0.0, 0.0
		for i, v := range r.of {
			m := r.first + i
			want := 0.0
			if m >= n && n > 0 {
				a, _ := math.Lgamma(float64(m))
				b, _ := math.Lgamma(float64(n))
				c, _ := math.Lgamma(float64(m - n + 1))
				want = math.Exp(a - b - c + float64(n)*math.Log(0.7) + float64(m-n)*math.Log(0.3))
			} else if m == n {
				want = 1
			}
			near(t, fmt.Sprintf("%d usable in %d", n, m), v, want, 1e-13)
			sum += v
			mean += v * float64(m)
		}
		near(t, "sum", sum, 1, 1e-13)
		near(t, "mean", mean, float64(n)/0.7, 1e-9)
	}
}

func TestKernels(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	fill := func(n int) []float64 {
		s := make([]float64, n)
		for i := range s {
			s[i] = rng.Float64()
		}
		return s
	}
	for n := range 12 {
		for m := range 12 {
			a, b := fill(n), fill(m)
			dst := fill(n + m + 2)
			want := append([]float64(nil), dst...)
			for i, x := range a {
				for j, y := range b {
					want[i+j] += x * y
				}
			}
			for short := range n + m + 2 { // what falls beyond the end is left out
				part := fill(short)
				beyond := append([]float64(nil), part...)
				addConvolved(part, a, b)
				for i := range part {
					near(t, fmt.Sprint("convolution ", n, m, " of ", short), part[i], beyond[i]+want[i]-dst[i], 1e-14)
				}
			}
			addConvolved(dst, a, b)
			matrix, sum := fill(n*m), fill(m)
			rows := append([]float64(nil), sum...)
			for i, x := range a {
				for j := range rows {
					rows[j] += x * matrix[i*m+j]
				}
			}
			addRows(sum, a, matrix, m)
			for i := range dst {
				near(t, fmt.Sprint("convolution ", n, m), dst[i], want[i], 1e-14)
			}
			for i := range sum {
				near(t, fmt.Sprint("rows ", n, m), sum[i], rows[i], 1e-14)
			}
		}
	}
}

// Powers by squaring against one convolution after the other.
func TestRaise(t *testing.T) {
	of := []float64{0, 0.25, 0.5, 0, 0.2}
	for n := range 9 {
		var w bench
		first, got := w.raise(3, of, n)
		want := []float64{1}
		for range n {
			want = convolve(nil, want, of)
		}
		for i, v := range want {
			at, g := i+3*n-first, 0.0
			if at >= 0 && at < len(got) {
				g = got[at]
			}
			near(t, fmt.Sprint(n, " times, ", i), g, v, 1e-15)
		}
	}
}

func TestPlanCheck(t *testing.T) {
	good := Plan{Protocol: Protocol{Frames: 1, Rounds: 1}, Slot: slot}
	if err := good.Check(); err != nil {
		t.Fatal(err)
	}
	for what, change := range map[string]func(*Plan){
		"frames": func(p *Plan) { p.Protocol.Frames = 0 }, "ack": func(p *Plan) { p.Protocol.Ack = -1 },
		"turnaround": func(p *Plan) { p.Protocol.Turnaround = -1 }, "rounds": func(p *Plan) { p.Protocol.Rounds = 0 },
		"block": func(p *Plan) { p.Protocol.Block = -1 }, "busy": func(p *Plan) { p.Protocol.Busy = 1 },
		"busy unknown": func(p *Plan) { p.Protocol.Busy = math.NaN() }, "slot": func(p *Plan) { p.Slot = 0 },
		"offset": func(p *Plan) { p.Offset = -1 }, "deadline": func(p *Plan) { p.Deadline = -1 },
		"endless": func(p *Plan) { p.Deadline = 1e7 * slot }, "many frames": func(p *Plan) { p.Protocol.Frames = 1e6 },
		"many rounds": func(p *Plan) { p.Protocol.Rounds = 1e6 }, "pause": func(p *Plan) { p.Protocol.Turnaround = 1e6 },
		"common": func(p *Plan) { p.Common = 2 },
	} {
		bad := good
		change(&bad)
		if _, err := NewEvaluator(bad); err == nil {
			t.Errorf("%s: no error", what)
		}
	}
}

// A slot counts if it ends by the deadline; quarters count from the start.
func TestClock(t *testing.T) {
	e, ids := evaluator(t, Plan{Protocol: Protocol{Frames: 1, Rounds: 1}, Slot: slot, Offset: 30 * time.Second, Deadline: 30*time.Second + 10*slot}, fixedLeg(1, 1))
	if e.Slots() != 10 || e.After(9) != 30*time.Second+10*slot {
		t.Errorf("%d slots, the tenth ends after %v", e.Slots(), e.After(9))
	}
	for at, want := range map[int]int{0: 0, 21: 0, 22: 1, 44: 1, 45: 2} {
		if got := e.Quarter(at); got != want {
			t.Errorf("slot %d in quarter %d, want %d", at, got, want)
		}
	}
	for start, want := range map[int]float64{9: 1, 10: 0} {
		near(t, fmt.Sprint("from slot ", start), e.ChainFrom(e.StartAt(start), ids[0]).Chance(), want, 0)
	}
}

package delivery

import (
	"fmt"
	"math"
	"math/bits"
	"testing"
)

// fates plays an exchange by listing every outcome of every frame: which of the
// missing frames decode, whether an acknowledgment is read, whether a poll is
// heard. It holds sums by slot and nothing of the package's tables.
type fates struct {
	pr         Protocol
	p, q       float64
	blocks     []int
	has        map[int]float64
	read       map[int]float64
	lost       map[int]float64
	sent       float64 // until the receiver has all, or the rounds end
	answers    float64
	sentLast   float64 // the same when the sender goes on until it has read
	answerLast float64
}

func newFates(pr Protocol, p, q float64) *fates {
	f := &fates{pr: pr, p: p, q: q, has: map[int]float64{}, read: map[int]float64{}, lost: map[int]float64{}}
	for left, size := pr.Frames, pr.Block; left > 0; left -= size {
		if size == 0 || size > left {
			size = left
		}
		f.blocks = append(f.blocks, size)
	}
	f.fill(0, 1, 1<<f.blocks[0]-1, 0, 1)
	return f
}

// fill sends the missing frames of block b in a round; used slots have passed.
func (f *fates) fill(b, round int, missing uint, used int, chance float64) {
	n := bits.OnesCount(missing)
	f.count(chance*float64(n), 0)
	var frames []uint
	for m := missing; m != 0; m &= m - 1 {
		frames = append(frames, m&-m)
	}
	for set := range 1 << n {
		c := chance
		left := missing
		for i, bit := range frames {
			if set>>i&1 != 0 {
				c *= f.p
				left &^= bit
			} else {
				c *= 1 - f.p
			}
		}
		end := used + n
		if set == 0 {
			f.poll(b, round+1, left, end+f.gap(), c, false)
			continue
		}
		f.count(0, c*float64(f.pr.Ack))
		had := left == 0
		if had && b == len(f.blocks)-1 {
			f.has[end] += c
		}
		f.answer(b, round, left, end, c)
	}
}

func (f *fates) gap() int { return 2*f.pr.Turnaround + f.pr.Ack }

// answer goes both ways about an acknowledgment sent after the given slot.
func (f *fates) answer(b, round int, left uint, end int, c float64) {
	had, last := left == 0, b == len(f.blocks)-1
	after := end + f.gap()
	switch {
	case !had:
		if round < f.pr.Rounds {
			f.fill(b, round+1, left, after, c*f.q)
		} else {
			f.lost[after] += c * f.q
		}
	case last:
		f.read[end+f.pr.Turnaround+f.pr.Ack] += c * f.q
	default:
		f.fill(b+1, 1, 1<<f.blocks[b+1]-1, after, c*f.q)
	}
	f.poll(b, round+1, left, after, c*(1-f.q), had)
}

// poll asks again, in a round, if there is one.
func (f *fates) poll(b, round int, left uint, used int, c float64, had bool) {
	last := b == len(f.blocks)-1
	if round > f.pr.Rounds {
		if !had || !last {
			f.lost[used] += c
		}
		return
	}
	f.countPoll(c, had && last, 1, 0)
	f.poll(b, round+1, left, used+1+f.gap(), c*(1-f.p), had)
	f.countPoll(c*f.p, had && last, 0, float64(f.pr.Ack))
	f.answer(b, round, left, used+1, c*f.p)
}

func (f *fates) count(sent, answers float64) {
	f.sent += sent
	f.answers += answers
	f.sentLast += sent
	f.answerLast += answers
}

func (f *fates) countPoll(c float64, after bool, sent, answers float64) {
	f.sentLast += c * sent
	f.answerLast += c * answers
	if !after {
		f.sent += c * sent
		f.answers += c * answers
	}
}

func sameTimes(t *testing.T, what string, first int, of []float64, want map[int]float64) {
	t.Helper()
	for i, v := range of {
		if math.Abs(v-want[first+i]) > 1e-12 {
			t.Errorf("%s: %d slots: got %.15g, want %.15g", what, first+i, v, want[first+i])
		}
	}
	for n, v := range want {
		if v > 1e-12 && (n < first || n >= first+len(of)) {
			t.Errorf("%s: %d slots: missing, want %g", what, n, v)
		}
	}
}

func TestExchangeAgainstEveryOutcome(t *testing.T) {
	for _, pr := range []Protocol{
		{Frames: 1, Ack: 1, Turnaround: 1, Rounds: 5},
		{Frames: 2, Ack: 0, Turnaround: 0, Rounds: 4},
		{Frames: 2, Ack: 2, Turnaround: 1, Rounds: 1},
		{Frames: 3, Ack: 1, Turnaround: 2, Rounds: 4},
		{Frames: 4, Ack: 1, Turnaround: 0, Rounds: 3},
		{Frames: 3, Ack: 1, Turnaround: 1, Rounds: 3, Block: 2},
		{Frames: 3, Ack: 1, Turnaround: 0, Rounds: 2, Block: 1},
		{Frames: 4, Ack: 2, Turnaround: 1, Rounds: 2, Block: 2},
	} {
		for _, c := range [][2]float64{{0.3, 0.6}, {0.9, 0.2}, {0.5, 1}, {1, 0.5}, {0.7, 0}, {0, 0.5}, {0.08, 0.9}} {
			p, read := c[0], math.Pow(c[1], float64(pr.Ack))
			t.Run(fmt.Sprint(pr, c), func(t *testing.T) {
				want := newFates(pr, p, read)
				b := newBlocks(&pr, false)
				var w bench
				for k, times := range map[kind]map[int]float64{kindDone: want.has, kindRead: want.read, kindLost: want.lost} {
					b.set(&w, p, 1-p, k)
					first, of := b.answer(&w, read, k)
					sameTimes(t, fmt.Sprint("kind ", k), first, of, times)
					if k == kindLost {
						continue // figures belong to the other kinds
					}
					o, ack := w.now, float64(pr.Ack)
					near(t, "fails", o.fail, 1-totalOf(want.has), 1e-12)
					near(t, "sent", o.sent, want.sent, 1e-12)
					near(t, "answers", o.answers*ack, want.answers, 1e-12)
					near(t, "sent with polls", o.sent+o.after, want.sentLast, 1e-12)
					near(t, "answers with polls", (o.answers+o.after*p)*ack, want.answerLast, 1e-12)
				}
			})
		}
	}
}

func totalOf(by map[int]float64) (sum float64) {
	for _, v := range by {
		sum += v
	}
	return sum
}

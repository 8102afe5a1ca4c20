package delivery

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"
)

// number reads 0.5 or 1/2.
func number(t *testing.T, s string) float64 {
	t.Helper()
	top, bottom, over := strings.Cut(s, "/")
	a, err := strconv.ParseFloat(top, 64)
	if err != nil {
		t.Fatal(err)
	}
	if !over {
		return a
	}
	b, err := strconv.ParseFloat(bottom, 64)
	if err != nil {
		t.Fatal(err)
	}
	return a / b
}

// enough is the number of rounds after which n frames are there but for 1e-12.
func enough(n, p float64) int {
	if p == 1 {
		return 1
	}
	return int(math.Log(1e-12/n)/math.Log(1-p)) + 1
}

// When the sender always knows what is missing and there are no other slots than
// those of frames, the mean number of rounds is the expected maximum of n
// geometric variables (B. Eisenberg, Statistics & Probability Letters 78 (2008)
// 135–143), and the mean number of slots is n/p.
func TestRoundsAreTheMaximumOfGeometrics(t *testing.T) {
	f, err := os.Open("testdata/max_geometric.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 5 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for _, row := range rows[1:] {
		t.Run(fmt.Sprint(row), func(t *testing.T) {
			n, p, want := number(t, row[0]), number(t, row[1]), number(t, row[2])
			pr := Protocol{Frames: int(n), Rounds: enough(n, p)}
			b := newBlocks(&pr, true)
			var w bench
			b.set(&w, p, 1-p, kindRead)
			first, of := b.answer(&w, 1, kindRead) // with A = G = 0 and q = 1 just when the receiver has it
			rounds, slots := 0.0, 0.0
			for k := 1; k <= pr.Rounds; k++ {
				rounds += float64(k) * total(w.now.byRound[k*w.now.span:][:w.now.span])
			}
			for i, v := range of {
				slots += float64(first+i) * v
			}
			near(t, "rounds", rounds, want, 1e-8)
			near(t, "slots", slots, n/p, 1e-8)
			near(t, "frames", w.now.sent, n/p, 1e-8)
		})
	}
}

// With polls, acknowledgments that are always read and take no slot, one frame
// takes 1/p² slots: a frame that does not decode is followed by polls, 1/p of
// them, until one does, and then by the frame again.
func TestOneFrameWithPolls(t *testing.T) {
	for _, p := range []float64{0.4, 0.5, 0.9, 1} {
		pr := Protocol{Frames: 1, Rounds: 2 + 5*enough(1, p)}
		b := newBlocks(&pr, false)
		var w bench
		b.set(&w, p, 1-p, kindDone)
		first, of := b.answer(&w, 1, kindDone)
		slots := 0.0
		for i, v := range of {
			slots += float64(first+i) * v
		}
		near(t, fmt.Sprint("slots at ", p), slots, 1/(p*p), 1e-8)
	}
}

// On a last hop a single frame keys 1/(p²q) frames at the sender until the
// acknowledgment is read, when rounds are unlimited. The expected transmission
// count of a link, 1/(pq), is a lower bound (D. S. J. De Couto, D. Aguayo,
// J. Bicket, R. Morris, A high-throughput path metric for multi-hop wireless
// routing, MobiCom 2003): there a lost frame is sent again at once.
func TestFramesUntilRead(t *testing.T) {
	for _, c := range [][2]float64{{0.9, 0.8}, {0.5, 0.5}, {1, 1}, {0.6, 0.5}} {
		p, q := c[0], c[1]
		e, ids := evaluator(t, Plan{
			Protocol: Protocol{Frames: 1, Ack: 1, Turnaround: 1, Rounds: 3 * enough(1, p*q)},
			Slot:     slot, Deadline: 24 * time.Hour,
		}, fixedLeg(p, q))
		r := e.Chain(ids[0])
		near(t, fmt.Sprint("frames at ", c), r.Frames[0], 1/(p*p*q), 1e-6)
		if r.Frames[0] < 1/(p*q)-1e-9 {
			t.Errorf("%v: %g frames are fewer than 1/(pq)", c, r.Frames[0])
		}
		near(t, "confirmed", r.ConfirmedChance(), 1, 1e-6)
	}
}

func TestChainsOfGeometrics(t *testing.T) {
	raw, err := os.ReadFile("testdata/geometric_chains.json")
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		Chains []struct {
			P                     []string
			Mean                  float64
			CDF                   map[string]float64
			Median, P90, P95, P99 int
		}
	}
	if err := json.Unmarshal(raw, &file); err != nil || len(file.Chains) == 0 {
		t.Fatal(err, len(file.Chains))
	}
	for _, c := range file.Chains {
		t.Run(fmt.Sprint(c.P), func(t *testing.T) {
			e := newEvaluator(Plan{Protocol: Protocol{Frames: 1, Rounds: 130}, Slot: slot, Deadline: 400 * slot}, true)
			var ids []LegID
			for _, s := range c.P {
				ids = append(ids, e.NewLeg(fixedLeg(number(t, s), 0)))
			}
			r := e.Chain(ids...)
			near(t, "mean", r.Mean, c.Mean, 1e-9)
			for at, want := range c.CDF {
				near(t, "by "+at, r.Delivered[int(number(t, at))-1], want, 1e-12)
			}
			for level, want := range map[float64]int{0.5: c.Median, 0.9: c.P90, 0.95: c.P95, 0.99: c.P99} {
				if got := r.Quantile(level) + 1; got != want {
					t.Errorf("%g by slot %d, want %d", level, got, want)
				}
			}
		})
	}
}

// Two hops of decode 0.83 and 0.8 with 9 frames (130 characters in frames of 18
// and a header), an hour, every tenth slot busy, 34 s keyed in a slot of 40 s.
// The rounded figures were worked out apart from this package.
func TestReferenceMessage(t *testing.T) {
	e, ids := evaluator(t, Plan{
		Protocol: Protocol{Frames: 9, Ack: 1, Turnaround: 1, Rounds: 6, Busy: 0.1},
		Slot:     slot, Deadline: time.Hour,
	}, fixedLeg(0.83, 0.8))
	r := e.Chain(ids[0], ids[0])
	round := func(x float64, digits int) float64 {
		scale := math.Pow10(digits)
		return math.Round(x*scale) / scale
	}
	near(t, "delivered", round(r.Chance(), 3), 0.943, 1e-9)
	near(t, "mean minutes", round(r.Mean*slot.Minutes(), 1), 24.9, 1e-9)
	for level, want := range map[float64]float64{0.5: 24.67, 0.8: 30.67, 0.9: 35.33} {
		near(t, fmt.Sprint(level), round(e.After(r.Quantile(level)).Minutes(), 2), want, 1e-9)
	}
	if at := r.Quantile(0.95); at != -1 {
		t.Errorf("95 %% by slot %d, want never", at)
	}
	near(t, "confirmed", round(r.ConfirmedChance(), 2), 0.93, 1e-9)
	near(t, "airtime seconds", math.Round(r.Airtime()*34), 925, 1e-9)
}

// When every frame decodes the clock is plain: F slots, then 2G + A, and so on.
func TestTimetableOfCertainLinks(t *testing.T) {
	plan := Plan{Protocol: Protocol{Frames: 5, Ack: 3, Turnaround: 2, Rounds: 2, Block: 3}, Slot: slot, Deadline: 200 * slot}
	e, ids := evaluator(t, plan, fixedLeg(1, 1))
	r := e.Chain(ids[0], ids[0])
	hop := 3 + 7 + 2 + 7 // slots until the next hop
	if at := r.Quantile(1); at != hop+3+7+2-1 {
		t.Errorf("there by slot %d", at)
	}
	if at := Quantile(r.Confirmed, 1); at != hop+3+7+2+2+3-1 {
		t.Errorf("confirmed by slot %d", at)
	}
	if at := r.Hops[0].GiveUpAt; at != 3+7+2-1 {
		t.Errorf("first relay by slot %d", at)
	}
	near(t, "relay's frames", r.Frames[1], 2*3+5, 1e-12)
	plan.Protocol.Frames = 2
	reply, back := evaluator(t, plan, fixedLeg(1, 1))
	answer := reply.ChainFrom(r.Reply(reply), back[0], back[0])
	if at := answer.Quantile(1); at != 2*hop+2+7+2-1 {
		t.Errorf("reply by slot %d", at)
	}
	// Nothing decodes: two rounds of the first block, then the second try.
	none := e.NewLeg(fixedLeg(0, 1))
	second := e.ChainFrom(e.GivenUp(e.Start(), none), ids[0])
	if at := second.Quantile(1); at != 3+7+1+7+3+7+2-1 {
		t.Errorf("second try by slot %d", at)
	}
}

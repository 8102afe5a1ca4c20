package simulate

import (
	"encoding/csv"
	"fmt"
	"os"
	"strconv"
	"testing"
	"time"

	"farhop/mesh"
)

// TestExpectedMaximum: while every acknowledgment is read and there is no end of
// rounds, the receiver acknowledges as often as the frame with the most sendings was
// sent: each round of fills is acknowledged at once, or by the poll that it
// takes to find out that nothing decoded. So it keys the expected maximum of n
// geometric variables.
//
// The expectations are those of B. Eisenberg, On the expectation of the maximum of
// IID geometric random variables, Statistics & Probability Letters 78 (2008)
// 135–143, computed with exact fractions and mpmath 1.2.1.
func TestExpectedMaximum(t *testing.T) {
	file, err := os.Open("testdata/max_geometric.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil || len(rows) < 5 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for _, row := range rows[1:] {
		n, _ := strconv.Atoi(row[0])
		p, _ := strconv.ParseFloat(row[1], 64)
		want, err := strconv.ParseFloat(row[2], 64)
		if err != nil || n < 1 {
			t.Fatalf("row %q", row)
		}
		s := scene(t, chain(1, p, 1), n, 1000*time.Hour, nil)
		s.Net.Slots.Rounds = 1_000_000
		r := playing(t, s, 10_000, uint64(n))
		within(t, fmt.Sprintf("%d frames at %v", n, p), r.Stations[1], want)
		if r.Delivered.Count != r.Runs {
			t.Errorf("%d frames at %v: delivered %v", n, p, r.Delivered)
		}
	}
}

// TestFramesUntilRead: for a message of one frame on its last hop, acknowledged by
// one frame, the sender keys 1/(p²q) frames until it reads; a lower bound is the
// expected transmission count 1/(pq) of D. De Couto, D. Aguayo, J. Bicket and R.
// Morris, A high-throughput path metric for multi-hop wireless routing, MobiCom 2003.
func TestFramesUntilRead(t *testing.T) {
	for i, c := range []struct{ p, q float64 }{{0.9, 0.8}, {0.5, 0.5}, {1, 1}, {0.5, 1}, {0.3, 0.9}} {
		s := scene(t, chain(1, c.p, c.q), 1, 1000*time.Hour, nil)
		s.Net.Slots.Rounds = 1_000_000
		r := playing(t, s, 20_000, uint64(i))
		within(t, fmt.Sprint(c), r.Stations[0], 1/(c.p*c.p*c.q))
		if etx := 1 / (c.p * c.q); r.Stations[0].Value < etx-4*r.Stations[0].StandardError {
			t.Errorf("%v: %v frames are fewer than %v", c, r.Stations[0], etx)
		}
	}
}

// TestSumOfGeometrics: where every frame decodes and nothing but busy slots holds
// it up, each hop takes a geometric number of slots.
//
// The shares were computed with exact fractions as sums of geometric variables of
// chances 1/2, 1/2 and 9/10 three times.
func TestSumOfGeometrics(t *testing.T) {
	for _, c := range []struct {
		hops  int
		busy  float64
		share map[int]float64 // by the end of so many slots
	}{
		{1, 0.5, map[int]float64{2: 0.75, 3: 0.875, 4: 0.9375, 5: 0.96875, 8: 0.99609375, 10: 0.9990234375}},
		{2, 0.5, map[int]float64{1: 0, 2: 0.25, 3: 0.5, 4: 0.6875, 5: 0.8125, 8: 0.96484375, 10: 0.9892578125}},
		{3, 0.1, map[int]float64{2: 0, 3: 0.729, 4: 0.9477, 5: 0.99144, 8: 0.99997659}},
	} {
		s := scene(t, chain(c.hops, 1, 1), 1, 10*time.Hour, func(n *mesh.Net) {
			n.Slots.Ack, n.Slots.Turnaround, n.Slots.Busy = 0, 0, c.busy
		})
		r := playing(t, s, 100_000, 1)
		for slots, want := range c.share {
			within(t, fmt.Sprintf("%d hops by %d slots", c.hops, slots), r.By(slots-1), want)
		}
		mean := float64(c.hops) / (1 - c.busy) * 40 / 60
		if d := r.MeanMinutes - mean; d > 0.02 || d < -0.02 {
			t.Errorf("%d hops take %v minutes, not %v", c.hops, r.MeanMinutes, mean)
		}
	}
}

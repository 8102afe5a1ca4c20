package mesh

import (
	"context"
	"math"
	"testing"

	"farhop/observations"
)

// twoWays has A and B hear each other, evenly over some days.
func twoWays(a, b row, days int) []row {
	var rows []row
	for k := range int64(days * 24 * 3) {
		unix := at(0, 0, 0) + k*1200
		a.unix, b.unix = unix, unix+600
		rows = append(rows, a, b)
	}
	return rows
}

// TestReceivingSites: 25 W heard at −4 dB one way and 4 W heard at +1 dB the other
// way means receiving sites 13.0 dB apart (common practice, no source).
func TestReceivingSites(t *testing.T) {
	n := abcNet(t, func(n *Net) { n.Stations[0].PowerW, n.Stations[1].PowerW = 25, 4 })
	rows := twoWays(
		row{receiver: "B", sender: "A", snr: -4, hz: dayHz, power: 25},
		row{receiver: "A", sender: "B", snr: 1, hz: dayHz, power: 4}, 10)
	l := learn(t, n, makeLog(rows), at(0, 0, 0)+10*86400)
	sites := l.Sites()
	if len(sites) != 2 || sites[0].Station != 0 || sites[1].Station != 1 || sites[0].Links != 1 || sites[0].Group != sites[1].Group {
		t.Fatalf("sites %+v", sites)
	}
	d, ok := l.compare(&l.records[0], &l.records[1])
	if !ok || math.Abs(d.difference-(-5)) > 0.1 {
		t.Fatalf("the two ways differ by %v dB, want −5", d.difference)
	}
	// One pair can't show how badly pairs fit: its variance is its own and priorExtra.
	// The ridge takes some of the difference away: with s² = 400 for each
	// offset and v for the pair, 800/(800 + v) of it is left.
	v := d.variance + priorExtra
	apart := sites[0].OffsetDB - sites[1].OffsetDB
	if raw := apart * (800 + v) / 800; math.Abs(raw-13.0) > 0.1 {
		t.Errorf("A hears %.2f dB better than B, without the penalty %.2f dB, want 13.0", apart, raw)
	}
	// Each is half the difference away from the mean of the two.
	for _, s := range sites {
		if want := pairSDDB / 2; math.Abs(s.SDDB-want) > 0.1 {
			t.Errorf("standard error %v, want %v and a little for noise", s.SDDB, want)
		}
	}
}

func TestNotInferredFromTheUnknown(t *testing.T) {
	n := abcNet(t, nil)
	l := learn(t, n, makeLog([]row{{unix: at(12, 0, 0), receiver: "B", sender: "A", snr: -10, hz: dayHz}}), at(12, 0, 0))
	if e := edge(t, l, 1, 0, 0, at(12, 0, 0)); e.Inferred || e.Known {
		t.Errorf("one report in one direction: %+v", e)
	}
	if sites := l.Sites(); len(sites) != 0 {
		t.Errorf("sites %+v", sites)
	}
	l, err := Learn(context.Background(), n, &observations.Log{}, 0)
	if err != nil || l.Estimated() || len(l.Sites()) != 0 {
		t.Errorf("an empty log: %v, %v", err, l.Estimated())
	}
}

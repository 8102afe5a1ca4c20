package mesh

import (
	"context"
	"math"
	"math/rand/v2"
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
	if len(sites) != 2 || sites[0].Station != 0 || sites[1].Station != 1 || sites[0].Links != 1 {
		t.Fatalf("sites %+v", sites)
	}
	// The ridge takes some of the difference away: with s² = 400 for each offset and v for
	// the pair, 800/(800 + v) of it is left.
	there, back := l.records[0], l.records[1]
	d, ok := l.compare(&there, &back)
	if !ok || math.Abs(d.difference-(-5)) > 0.1 {
		t.Fatalf("the two ways differ by %v dB, want −5", d.difference)
	}
	apart := sites[0].OffsetDB - sites[1].OffsetDB
	want := 800 / (800 + 1/d.weight) * (5 + 10*math.Log10(25.0/4))
	if math.Abs(apart-want) > 0.1 {
		t.Errorf("A hears %.2f dB better than B, want %.2f", apart, want)
	}
	if raw := apart * (800 + 1/d.weight) / 800; math.Abs(raw-13.0) > 0.1 {
		t.Errorf("without the penalty %.2f dB, want 13.0", raw)
	}
}

// siteNet makes links among members from a known truth: path losses, powers and
// receiving offsets. The last station is heard by all, but listens elsewhere while the
// second half of them send.
func siteNet(t *testing.T, seed uint64) (l *Links, offsets []float64, truth func(from, to int) float64) {
	t.Helper()
	const members = 8
	r := rand.New(rand.NewPCG(seed, 3))
	n := &Net{Slots: DefaultSlots(), Channels: []Channel{{Name: "day", Frequency: dayHz}}}
	offsets = make([]float64, members)
	loss := make([][]float64, members)
	for i := range members {
		n.Stations = append(n.Stations, Station{Call: string(rune('A' + i)), PowerW: math.Pow(10, r.Float64()*2)})
		offsets[i] = 4 * r.NormFloat64()
		loss[i] = make([]float64, members)
		for j := range i {
			loss[i][j] = 12 + 4*r.NormFloat64()
			loss[j][i] = loss[i][j]
		}
	}
	prepared(t, n)
	truth = func(from, to int) float64 {
		return 10*math.Log10(n.Stations[from].PowerW) - loss[from][to] + offsets[to]
	}
	var rows []row
	const days = 7
	for k := range int64(days * 24) {
		for from := range members {
			for to := range members {
				heard := row{
					unix: at(0, 0, 0) + k*3600 + int64(from)*40, hz: dayHz,
					receiver: n.Stations[to].Call, sender: n.Stations[from].Call, snr: float32(truth(from, to) + r.NormFloat64()),
				}
				if to == members-1 && from >= members/2 {
					heard.sender, heard.hz = "X", otherHz
				}
				if from != to {
					rows = append(rows, heard)
				}
			}
		}
	}
	return learn(t, n, makeLog(rows), at(0, 0, 0)+days*86400), offsets, truth
}

// TestOffsetsFromTruth holds the estimated offsets against those the reports were
// made from, and the inferred links against the truth.
func TestOffsetsFromTruth(t *testing.T) {
	var off, links, worst float64
	for seed := range uint64(20) {
		l, offsets, truth := siteNet(t, seed)
		sites := l.Sites()
		if len(sites) != len(offsets) {
			t.Fatalf("%d sites of %d", len(sites), len(offsets))
		}
		for i := range sites {
			for j := range i {
				got, want := sites[i].OffsetDB-sites[j].OffsetDB, offsets[i]-offsets[j]
				sd := math.Hypot(sites[i].SDDB, sites[j].SDDB)
				off += (got - want) * (got - want) / (sd * sd)
				links++
				worst = max(worst, math.Abs(got-want))
			}
		}
		last := len(offsets) - 1
		for from := last/2 + 1; from < last; from++ {
			e, ok := l.Edge(from, last, 0, l.At())
			if !ok || !e.Inferred || !e.Known || e.Reports != 0 || e.Newest == 0 {
				t.Fatalf("seed %d: %+v is not inferred", seed, e)
			}
			back, _ := l.Edge(last, from, 0, l.At())
			if want := math.Hypot(back.SD, InferredSDDB); math.Abs(e.SD-want) > 1e-9 {
				t.Errorf("seed %d: SD %v, want %v", seed, e.SD, want)
			}
			if d := e.SNR - truth(from, last); math.Abs(d) > 3 {
				t.Errorf("seed %d: inferred %.1f dB, truth %.1f dB", seed, e.SNR, truth(from, last))
			}
		}
	}
	// Mean square error in units of the stated variance: at most as large.
	if ratio := off / links; ratio > 1 || worst > 3 {
		t.Errorf("errors are %.2f of the stated variance, the worst %.1f dB", ratio, worst)
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

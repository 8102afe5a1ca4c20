package mesh

import (
	"context"
	"errors"
	"testing"

	"farhop/observations"
)

func TestGather(t *testing.T) {
	rows := []row{
		{unix: at(12, 0, 0), receiver: "X", sender: "A", hz: dayHz},
		{unix: at(12, 4, 0), receiver: "X", sender: "A", hz: dayHz, power: 1},
		{unix: at(12, 4, 0), receiver: "C", sender: "A", snr: -7, hz: dayHz, power: 1},
		{unix: at(12, 10, 5), receiver: "B", sender: "C", snr: -3, hz: dayHz},
	}
	log := makeLog(append(rows, row{unix: at(0, 0, 0), receiver: "Y", sender: "B", hz: otherHz}))
	log.Claims = []observations.Claim{{Time: at(12, 10, 5), Receiver: site(t, log, "B"), Line: 7}}
	n := abcNet(t, func(n *Net) { n.Stations[0].PowerW = 10 })
	h, err := Gather(context.Background(), n, log, forever)
	if err != nil {
		t.Fatal(err)
	}
	if len(h.Links) != len(h.Account.Pairs) || h.First != at(12, 0, 0) || h.Last != at(12, 10, 5) {
		t.Errorf("%d links, %d pairs, from %d to %d", len(h.Links), len(h.Account.Pairs), h.First, h.Last)
	}
	// What B missed is known when it says so, ten minutes later; what C decoded at
	// a tenth of the planned power is 10 dB better at the planned, and was 10 dB harder.
	want := map[Pair][]Entry{
		{From: 0, To: 2}: {{at(12, 4, 0), at(12, 4, 0), 3, 10, EventReport}},
		{From: 2, To: 1}: {{at(12, 10, 5), at(12, 10, 5), -3, 0, EventUnwitnessed}},
		{From: 0, To: 1}: {
			{at(12, 4, 0), at(12, 10, 5), 0, 10, EventMiss},
		},
	}
	for p, entries := range want {
		found := false
		for i, got := range h.Account.Pairs {
			if got != p {
				continue
			}
			found = true
			last := h.Links[i][len(h.Links[i])-1]
			if last != entries[len(entries)-1] {
				t.Errorf("%+v ends with %+v, want %+v", p, last, entries[len(entries)-1])
			}
			if last.Opportunity() == (last.Kind == EventUnwitnessed) {
				t.Errorf("%+v: opportunity %v", last, last.Opportunity())
			}
		}
		if !found {
			t.Errorf("no link %+v among %+v", p, h.Account.Pairs)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Gather(ctx, n, log, forever); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

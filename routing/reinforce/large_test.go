package reinforce

import (
	"context"
	"testing"
)

// 200 stations and about 2,400 stated links: those above the half-decode SNR.
func BenchmarkAdvise200(b *testing.B) {
	net, truth := strewn(b, 2, 200, func(int, int) bool { return false })
	kept := net.Fixed[:0]
	for _, f := range net.Fixed {
		if truth(f.From, f.To) > 8 {
			kept = append(kept, f)
		}
	}
	net.Fixed = kept
	for i := range net.Stations {
		if i%4 == 0 {
			net.Stations[i].MaxPowerW = 50
		}
	}
	links := learn(b, net)
	b.Logf("%d links", len(net.Fixed))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Advise(context.Background(), links, Request{}); err != nil {
			b.Fatal(err)
		}
	}
}

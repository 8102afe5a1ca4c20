package reinforce_test

import (
	"context"
	"testing"

	"farhop/mesh"
	"farhop/observations"
	"farhop/routing/reinforce"

	"farhop/examples/aysen"
)

// committed is what the example's committed log says at its end.
func committed(tb testing.TB) *mesh.Links {
	tb.Helper()
	ctx := context.Background()
	net, err := aysen.New().Net()
	if err != nil {
		tb.Fatal(err)
	}
	inputs := []observations.Input{{Path: "../../examples/aysen/observations.csv.gz"}}
	log, err := observations.Read(ctx, inputs, observations.Options{Newest: true})
	if err != nil {
		tb.Fatal(err)
	}
	links, err := mesh.Learn(ctx, net, log, log.Moment)
	if err != nil {
		tb.Fatal(err)
	}
	return links
}

// 18 stations, 56,000 reports; 64 candidates, 8 of them finely.
func BenchmarkAdviseAysen(b *testing.B) {
	links := committed(b)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := reinforce.Advise(context.Background(), links, reinforce.Request{}); err != nil {
			b.Fatal(err)
		}
	}
}

// The same over twelve moments of a day.
func BenchmarkAdviseAysenDay(b *testing.B) {
	links := committed(b)
	var moments []int64
	for h := range int64(12) {
		moments = append(moments, links.At()+7200*h)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := reinforce.Advise(context.Background(), links, reinforce.Request{Moments: moments}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkLearnLawAysen(b *testing.B) {
	links := committed(b)
	b.ReportAllocs()
	for b.Loop() {
		if reinforce.LearnLaw(links, links.At()) == nil {
			b.Fatal("nothing was learnt")
		}
	}
}

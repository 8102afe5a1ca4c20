package timetable

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"farhop/mesh"
)

// start is the moment the tests plan from; it is not a slot boundary.
var start = time.Date(2026, 3, 2, 6, 0, 10, 0, time.UTC)

// randomNet is stations strewn over a square, with stated links whose SNR falls
// with distance, two channels by day and night, and some stations off the air at times.
func randomNet(tb testing.TB, seed uint64, stations int) (*mesh.Net, *mesh.Links) {
	tb.Helper()
	r := rand.New(rand.NewPCG(seed, 1))
	n := &mesh.Net{Slots: mesh.DefaultSlots()}
	n.Slots.Busy, n.Slots.Block = 0.1, 10
	day, _ := mesh.ParseWindows([]string{"08:00-20:00"})
	night, _ := mesh.ParseWindows([]string{"18:00-10:00"})
	n.Channels = []mesh.Channel{
		{Name: "day", Frequency: 7131000, Windows: day, OffsetsHz: []int{800, 1200, 1600}},
		{Name: "night", Frequency: 3651000, Windows: night, OffsetsHz: []int{800, 1600}},
	}
	x, y := make([]float64, stations), make([]float64, stations)
	for i := range stations {
		x[i], y[i] = r.Float64(), r.Float64()
		s := mesh.Station{Call: fmt.Sprintf("S%02d", i), PowerW: 10, Watch: mesh.WatchDeclared}
		if r.IntN(4) == 0 {
			s.OnAir, _ = mesh.ParseWindows([]string{"05:00-23:00"})
		}
		n.Stations = append(n.Stations, s)
	}
	for a := range stations {
		for b := range stations {
			for c := range n.Channels {
				d := math.Hypot(x[a]-x[b], y[a]-y[b])
				if snr := 2 - 45*d + 3*r.NormFloat64(); a != b && snr > -40 {
					n.Fixed = append(n.Fixed, mesh.FixedLink{
						From: a, To: b, Channel: c, SNRDB: math.Round(snr), SNRSDDB: float64(2 + r.IntN(4)),
					})
				}
			}
		}
	}
	return prepared(tb, n)
}

func prepared(tb testing.TB, n *mesh.Net) (*mesh.Net, *mesh.Links) {
	tb.Helper()
	if issues := n.Prepare(); len(issues) > 0 {
		tb.Fatal(issues)
	}
	links, err := mesh.Learn(context.Background(), n, nil, start.Unix())
	if err != nil {
		tb.Fatal(err)
	}
	return n, links
}

// randomTraffic is messages between any two stations, most of them short.
func randomTraffic(r *rand.Rand, stations, count int) (list []mesh.Message) {
	for i := range count {
		from := r.IntN(stations)
		to := (from + 1 + r.IntN(stations-1)) % stations
		ready := start.Add(time.Duration(r.IntN(18*60)) * time.Minute)
		list = append(list, mesh.Message{
			ID: fmt.Sprintf("M%d", i+1), From: from, To: to, Characters: 20 + 10*r.IntN(15),
			Precedence: mesh.Precedence(min(3, r.IntN(5))), Ready: ready,
			Deadline: ready.Add(time.Duration(2+r.IntN(8)) * time.Hour),
		})
	}
	return list
}

func mustMake(tb testing.TB, n *mesh.Net, links Source, list []mesh.Message, o Options) *Timetable {
	tb.Helper()
	if o.Start == 0 {
		o.Start = start.Unix()
	}
	t, err := Make(context.Background(), n, links, list, o)
	if err != nil {
		tb.Fatal(err)
	}
	return t
}

// BenchmarkMake plans 200 messages between 30 stations over 24 hours.
// BenchmarkMake plans 200 messages, and the same with every tenth to all.
func BenchmarkMake(b *testing.B) {
	n, links := randomNet(b, 1, 30)
	list := randomTraffic(rand.New(rand.NewPCG(2, 2)), 30, 200)
	toAll := slices.Clone(list)
	for i := range toAll {
		if i%10 == 0 {
			toAll[i].To = mesh.EveryMember
		}
	}
	for name, list := range map[string][]mesh.Message{"single": list, "tenth-to-all": toAll} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				t := mustMake(b, n, links, list, Options{})
				fits, fewest := 0, 0
				for i := range t.Messages {
					if t.Messages[i].Fits {
						fits++
					}
					if t.Messages[i].Fewest {
						fewest++
					}
				}
				b.ReportMetric(float64(fits), "fit")
				b.ReportMetric(float64(fewest), "fewest")
				b.ReportMetric(t.Occupancy*100, "%occupied")
			}
		})
	}
}

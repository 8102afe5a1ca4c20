package mesh

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"farhop/observations"
)

// benchLog has reports from slots of 40 s in which eight of so many stations
// send on two channels; of the sixteen that listen to each a quarter decode. So
// there are about three misses a report.
func benchLog(stations, reports int) (*Net, *observations.Log) {
	r := rand.New(rand.NewPCG(1, 2))
	n := &Net{Slots: DefaultSlots(), Channels: []Channel{{Name: "day", Frequency: dayHz}, {Name: "night", Frequency: nightHz}}}
	log := &observations.Log{Sources: []string{"bench"}}
	for i := range stations {
		call := fmt.Sprintf("S%04d", i)
		watch := WatchDeclared
		channels := []int{i % 2}
		if i >= 32 {
			watch = WatchHeard
		}
		n.Stations = append(n.Stations, Station{Call: call, PowerW: 10, Watch: watch, Channels: channels})
		log.Sites = append(log.Sites, observations.Site{Call: call})
	}
	if issues := n.Prepare(); len(issues) > 0 {
		panic(issues)
	}
	unix := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC).Unix()
	turn := 0
	for len(log.Reports) < reports {
		turn++
		for k := range 8 {
			sender := 32 + r.IntN(stations-32)
			for j := range 16 {
				receiver := 2*j + k%2
				if r.IntN(4) == 0 {
					log.Reports = append(log.Reports, observations.Report{
						Time: unix, Frequency: []uint32{dayHz, nightHz}[k%2] + uint32(r.IntN(2000)), Receiver: observations.SiteID(receiver),
						Sender: observations.SiteID(sender), SNR: float32(r.IntN(20) - 25), Power: 10, Line: uint32(len(log.Reports) + 1),
					})
				}
			}
		}
		unix += 40
	}
	log.Counts.Read = len(log.Reports)
	return n, log
}

func BenchmarkTrace(b *testing.B) {
	for _, stations := range []int{64, 500} {
		b.Run(fmt.Sprintf("stations=%d/reports=200000", stations), func(b *testing.B) {
			n, log := benchLog(stations, 200_000)
			misses, reports := 0, 0
			b.ReportAllocs()
			for b.Loop() {
				_, err := Trace(context.Background(), n, log, forever, func(batch []Event) error {
					for i := range batch {
						if batch[i].Kind == EventMiss {
							misses++
						} else {
							reports++
						}
					}
					return nil
				})
				if err != nil {
					b.Fatal(err)
				}
			}
			perReport := float64(b.N) * float64(len(log.Reports))
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/perReport, "ns/report")
			b.ReportMetric(float64(misses)/float64(reports), "misses/report")
		})
	}
}

func BenchmarkLearn(b *testing.B) {
	n, log := benchLog(500, 200_000)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Learn(context.Background(), n, log, log.Reports[len(log.Reports)-1].Time); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(log.Reports)), "ns/report")
}

func BenchmarkEdge(b *testing.B) {
	n, log := benchLog(64, 50_000)
	end := log.Reports[len(log.Reports)-1].Time
	l, err := Learn(context.Background(), n, log, end)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		l.Edge(32+i%32, 2*(i%16), 0, end+int64(i%24)*900)
	}
}

func BenchmarkGraph(b *testing.B) {
	n, log := benchLog(200, 50_000)
	end := log.Reports[len(log.Reports)-1].Time
	l, err := Learn(context.Background(), n, log, end)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		l.Graph(end + 3600)
	}
}

func BenchmarkListens(b *testing.B) {
	n := prepared(b, smallNet())
	b.ReportAllocs()
	for i := int64(0); b.Loop(); i++ {
		n.Listens(0, 1, i*40)
	}
}

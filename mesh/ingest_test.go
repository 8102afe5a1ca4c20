package mesh

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"farhop/observations"
)

// benchmarkNet is the net of the ingest benchmark: everybody listens to the one
// channel and keeps to it.
func benchmarkNet(stations int) *Net {
	n := &Net{Slots: DefaultSlots(), Channels: []Channel{{Name: "day", Frequency: dayHz}}}
	for i := range stations {
		n.Stations = append(n.Stations, Station{Call: fmt.Sprintf("S%03d", i), PowerW: 10, Watch: WatchAll})
	}
	if issues := n.Prepare(); len(issues) > 0 {
		panic(issues)
	}
	return n
}

// writeBenchmarkLog writes so many reports of slots in which eight stations send
// and one in four of the others decode each, so that there are three misses a
// report.
func writeBenchmarkLog(path string, stations, reports int) (bytes int64, err error) {
	f, err := os.Create(path)
	if err != nil {
		return 0, err
	}
	defer f.Close()
	out := bufio.NewWriterSize(f, 1<<20)
	r := rand.New(rand.NewPCG(1, 2))
	calls := make([]string, stations)
	for i := range calls {
		calls[i] = fmt.Sprintf("S%03d", i)
	}
	out.WriteString("time,receiver,sender,snr_db,frequency_hz\n")
	unix := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	line := make([]byte, 0, 80)
	for done := 0; done < reports; unix = unix.Add(40 * time.Second) {
		stamp := unix.Format(time.RFC3339)
		senders := r.Perm(stations)[:8]
		for k, s := range senders {
			bits := uint64(0)
			for to := range stations {
				if to%32 == 0 {
					bits = r.Uint64()
				}
				hit := bits&3 == 0
				bits >>= 2
				if !hit || slices.Contains(senders, to) || done == reports {
					continue
				}
				done++
				line = append(line[:0], stamp...)
				line = append(line, ',')
				line = append(line, calls[to]...)
				line = append(line, ',')
				line = append(line, calls[s]...)
				line = append(line, ',')
				line = strconv.AppendInt(line, int64((s*7+to*13)%20-25), 10)
				line = append(line, ',')
				line = strconv.AppendInt(line, int64(dayHz+200*k), 10)
				line = append(line, '\n')
				out.Write(line)
			}
		}
	}
	if err := out.Flush(); err != nil {
		return 0, err
	}
	info, err := f.Stat()
	return info.Size(), err
}

// BenchmarkIngest reads and learns the log of a big net, from a file.
func BenchmarkIngest(b *testing.B) {
	if testing.Short() {
		b.Skip("writes and reads some 440 MB")
	}
	const stations, reports = 500, 10_000_000
	path := filepath.Join(b.TempDir(), "log.csv")
	size, err := writeBenchmarkLog(path, stations, reports)
	if err != nil {
		b.Fatal(err)
	}
	n := benchmarkNet(stations)
	b.SetBytes(size)
	b.ReportAllocs()
	misses, before := 0, cpuSeconds()
	for b.Loop() {
		log, err := observations.Read(context.Background(), []observations.Input{{Path: path}}, observations.Options{Newest: true})
		if err != nil || len(log.Reports) != reports {
			b.Fatal(err, len(log.Reports))
		}
		l, err := Learn(context.Background(), n, log, log.Moment)
		if err != nil {
			b.Fatal(err)
		}
		for i := range l.records {
			misses += l.records[i].misses
		}
	}
	b.ReportMetric((cpuSeconds()-before)/float64(b.N), "cpu-s/op")
	b.ReportMetric(float64(misses)/float64(b.N)/reports, "misses/report")
	b.ReportMetric(peakMiB(), "peak-MiB")
}

// peakMiB is the most memory that the process has held, 0 where that isn't told.
func peakMiB() float64 {
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(status)) {
		var kib float64
		if _, err := fmt.Sscanf(line, "VmHWM: %f kB", &kib); err == nil {
			return kib / 1024
		}
	}
	return 0
}

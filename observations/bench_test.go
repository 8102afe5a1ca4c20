package observations

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"math/rand/v2"
	"strconv"
	"testing"
	"time"
)

// benchRows is a log of n reports among 40 stations over two weeks of 40 s
// slots, in order of time, in rows of 45 bytes, or 60 with locators and power.
func benchRows(n int, wide bool) []byte {
	rng := rand.New(rand.NewPCG(1, uint64(n)))
	var b bytes.Buffer
	b.WriteString("time,receiver,sender,snr_db,frequency_hz")
	if wide {
		b.WriteString(",receiver_locator,sender_locator,power_w")
	}
	b.WriteString("\n")
	start := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	for i := range n {
		t := start.Add(time.Duration(i*(14*86400/40)/n) * 40 * time.Second)
		s := rng.IntN(40)
		r := (s + 1 + rng.IntN(39)) % 40
		fmt.Fprintf(&b, "%s,POST%02d,POST%02d,%d,%d", t.Format(time.RFC3339), r, s, rng.IntN(40)-28, 7131000+rng.IntN(200))
		if wide {
			fmt.Fprintf(&b, ",RE%02d,RE%02d,%d", r, s, 5+s)
		}
		b.WriteByte('\n')
	}
	return b.Bytes()
}

func benchmarkRead(b *testing.B, data []byte, rows, workers int) {
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	inputs := []Input{{Text: string(data)}}
	for b.Loop() {
		l, err := read(context.Background(), inputs, Options{Newest: true}, usualLimits, workers)
		if err != nil || len(l.Reports) != rows {
			b.Fatal(err, len(l.Reports), l.Problems)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(rows), "ns/row")
}

func BenchmarkRead(b *testing.B) {
	const rows = 200_000
	for _, wide := range []bool{false, true} {
		for _, workers := range []int{1, 2} {
			b.Run(fmt.Sprintf("rows=200k/wide=%v/workers=%d", wide, workers), func(b *testing.B) {
				benchmarkRead(b, benchRows(rows, wide), rows, workers)
			})
		}
	}
}

// BenchmarkParse is the work of one worker: blocks to reports.
func BenchmarkParse(b *testing.B) {
	const rows = 16_000 // fits a block
	forms := map[string]func([]byte) []byte{
		"plain":  func(d []byte) []byte { return d },
		"quoted": quoteAll,
	}
	for _, form := range []string{"plain", "quoted"} {
		b.Run("rows=16k/"+form, func(b *testing.B) {
			data := forms[form](benchRows(rows, false))
			blk := block{data: append(make([]byte, 0, len(data)+slack), data...), line: 1, first: true}
			copy(blk.data[len(data):cap(blk.data)], bytes.Repeat([]byte{'\n'}, slack))
			p := newParser(usualLimits, allTimes(postponeUndated), 10)
			var out batch
			b.SetBytes(int64(len(data)))
			b.ReportAllocs()
			for b.Loop() {
				p.parse(&blk, 0, nil, &out)
			}
			if len(out.reports) != rows {
				b.Fatal(len(out.reports), out.problems)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/rows, "ns/row")
		})
	}
}

func quoteAll(data []byte) []byte {
	data = bytes.ReplaceAll(bytes.TrimSuffix(data, []byte("\n")), []byte(","), []byte(`","`))
	return append(append([]byte{'"'}, bytes.ReplaceAll(data, []byte("\n"), []byte("\"\n\""))...), '"')
}

// BenchmarkEncodingCSV is the same work done with the standard library's
// reader and parsers, its result unsorted.
func BenchmarkEncodingCSV(b *testing.B) {
	const rows = 200_000
	data := benchRows(rows, false)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if n := len(readByStandardLibrary(b, data)); n != rows {
			b.Fatal(n)
		}
	}
}

func readByStandardLibrary(tb testing.TB, data []byte) (reports []Report) {
	r := csv.NewReader(bytes.NewReader(data))
	r.ReuseRecord = true
	sites := map[string]SiteID{}
	site := func(call string) SiteID {
		id, ok := sites[call]
		if !ok {
			id = SiteID(len(sites))
			sites[call] = id
		}
		return id
	}
	if _, err := r.Read(); err != nil {
		tb.Fatal(err)
	}
	for {
		row, err := r.Read()
		if err == io.EOF {
			return reports
		}
		if err != nil {
			tb.Fatal(err)
		}
		t, err := time.Parse(time.RFC3339, row[0])
		snr, err2 := strconv.ParseFloat(row[3], 64)
		hz, err3 := strconv.ParseFloat(row[4], 64)
		if err != nil || err2 != nil || err3 != nil {
			tb.Fatal(row)
		}
		reports = append(reports, Report{
			Time: t.Unix(), Receiver: site(row[1]), Sender: site(row[2]), SNR: float32(snr), Frequency: uint32(hz),
		})
	}
}

func BenchmarkSortReports(b *testing.B) {
	const n = 200_000
	for _, shape := range []string{"sorted", "ties", "shuffled"} {
		b.Run("reports=200k/"+shape, func(b *testing.B) {
			rng := rand.New(rand.NewPCG(2, 2))
			reports := make([]Report, n)
			for i := range reports {
				reports[i] = Report{Time: 1.7e9 + int64(i)*5, Sender: SiteID(rng.IntN(40))}
				if shape == "ties" {
					reports[i].Time = 1.7e9 + int64(i/20*40)
				}
			}
			if shape == "shuffled" {
				rng.Shuffle(n, func(i, j int) { reports[i], reports[j] = reports[j], reports[i] })
			}
			work := make([]Report, n)
			b.ReportAllocs()
			for b.Loop() {
				copy(work, reports)
				sortReports(work)
			}
		})
	}
}

func BenchmarkDistinct(b *testing.B) {
	const n = 200_000
	l, err := Read(context.Background(), []Input{{Path: "-"}}, Options{Newest: true, Stdin: bytes.NewReader(benchRows(n, false))})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		kept, dup := l.Distinct(40*time.Second, func(r *Report) (uint32, uint32, Band, bool) {
			return uint32(r.Receiver), uint32(r.Sender), BandOf(r.Frequency), true
		})
		if len(kept)+dup != n {
			b.Fatal(len(kept), dup)
		}
	}
}

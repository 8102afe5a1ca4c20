package observations

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"pgregory.net/rapid"
)

func TestReader(t *testing.T) {
	text := lines(
		"time,receiver,sender,snr_db,receiver_locator",
		"2026-03-02T11:00:00Z,MILL,HARBOR,-9,RE4",
		"2026-03-02T11:00:00Z,MILL,HARBOR,loud,",
		"1100Z all MILL copies HARBOR -9, SUMMIT 3 on day",
		`{"time":1772449200,"receiver":"MILL","sender":"SUMMIT","snr_db":3}`,
	)
	var got strings.Builder
	r := NewReader("log", bytes.NewReader(gzipped(t, text)))
	r.Moment = noon
	for r.Next() {
		switch x := r.Record(); {
		case x.Report != nil:
			fmt.Fprintf(&got, "%d: %s→%s %g %s\n", x.Report.Line, r.Site(x.Report.Sender).Call, r.Site(x.Report.Receiver).Call, x.Report.SNR, r.Channel(x.Report.Channel))
		case x.Claim != nil:
			fmt.Fprintf(&got, "%d: all %s %s\n", x.Claim.Line, r.Site(x.Claim.Receiver).Call, r.Channel(x.Claim.Channel))
		case x.Problem != nil:
			fmt.Fprintf(&got, "%d: problem in %s, %s\n", x.Problem.Line, x.Problem.Source, x.Problem.Field)
		default:
			fmt.Fprintf(&got, "rejected %q\n", x.Rejected)
		}
	}
	if r.Err() != nil || r.Next() {
		t.Error(r.Err())
	}
	diff(t, "records", got.String(), lines(
		"2: problem in log, receiver_locator", "2: HARBOR→MILL -9 ", "3: problem in log, snr_db",
		`rejected "2026-03-02T11:00:00Z,MILL,HARBOR,loud,\n"`, "4: HARBOR→MILL -9 day", "4: SUMMIT→MILL 3 day", "4: all MILL day", "5: SUMMIT→MILL 3 ",
	))
	if r.Counts() != (Counts{Read: 5, Rejected: 1, Used: 4}) {
		t.Errorf("%+v", r.Counts())
	}
}

func TestReaderWithoutMoment(t *testing.T) {
	r := NewReader("log", strings.NewReader("1100Z MILL copies HARBOR -9\n"))
	if !r.Next() || r.Record().Problem == nil || !r.Next() || r.Record().Rejected == nil || r.Next() || r.Err() != nil {
		t.Errorf("%+v", r.Counts())
	}
}

func TestReaderFails(t *testing.T) {
	broken := errors.New("cable pulled")
	r := NewReader("log", io.MultiReader(strings.NewReader(row("-1")), iotest.ErrReader(broken)))
	n := 0
	for r.Next() {
		n++
	}
	if !errors.Is(r.Err(), broken) || n != 1 {
		t.Error(n, r.Err())
	}
	if r = NewReader("log", iotest.ErrReader(broken)); r.Next() || !errors.Is(r.Err(), broken) {
		t.Error(r.Err())
	}
	if r = NewReader("log", strings.NewReader("")); r.Next() || r.Err() != nil {
		t.Error(r.Err())
	}
}

// A Reader does not wait for a full block.
func TestReaderIsPrompt(t *testing.T) {
	in, out := io.Pipe()
	defer out.Close()
	r := NewReader("log", in)
	go io.WriteString(out, row("-1"))
	if !r.Next() || r.Record().Report == nil || r.Record().Report.SNR != -1 {
		t.Errorf("%+v", r)
	}
	go io.WriteString(out, "2026-03-02T11:00:00Z,MILL,HARBOR,-2,\n")
	if !r.Next() || r.Record().Report == nil || r.Record().Report.SNR != -2 {
		t.Errorf("%+v", r)
	}
}

// A Reader finds what Read finds.
func TestReaderAgreesWithRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		head, rows := mixed(t)
		text := head + "\n" + strings.Join(rows, "\n")
		var rejects strings.Builder
		want, err := Read(context.Background(), []Input{{Text: text, Name: "log"}}, Options{Rejects: &rejects})
		if err != nil {
			t.Fatal(err)
		}
		reports, claims, problems, rejected := 0, 0, 0, ""
		r := NewReader("log", iotest.HalfReader(strings.NewReader(text)))
		for r.Next() {
			x := r.Record()
			switch {
			case x.Report != nil:
				reports++
			case x.Claim != nil:
				claims++
			case x.Problem != nil:
				if *x.Problem != want.Problems[problems] {
					t.Fatalf("%+v, want %+v", *x.Problem, want.Problems[problems])
				}
				problems++
			default:
				rejected += string(x.Rejected)
			}
		}
		if reports != len(want.Reports) || claims != len(want.Claims) || problems != want.ProblemCount || strings.TrimPrefix(rejects.String(), head+"\n") != rejected {
			t.Fatalf("%d reports, %d claims, %d problems, %q\nwant %d, %d, %d, %q", reports, claims, problems, rejected, len(want.Reports), len(want.Claims), want.ProblemCount, rejects.String())
		}
	})
}

func BenchmarkReader(b *testing.B) {
	const rows = 100_000
	data := benchRows(rows, true)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		r := NewReader("log", bytes.NewReader(data))
		n := 0
		for r.Next() {
			if r.Record().Report != nil {
				n++
			}
		}
		if n != rows || r.Err() != nil {
			b.Fatal(n, r.Err())
		}
	}
}

package observations

import (
	"context"
	"errors"
	"io"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

const header = "time,receiver,sender,snr_db,received\n"

func TestMomentAndWindow(t *testing.T) {
	rows := header + lines(
		"2026-03-02T11:00:00Z,MILL,HARBOR,-1,",
		"2026-03-02T12:00:00Z,MILL,HARBOR,-2,",
		"2026-03-02T12:00:01Z,MILL,HARBOR,-3,",
		"2026-03-02T11:30:00Z,MILL,HARBOR,-4,2026-03-02T12:00:00Z",
		"2026-03-02T11:30:00Z,MILL,HARBOR,-5,2026-03-02T12:00:01Z",
		"2026-03-02T10:00:00Z,MILL,HARBOR,-6,2026-03-02T13:00:00Z",
		"2026-03-02T10:00:00Z,MILL,HARBOR,loud,",
		"1100Z all MILL copies SUMMIT -7",
		"1000Z all MILL copies SUMMIT -8",
		"2026-03-02 1300Z all MILL copies SUMMIT -9",
	)
	snrs := func(l *Log) (all []float32) {
		for _, r := range l.Reports {
			all = append(all, r.SNR)
		}
		slices.Sort(all)
		return all
	}
	for _, c := range []struct {
		name   string
		opt    Options
		snrs   []float32
		counts Counts
		claims int
		moment time.Time
	}{
		{"noon", Options{Moment: noon}, []float32{-8, -7, -4, -2, -1}, Counts{Read: 10, Rejected: 1, Later: 4}, 2, noon},
		{"noon and a half", Options{Moment: noon.Add(time.Second / 2)}, []float32{-8, -7, -4, -2, -1}, Counts{Read: 10, Rejected: 1, Later: 4}, 2, noon},
		{
			"an hour before noon",
			Options{Moment: noon, Window: time.Hour},
			[]float32{-7, -4, -2, -1},
			Counts{Read: 10, Rejected: 1, Later: 4, Earlier: 1},
			1, noon,
		},
		{"newest", Options{Newest: true}, []float32{-9, -8, -7, -6, -5, -4, -3, -2, -1}, Counts{Read: 10, Rejected: 1}, 3, noon.Add(time.Hour)},
		{"none", Options{}, []float32{-9, -8, -7, -6, -5, -4, -3, -2, -1}, Counts{Read: 10, Rejected: 1}, 3, noon.Add(time.Hour)},
		{
			"an hour before the newest",
			Options{Newest: true, Window: time.Hour},
			[]float32{-9, -3, -2},
			Counts{Read: 10, Rejected: 1, Earlier: 6},
			1, noon.Add(time.Hour),
		},
		{"long ago", Options{Moment: time.Unix(0, 0)}, nil, Counts{Read: 10, Rejected: 3, Later: 7}, 0, time.Unix(0, 0)},
	} {
		l := readWith(t, c.opt, rows)
		if !reflect.DeepEqual(snrs(l), c.snrs) || l.Counts != c.counts || len(l.Claims) != c.claims || l.Moment != c.moment.Unix() {
			t.Errorf("%s: %v, %+v, %d claims, moment %d\n%s", c.name, snrs(l), l.Counts, len(l.Claims), l.Moment, problems(l))
		}
	}
}

// With newest as the moment, what reached this desk only later is set apart.
func TestNewestHadNotArrived(t *testing.T) {
	l := readText(t, header+"2026-03-02T12:00:00Z,MILL,HARBOR,-2,2026-03-02T12:00:30Z\n2026-03-02T11:00:00Z,MILL,HARBOR,-1,2026-03-02T12:00:00Z\n")
	if l.Moment != noon.Unix() || len(l.Reports) != 1 || l.Reports[0].SNR != -1 || l.Counts.Later != 1 {
		t.Errorf("%+v", l)
	}
}

// mixed draws a log in all forms with faults in it, line by line, and the
// header the rows go by.
func mixed(t *rapid.T) (head string, rows []string) {
	call := rapid.SampledFrom([]string{"MILL", "HARBOR", "SUMMIT", "mill", "POST/7"})
	clock := rapid.SampledFrom([]string{"2026-03-02T11:00:00Z", "2026-03-02T11:00:40Z", "2026-03-02T12:10:00Z", "1772449200.5", "oops"})
	snr := rapid.SampledFrom([]string{"-9", "-9.0", "3", "99", ""})
	place := rapid.SampledFrom([]string{"", "RE44", "re44", "RE4x"})
	row := rapid.Custom(func(t *rapid.T) string {
		return strings.Join([]string{clock.Draw(t, "time"), call.Draw(t, "receiver"), call.Draw(t, "sender"), snr.Draw(t, "snr"), place.Draw(t, "locator")}, ",")
	})
	object := rapid.Custom(func(t *rapid.T) string {
		return `{"time":"` + clock.Draw(t, "time") + `","receiver":"` + call.Draw(t, "receiver") + `","sender":"` + call.Draw(t, "sender") + `","snr_db":"` + snr.Draw(t, "snr") + `"}`
	})
	typed := rapid.Custom(func(t *rapid.T) string {
		return "2026-03-02 1100Z " + rapid.SampledFrom([]string{"", "all "}).Draw(t, "all") + call.Draw(t, "receiver") + " copies " +
			call.Draw(t, "sender") + " " + snr.Draw(t, "snr") + ", " + call.Draw(t, "sender") + " -3" + rapid.SampledFrom([]string{"", " on day", " on night"}).Draw(t, "channel")
	})
	return "time,receiver,sender,snr_db,receiver_locator", rapid.SliceOfN(rapid.OneOf(row, row, object, typed), 1, 30).Draw(t, "rows")
}

// The same lines make the same log, however they are ordered, spread over
// sources, cut into blocks and shared among workers.
func TestOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		head, rows := mixed(t)
		opt := rapid.SampledFrom([]Options{{Newest: true}, {Moment: noon}, {Moment: noon, Window: 59 * time.Minute}}).Draw(t, "options")
		want, err := read(context.Background(), []Input{{Text: head + "\n" + strings.Join(rows, "\n")}}, opt, usualLimits, 1)
		if err != nil {
			t.Fatal(err)
		}
		rows = rapid.Permutation(rows).Draw(t, "order")
		var inputs []Input
		for len(rows) > 0 {
			n := rapid.IntRange(1, len(rows)).Draw(t, "rows in source")
			inputs = append(inputs, Input{Text: head + "\r\n" + strings.Join(rows[:n], "\r\n") + "\r\n"})
			rows = rows[n:]
		}
		got, err := read(context.Background(), inputs, opt, limits{block: 512, record: 200}, 3)
		if err != nil {
			t.Fatal(err)
		}
		if told(got) != told(want) || got.Counts != want.Counts || got.ProblemCount != want.ProblemCount || got.Moment != want.Moment ||
			!reflect.DeepEqual(got.Sites, want.Sites) || !reflect.DeepEqual(got.Channels, want.Channels) {
			t.Fatalf("%+v\n%s%swant %+v\n%s%s", got.Counts, told(got), problems(got), want.Counts, told(want), problems(want))
		}
	})
}

// Reading the same input again gives every byte again, however many workers.
func TestReadingIsRepeatable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		head, rows := mixed(t)
		// Headers that change in the middle make blocks be parsed again.
		text := strings.Join(rows, "\n") + "\n" + head + "\n" + strings.Join(rows, "\n") + "\nsnr_db,sender,receiver,time\n" +
			"-9,HARBOR,MILL,1772449200\n" + head + ",extra\n" + strings.Join(rows, ",\n")
		var want *Log
		var wantRejects string
		for _, workers := range []int{1, 2, 5} {
			for _, lim := range []limits{usualLimits, {block: 450, record: 200}} {
				var rejects strings.Builder
				got, err := read(context.Background(), []Input{{Text: text, Name: "a"}, {Text: text, Name: "b"}}, Options{Moment: noon, Rejects: &rejects, MaxProblems: 7}, lim, workers)
				if err != nil {
					t.Fatal(err)
				}
				if want == nil {
					want, wantRejects = got, rejects.String()
				}
				if !reflect.DeepEqual(got, want) || rejects.String() != wantRejects {
					t.Fatalf("%d workers, %v:\n%+v\n%q\nwant\n%+v\n%q", workers, lim, got, rejects.String(), want, wantRejects)
				}
			}
		}
	})
}

// Rejected lines are there as they were, and mended they complete the log.
func TestRejectsCanBeMended(t *testing.T) {
	var rejects strings.Builder
	texts := []string{
		"\ufefftime,receiver,sender,snr_db\r\n2026-03-02T11:00:00Z,MILL,HARBOR,LOUD\r\n2026-03-02T11:00:00Z,MILL,SUMMIT,-3\r\n\"2026-03-02T11:01:00Z\",MILL,\"HARBOR\",LOUD",
		"snr_db,time,sender,receiver,x\nLOUD,2026-03-02T11:02:00Z,HARBOR,MILL,\"a\nb\"\n",
		"{\"time\":1772449380,\"receiver\":\"MILL\",\"sender\":\"HARBOR\",\"snr_db\":\"LOUD\"}\n",
		"1104Z MILL copies HARBOR LOUD on day\n1105Z MILL copies SUMMIT -1\n",
		"snr_db,time,sender,receiver,x\n-8,2026-03-02T11:02:00Z,POST,MILL,\n",
	}
	l := readWith(t, Options{Moment: noon, Rejects: &rejects}, texts...)
	if l.Counts != (Counts{Read: 8, Rejected: 5}) {
		t.Fatalf("%+v\n%s", l.Counts, problems(l))
	}
	diff(t, "rejects", rejects.String(), "time,receiver,sender,snr_db\r\n2026-03-02T11:00:00Z,MILL,HARBOR,LOUD\r\n\"2026-03-02T11:01:00Z\",MILL,\"HARBOR\",LOUD\n"+
		"snr_db,time,sender,receiver,x\nLOUD,2026-03-02T11:02:00Z,HARBOR,MILL,\"a\nb\"\n"+
		"{\"time\":1772449380,\"receiver\":\"MILL\",\"sender\":\"HARBOR\",\"snr_db\":\"LOUD\"}\n1104Z MILL copies HARBOR LOUD on day\n")

	mended := readWith(t, Options{Moment: noon}, strings.ReplaceAll(rejects.String(), "LOUD", "-9"))
	diff(t, "mended", told(mended), lines(
		"2026-03-02T11:00:00Z HARBOR→MILL -9 dB", "2026-03-02T11:01:00Z HARBOR→MILL -9 dB", "2026-03-02T11:02:00Z HARBOR→MILL -9 dB",
		"2026-03-02T11:03:00Z HARBOR→MILL -9 dB", "2026-03-02T11:04:00Z HARBOR→MILL -9 dB on day",
	))
	if mended.Counts.Rejected != 0 {
		t.Error(problems(mended))
	}
}

// What was rejected is rejected again, in the same number, and nothing else.
func TestRejectsAreRejectedAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		head, rows := mixed(t)
		var rejects strings.Builder
		first, err := Read(context.Background(), []Input{{Text: head + "\n" + strings.Join(rows, "\n")}}, Options{Moment: noon, Rejects: &rejects})
		if err != nil {
			t.Fatal(err)
		}
		again, err := Read(context.Background(), []Input{{Text: rejects.String()}}, Options{Moment: noon})
		if err != nil {
			t.Fatal(err)
		}
		if again.Counts.Rejected != first.Counts.Rejected {
			t.Fatalf("%d, then %d:\n%s", first.Counts.Rejected, again.Counts.Rejected, rejects.String())
		}
	})
}

func TestProblemsKept(t *testing.T) {
	text := header + strings.Repeat("oops,,,,\n", 3000)
	for given, kept := range map[int]int{0: usualProblems, 5: 5, -1: 0, 100000: 12000} {
		l := readWith(t, Options{MaxProblems: given}, text)
		if len(l.Problems) != kept || l.ProblemCount != 12000 || l.Counts.Rejected != 3000 {
			t.Errorf("%d: %d of %d, %+v", given, len(l.Problems), l.ProblemCount, l.Counts)
		}
	}
}

func TestSitesOfRejectedRowsAreLeftOut(t *testing.T) {
	l := readWith(t, Options{Moment: noon}, header+"2026-03-02T11:00:00Z,AAA,BBB,99,\n2026-03-02T13:00:00Z,CCC,DDD,9,\n2026-03-02T11:00:00Z,FFF,EEE,9,\n")
	if !reflect.DeepEqual(l.Sites, []Site{{Call: "EEE"}, {Call: "FFF"}}) {
		t.Errorf("%+v", l.Sites)
	}
}

func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	src := &endless{row: []byte("2026-03-02 1100Z MILL copies HARBOR -9\n"), stop: cancel}
	l, err := Read(ctx, []Input{{Path: "-"}}, Options{Stdin: src, Moment: noon.Add(-24 * time.Hour)})
	if !errors.Is(err, context.Canceled) || l != nil {
		t.Errorf("%v, %v", l, err)
	}
}

// A source that gives nothing doesn't hold up the end of ctx.
func TestCancelledWhileWaiting(t *testing.T) {
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Millisecond)
	defer cancel()
	in, out := io.Pipe()
	defer out.Close()
	if _, err := Read(ctx, []Input{{Path: "-"}}, Options{Stdin: in}); !errors.Is(err, context.DeadlineExceeded) {
		t.Error(err)
	}
}

// endless gives rows for ever and calls stop after some.
type endless struct {
	row  []byte
	read int
	stop func()
}

func (e *endless) Read(b []byte) (int, error) {
	for i := range b {
		b[i] = e.row[(e.read+i)%len(e.row)]
	}
	if e.read += len(b); e.read > 3<<20 {
		e.stop()
	}
	return len(b), nil
}

type failingWriter struct{ after int }

func (w *failingWriter) Write(b []byte) (int, error) {
	if w.after -= len(b); w.after < 0 {
		return 0, errors.New("disk full")
	}
	return len(b), nil
}

func TestRejectsCannotBeWritten(t *testing.T) {
	for _, after := range []int{0, 100_000} {
		_, err := Read(context.Background(), []Input{{Text: header + strings.Repeat("oops,,,,\n", 30_000)}}, Options{Rejects: &failingWriter{after}})
		if err == nil || err.Error() != "disk full" {
			t.Error(after, err)
		}
	}
}

func TestProgress(t *testing.T) {
	var seen []int64
	text := header + strings.Repeat("2026-03-02T11:00:00Z,MILL,HARBOR,-9,\n", 60_000)
	l := readWith(t, Options{Progress: func(n int64) { seen = append(seen, n) }}, text)
	if len(l.Reports) != 60_000 || len(seen) < 2 || !slices.IsSorted(seen) || seen[len(seen)-1] != int64(len(text)) {
		t.Errorf("%d reports, %v of %d", len(l.Reports), seen, len(text))
	}
}

// A big shuffled log comes out as the small pieces it was shuffled from.
func TestBigLog(t *testing.T) {
	const n = 50_000
	rows := strings.SplitAfter(strings.TrimSuffix(string(benchRows(n, true)), "\n"), "\n")
	head, rows := rows[0], rows[1:]
	want := readText(t, head+strings.Join(rows, ""))
	rows[len(rows)-1] += "\n"
	rng := rand.New(rand.NewPCG(3, 3))
	rng.Shuffle(len(rows), func(i, j int) { rows[i], rows[j] = rows[j], rows[i] })
	got := readWith(t, Options{}, head+strings.Join(rows[:n/3], ""), head+strings.Join(rows[n/3:], ""))
	if len(got.Reports) != n || !reflect.DeepEqual(got.Sites, want.Sites) {
		t.Fatal(len(got.Reports), got.ProblemCount)
	}
	for i := range got.Reports {
		a, b := got.Reports[i], want.Reports[i]
		a.Line, b.Line, a.Source, b.Source = 0, 0, 0, 0
		if a != b {
			t.Fatalf("report %d: %+v, want %+v", i, a, b)
		}
	}
}

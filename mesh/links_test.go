package mesh

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"farhop/mesh/link"
	"farhop/observations"
)

func learn(t testing.TB, n *Net, log *observations.Log, at int64) *Links {
	t.Helper()
	l, err := Learn(context.Background(), n, log, at)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func edge(t testing.TB, l *Links, from, to, channel int, unix int64) Edge {
	t.Helper()
	e, ok := l.Edge(from, to, channel, unix)
	if !ok {
		t.Fatalf("no edge %d → %d on %d", from, to, channel)
	}
	return e
}

func TestFixedLinksNeedNoObservations(t *testing.T) {
	n := prepared(t, smallNet())
	l := learn(t, n, nil, at(12, 0, 0))
	const harbor, mill, summit, day, night = 0, 1, 2, 0, 1
	sure := edge(t, l, summit, harbor, day, at(12, 0, 0))
	if !sure.Fixed || !sure.Known || sure.Decode != 0.5 || sure.HasSNR || sure.Freshness != 1 || sure.Newest != 0 ||
		sure.Direction != (link.Direction{Kind: link.Certain, Decode: 0.5}) {
		t.Errorf("fixed chance: %+v", sure)
	}
	// Φ((snr − θ)/√(sd² + δ²)) with snr −12, sd 4, θ −16, δ 1.5.
	want := 0.5 * math.Erfc(-(4/math.Sqrt(16+2.25))/math.Sqrt2)
	spread := edge(t, l, mill, summit, day, at(12, 0, 0))
	if math.Abs(spread.Decode-want) > 1e-12 || !spread.HasSNR || spread.SNR != -12 || spread.SD != 4 ||
		spread.Direction != (link.Direction{Kind: link.Gaussian, Margin: 4, SD: 4, Noise: 1.5}) {
		t.Errorf("fixed SNR: %+v, want decode %v", spread, want)
	}
	for _, e := range [][3]int{{harbor, summit, day}, {summit, harbor, night}, {harbor, mill, day}, {harbor, harbor, day}} {
		if got, ok := l.Edge(e[0], e[1], e[2], 0); ok {
			t.Errorf("edge %v: %+v, want none", e, got)
		}
	}
	if l.Estimated() || l.Newest() != 0 || l.Counts != (observations.Counts{}) {
		t.Errorf("without observations: %v, %d, %+v", l.Estimated(), l.Newest(), l.Counts)
	}
}

func TestEdgeFollowsTheFilter(t *testing.T) {
	n := abcNet(t, func(n *Net) {
		n.CommonDB = 3
		n.Channels = append(n.Channels, Channel{Name: "day2", Frequency: dayHz + 50_000})
		n.Fixed = []FixedLink{{From: 0, To: 1, Channel: 2, Decode: 0.25, HasDecode: true}}
		n.Stations[2].Channels = []int{0}
	})
	log := makeLog([]row{
		{unix: at(12, 0, 0), receiver: "B", sender: "A", snr: -10, hz: dayHz, power: 5, senderAt: "RE44"},
		{unix: at(12, 0, 7), receiver: "C", sender: "A", snr: -15, hz: dayHz},
		{unix: at(12, 2, 0), receiver: "X", sender: "A", snr: -20, hz: dayHz, power: 20},
		{unix: at(12, 4, 0), receiver: "B", sender: "A", snr: -12, hz: dayHz, senderAt: "RE45"},
	})
	now := at(13, 0, 0)
	l := learn(t, n, log, now)

	model, err := link.NewModel(n.Link)
	if err != nil {
		t.Fatal(err)
	}
	s := model.NewState()
	model.Report(s, at(12, 0, 0), -10+10*math.Log10(10/float64(5)), true)
	model.Miss(s, at(12, 2, 0), 10*math.Log10(10.0/20))
	model.Move(s, at(12, 4, 0), 1-6371.0088*math.Pi/180/300)
	model.Unwitnessed(s, at(12, 4, 0), -12, 0)
	for _, unix := range []int64{now, now + 3600, now + 86400} {
		f := model.Forecast(s, unix)
		e := edge(t, l, 0, 1, 0, unix)
		if math.Abs(e.SNR-f.SNR) > 1e-9 || math.Abs(e.SD-f.SD) > 1e-9 || math.Abs(e.Decode-f.Decode) > 1e-9 ||
			math.Abs(e.ClimateSD-f.ClimateSD) > 1e-9 || math.Abs(e.Freshness-f.Freshness) > 1e-9 || e.Known != f.Known {
			t.Errorf("edge %+v, filter %+v", e, f)
		}
		if e.Reports != 2 || e.Unwitnessed != 1 || e.Misses != 1 || e.Newest != at(12, 4, 0) || e.Fixed || e.Inferred {
			t.Errorf("evidence of %+v", e)
		}
		if d := e.Direction; d.Common != 3 || d.SD != e.SD || d.Margin != e.SNR+16 {
			t.Errorf("direction %+v of %+v", d, e)
		}
	}
	// On the second channel of the band the plan has the word, one way.
	if e := edge(t, l, 0, 1, 2, now); !e.Fixed || e.Decode != 0.25 {
		t.Errorf("fixed link: %+v", e)
	}
	// The other way nobody has heard or missed anybody.
	prior := edge(t, l, 1, 0, 2, now)
	if prior.Known || prior.Reports != 0 || prior.Newest != 0 || prior.Freshness != 0 ||
		math.Abs(prior.SNR-(n.Slots.HalfDecodeDB+n.Link.MeanDB)) > 1e-9 {
		t.Errorf("a pair without any opportunity: %+v", prior)
	}
	// C doesn't use night.
	if e, ok := l.Edge(0, 2, 1, now); ok {
		t.Errorf("a channel that C doesn't use: %+v", e)
	}
	if l.Newest() != at(12, 4, 0) || l.Place(0) != "RE45" || l.Place(1) != "" {
		t.Errorf("newest %d, A at %q, B at %q", l.Newest(), l.Place(0), l.Place(1))
	}
}

func TestNeverHeardIsEvidence(t *testing.T) {
	n := abcNet(t, watch(1, WatchDeclared))
	var rows []row
	for m := range 60 {
		rows = append(rows, row{unix: at(12, 0, 0) + int64(m)*120, receiver: "C", sender: "A", snr: -5, hz: dayHz})
	}
	l := learn(t, n, makeLog(rows), at(14, 0, 0))
	heard, never := edge(t, l, 0, 2, 0, at(14, 0, 0)), edge(t, l, 0, 1, 0, at(14, 0, 0))
	if never.Reports != 0 || never.Misses != 60 || never.Decode > 0.02 {
		t.Errorf("B has missed A for two hours: %+v", never)
	}
	if heard.Reports != 60 || heard.Unwitnessed != 60 || heard.Decode < 0.95 {
		t.Errorf("C has heard A for two hours: %+v", heard)
	}
}

func TestProblemsOfTheNet(t *testing.T) {
	n := abcNet(t, nil)
	log := makeLog([]row{{unix: at(12, 0, 0), receiver: "B", sender: "A", channel: "dawn"}})
	log.Problems, log.ProblemCount = []observations.Problem{{Line: 9}}, 1
	l := learn(t, n, log, forever)
	first, count := l.Problems()
	if count != 1 || len(first) != 1 || !strings.Contains(first[0].Message, "dawn") {
		t.Errorf("problems %+v, %d", first, count)
	}
	if len(log.Problems) != 1 || log.Counts.Rejected != 0 || l.Counts.Rejected != 1 {
		t.Error("learning changed the log")
	}
}

func TestLearnRefusesBadSettings(t *testing.T) {
	n := abcNet(t, nil)
	n.Link.FastTau = -time.Hour
	if _, err := Learn(context.Background(), n, nil, 0); err == nil || !strings.Contains(err.Error(), "FastTau") {
		t.Errorf("error %v", err)
	}
}

// allEdges is every edge at some moments, to compare.
func allEdges(l *Links, moments ...int64) []Edge {
	var list []Edge
	for _, unix := range moments {
		list = append(list, l.Graph(unix).Edges()...)
	}
	return list
}

// TestWorkersAgree learns with one and with several workers.
func TestWorkersAgree(t *testing.T) {
	n, log := benchLog(40, 40_000)
	end := log.Reports[len(log.Reports)-1].Time
	var want []Edge
	for _, procs := range []int{1, 2, 5} {
		before := runtime.GOMAXPROCS(procs)
		l := learn(t, n, log, end)
		runtime.GOMAXPROCS(before)
		got := allEdges(l, end, end+7200)
		if want == nil {
			want = got
		} else if !reflect.DeepEqual(got, want) {
			t.Fatalf("%d workers learn something else", procs)
		}
		if c := l.Counts; c.Used != 40_000 && c.Used+c.Duplicate != c.Read {
			t.Errorf("counts %+v", c)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Learn(ctx, n, log, end); err == nil {
		t.Error("a cancelled pass came to an end")
	}
}

// TestOrderOfInput shuffles lines and splits them over files: the links are the same.
func TestOrderOfInput(t *testing.T) {
	dir := t.TempDir()
	read := func(t *rapid.T, files ...[]string) *observations.Log {
		var inputs []observations.Input
		for i, lines := range files {
			path := filepath.Join(dir, strconv.Itoa(i)+".csv")
			text := "time,receiver,sender,snr_db,frequency_hz,power_w\n" + strings.Join(lines, "")
			if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
			inputs = append(inputs, observations.Input{Path: path})
		}
		log, err := observations.Read(context.Background(), inputs, observations.Options{Moment: time.Unix(at(22, 0, 0)+8*3600, 0)})
		if err != nil {
			t.Fatal(err)
		}
		return log
	}
	used := 0
	rapid.Check(t, func(t *rapid.T) {
		n, log := drawCase(t)
		var lines []string
		for i := range log.Reports {
			if r := &log.Reports[i]; r.Channel == 0 {
				lines = append(lines, csvLine(log, r))
			}
		}
		end := at(22, 0, 0) + 6*3600
		want, err := Learn(context.Background(), n, read(t, lines), end)
		if err != nil {
			t.Fatal(err)
		}
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "shuffle"), 1))
		r.Shuffle(len(lines), func(i, j int) { lines[i], lines[j] = lines[j], lines[i] })
		cut := len(lines) / 2
		got, err := Learn(context.Background(), n, read(t, lines[:cut], lines[cut:]), end)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(allEdges(got, end, end+3600), allEdges(want, end, end+3600)) || got.Counts != want.Counts {
			t.Fatal("shuffled lines give other links")
		}
		used += got.Counts.Used
	})
	if used < 1000 {
		t.Errorf("only %d reports were used", used)
	}
}

func csvLine(log *observations.Log, r *observations.Report) string {
	hz, power := "", ""
	if r.Frequency != 0 {
		hz = strconv.Itoa(int(r.Frequency))
	}
	if r.Power != 0 {
		power = strconv.Itoa(int(r.Power))
	}
	return fmt.Sprintf("%d,%s,%s,%g,%s,%s\n", r.Time, log.Call(r.Receiver), log.Call(r.Sender), r.SNR, hz, power)
}

// underway is a link whose state is told by its hour; known on the hour and inferred as stated.
type underway struct{ knownFrom, knownUntil int64 }

func (u underway) Edge(from, to, channel int, unix int64) (Edge, bool) {
	return Edge{SNR: float64(unix), Known: unix >= u.knownFrom && unix < u.knownUntil}, from != to
}

// A hop meets the link midway, and may use it if it is known then or at the start.
func TestUnderway(t *testing.T) {
	s := DefaultSlots()
	midway := int64(s.Midway(9) / time.Second)
	for _, tt := range []struct {
		from, until int64
		known       bool
	}{
		{0, 1, true}, {midway, midway + 1, true}, {0, midway + 1, true}, {1, midway, false}, {midway + 1, midway + 2, false},
	} {
		e, ok := Underway(underway{1000 + tt.from, 1000 + tt.until}, s, 9, 0, 1, 0, 1000)
		if !ok || e.Known != tt.known || e.SNR != float64(1000+midway) {
			t.Errorf("known from %d s to %d s: %+v", tt.from, tt.until, e)
		}
	}
	if _, ok := Underway(underway{0, 5000}, s, 9, 1, 1, 0, 1000); ok {
		t.Error("a link from a station to itself")
	}
}

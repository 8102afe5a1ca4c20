package mesh

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"farhop/observations"
)

// row is a report in short: an empty frequency means none was given, a line
// number counts by itself.
type row struct {
	unix             int64
	receiver, sender string
	snr              float32
	hz               uint32
	power            float32
	receiverAt       string // locators
	senderAt         string
	channel          string
}

// makeLog makes rows a log as reading would leave it.
func makeLog(rows []row, claims ...observations.Claim) *observations.Log {
	log := &observations.Log{Sources: []string{"test.csv"}, Claims: claims}
	sites := make(map[observations.Site]observations.SiteID)
	site := func(call, locator string) observations.SiteID {
		s := observations.Site{Call: strings.ToUpper(call), Locator: locator}
		id, ok := sites[s]
		if !ok {
			id = observations.SiteID(len(log.Sites))
			sites[s] = id
			log.Sites = append(log.Sites, s)
		}
		return id
	}
	for i, r := range rows {
		report := observations.Report{
			Time: r.unix, Frequency: r.hz, SNR: r.snr, Power: r.power, Line: uint32(i + 1),
			Receiver: site(r.receiver, r.receiverAt), Sender: site(r.sender, r.senderAt),
		}
		if r.channel != "" {
			at := slices.Index(log.Channels, r.channel)
			if at < 0 {
				at = len(log.Channels)
				log.Channels = append(log.Channels, r.channel)
			}
			report.Channel = uint16(at + 1)
		}
		log.Reports = append(log.Reports, report)
	}
	slices.SortStableFunc(log.Reports, func(a, b observations.Report) int {
		return cmp.Or(cmp.Compare(a.Time, b.Time),
			strings.Compare(log.Call(a.Sender), log.Call(b.Sender)), strings.Compare(log.Call(a.Receiver), log.Call(b.Receiver)),
			cmp.Compare(a.Frequency, b.Frequency), cmp.Compare(a.SNR, b.SNR), cmp.Compare(a.Line, b.Line))
	})
	log.Counts.Read = len(rows)
	return log
}

// site finds a site that the rows of a log made.
func site(t *testing.T, log *observations.Log, call string) observations.SiteID {
	t.Helper()
	for i := range log.Sites {
		if log.Sites[i].Call == call {
			return observations.SiteID(i)
		}
	}
	t.Fatalf("no site %s", call)
	return 0
}

const (
	dayHz, nightHz, otherHz = 7131000, 3651000, 14101000
	forever                 = math.MaxInt64
)

// traced runs Trace and writes each event as text.
func traced(t *testing.T, n *Net, log *observations.Log, at int64) ([]string, *Account) {
	t.Helper()
	var events []Event
	a, err := Trace(context.Background(), n, log, at, func(batch []Event) error {
		events = append(events, batch...)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	var list []string
	for _, e := range events {
		p := a.Pairs[e.Link]
		kind := []string{"report", "unwitnessed", "miss", "move"}[e.Kind]
		s := fmt.Sprintf("%s %s→%s %s %s", time.Unix(e.Unix, 0).UTC().Format("15:04:05"),
			n.Stations[p.From].Call, n.Stations[p.To].Call, a.Bands[p.Band], kind)
		if e.Kind != EventMiss {
			s += fmt.Sprintf(" %.4g", e.Value)
		}
		if e.Raise != 0 {
			s += fmt.Sprintf(" raise %.4g", e.Raise)
		}
		list = append(list, s)
	}
	return list, a
}

// abcNet has stations A, B and C that listen as the change says, on day (40 m)
// and night (80 m), 2 minute slots.
func abcNet(t *testing.T, change func(*Net)) *Net {
	t.Helper()
	n := &Net{Slots: DefaultSlots(), Channels: []Channel{{Name: "day", Frequency: dayHz}, {Name: "night", Frequency: nightHz}}}
	n.Slots.Length, n.Slots.Keyed = 2*time.Minute, time.Minute
	for _, call := range []string{"A", "B", "C"} {
		n.Stations = append(n.Stations, Station{Call: call, PowerW: 10})
	}
	if change != nil {
		change(n)
	}
	return prepared(t, n)
}

func watch(station int, w Watch) func(*Net) {
	return func(n *Net) { n.Stations[station].Watch = w }
}

func TestTraceRules(t *testing.T) {
	sounds := func(n *Net) {
		n.Stations[0].Soundings = []Sounding{{Channel: 0, Every: 20 * time.Minute, After: 8 * time.Minute}}
		n.Stations[1].Watch = WatchDeclared
	}
	report := func(h, m, s int, receiver, sender string, hz uint32) row {
		return row{unix: at(h, m, s), receiver: receiver, sender: sender, snr: -10, hz: hz}
	}
	tests := []struct {
		name   string
		net    func(*Net)
		rows   []row
		until  int64 // 0 = all
		want   []string
		counts observations.Counts
	}{
		{
			name: "one report proves no other transmission",
			rows: []row{report(12, 0, 0, "B", "A", dayHz)},
			want: []string{"12:00:00 A→B 40m unwitnessed -10"},
		},
		{
			name: "two receivers are each other's witness",
			rows: []row{report(12, 0, 0, "B", "A", dayHz), report(12, 1, 59, "C", "A", dayHz)},
			want: []string{"12:00:00 A→B 40m report -10", "12:01:59 A→C 40m report -10"},
		},
		{
			name: "a station outside the net is a witness",
			rows: []row{report(12, 0, 0, "B", "A", dayHz), report(12, 0, 0, "X", "A", dayHz)},
			want: []string{"12:00:00 A→B 40m report -10"},
		},
		{
			name: "not in another slot",
			rows: []row{report(12, 0, 0, "B", "A", dayHz), report(12, 2, 0, "X", "A", dayHz)},
			// B is still listening at 12:02, so X's report is a miss of B's.
			want: []string{"12:00:00 A→B 40m unwitnessed -10", "12:02:00 A→B 40m miss"},
		},
		{
			name: "not on another band",
			rows: []row{report(12, 0, 0, "B", "A", dayHz), report(12, 0, 0, "X", "A", nightHz)},
			want: []string{"12:00:00 A→B 40m unwitnessed -10"},
		},
		{
			name: "hearing another in the same slot proves listening",
			rows: []row{report(12, 0, 0, "B", "X", dayHz), report(12, 0, 0, "C", "A", dayHz)},
			want: []string{"12:00:00 A→C 40m unwitnessed -10", "12:00:00 A→B 40m miss"},
		},
		{
			name: "and for ten minutes after, not longer",
			rows: []row{
				report(12, 0, 0, "B", "X", dayHz),
				report(12, 10, 0, "X", "A", dayHz), report(12, 12, 0, "X", "A", dayHz),
			},
			want: []string{"12:10:00 A→B 40m miss"},
		},
		{
			name: "nobody listens who has not been heard from",
			rows: []row{report(12, 0, 0, "X", "A", dayHz), report(12, 4, 0, "B", "X", dayHz)},
			want: nil,
		},
		{
			name: "a sender does not listen",
			rows: []row{report(12, 0, 0, "B", "A", dayHz), report(12, 2, 0, "A", "B", dayHz), report(12, 2, 0, "X", "C", dayHz)},
			want: []string{
				"12:00:00 A→B 40m unwitnessed -10",
				"12:02:00 B→A 40m unwitnessed -10", "12:02:00 C→A 40m miss",
			},
		},
		{
			name: "a sender does not listen on any band",
			rows: []row{report(12, 0, 0, "B", "X", dayHz), report(12, 0, 0, "C", "B", otherHz), report(12, 0, 0, "X", "A", dayHz)},
			want: nil,
		},
		{
			name: "a report on another band in the slot proves absence",
			rows: []row{
				report(12, 0, 0, "B", "X", dayHz), report(12, 0, 0, "B", "X", otherHz),
				report(12, 0, 0, "X", "A", dayHz),
			},
			want: nil,
		},
		{
			name: "a report on another band since the last on this one proves absence, until the next",
			rows: []row{
				report(12, 0, 0, "B", "X", dayHz), report(12, 2, 0, "B", "X", nightHz),
				report(12, 4, 0, "X", "A", dayHz),
				report(12, 6, 0, "B", "X", dayHz), report(12, 8, 0, "X", "A", dayHz),
			},
			want: []string{"12:08:00 A→B 40m miss"},
		},
		{
			name: "several receivers are on all bands and silent only while sending",
			net:  watch(1, WatchAll),
			rows: []row{
				report(12, 0, 0, "B", "X", nightHz), report(12, 0, 0, "X", "A", dayHz),
				report(12, 2, 0, "X", "A", dayHz), report(12, 2, 0, "C", "B", nightHz),
			},
			want: []string{"12:00:00 A→B 40m miss", "12:02:00 B→C 80m unwitnessed -10"},
		},
		{
			name: "several receivers only on channels in window, and on the air",
			net: func(n *Net) {
				n.Stations[1].Watch = WatchAll
				n.Stations[1].OnAir = Windows{[]Span{{12 * 3600, 3600}}}
				n.Channels[0].Windows = Windows{[]Span{{0, 12*3600 + 1800}}}
			},
			rows: []row{
				report(11, 58, 0, "X", "A", dayHz), report(12, 0, 0, "X", "A", dayHz), report(12, 30, 0, "X", "A", dayHz),
				report(12, 58, 0, "X", "A", nightHz), report(13, 0, 0, "X", "A", nightHz),
			},
			want: []string{"12:00:00 A→B 40m miss", "12:58:00 A→B 80m miss"},
		},
		{
			name: "declared listens to its watch",
			net:  watch(1, WatchDeclared),
			rows: []row{report(12, 0, 0, "X", "A", dayHz), report(12, 2, 0, "X", "A", nightHz)},
			want: []string{"12:00:00 A→B 40m miss"},
		},
		{
			name: "declared but heard elsewhere",
			net:  watch(1, WatchDeclared),
			rows: []row{
				report(12, 0, 0, "B", "X", otherHz), report(12, 2, 0, "X", "A", dayHz),
				report(12, 4, 0, "B", "X", dayHz), report(12, 6, 0, "X", "A", dayHz),
			},
			want: []string{"12:06:00 A→B 40m miss"},
		},
		{
			name: "declared changes bands by the plan",
			net: func(n *Net) {
				n.Stations[1].Watch = WatchDeclared
				n.Channels[0].Windows = Windows{[]Span{{12 * 3600, 6 * 3600}}}
			},
			rows: []row{
				report(11, 58, 0, "B", "X", nightHz), report(12, 0, 0, "X", "A", dayHz), report(12, 2, 0, "X", "A", nightHz),
			},
			want: []string{"12:00:00 A→B 40m miss"},
		},
		{
			name: "a sounding is a witness while the station is alive",
			net:  sounds,
			rows: []row{report(12, 0, 0, "X", "A", nightHz), report(12, 28, 0, "C", "A", dayHz)},
			want: []string{
				"12:08:00 A→B 40m miss",
				"12:28:00 A→C 40m report -10", "12:28:00 A→B 40m miss",
			},
			until: at(12, 47, 0),
		},
		{
			name:  "a sounding under way proves nothing yet",
			net:   sounds,
			rows:  []row{report(12, 0, 0, "X", "A", nightHz)},
			until: at(12, 9, 59),
		},
		{
			name:  "a sounding that is over does",
			net:   sounds,
			rows:  []row{report(12, 0, 0, "X", "A", nightHz)},
			want:  []string{"12:08:00 A→B 40m miss"},
			until: at(12, 10, 0),
		},
		{
			name: "not after the station has been silent for long",
			net: func(n *Net) {
				sounds(n)
				n.Evidence = DefaultEvidence()
				n.Evidence.SilentAfter = 28 * time.Minute
			},
			rows:  []row{report(12, 0, 0, "X", "A", nightHz), report(15, 0, 0, "B", "C", dayHz)},
			want:  []string{"12:08:00 A→B 40m miss", "12:28:00 A→B 40m miss", "15:00:00 C→B 40m unwitnessed -10"},
			until: at(18, 0, 0),
		},
		{
			name:  "nor by a report in the same slot alone",
			net:   sounds,
			rows:  []row{report(12, 8, 0, "C", "A", dayHz)},
			want:  []string{"12:08:00 A→C 40m unwitnessed -10", "12:08:00 A→B 40m miss"},
			until: at(12, 20, 0),
		},
		{
			name: "duplicates count once, the strongest",
			rows: []row{
				{unix: at(12, 0, 0), receiver: "B", sender: "A", snr: -10, hz: dayHz},
				{unix: at(12, 0, 5), receiver: "B", sender: "A", snr: -7, hz: dayHz + 40},
				{unix: at(12, 1, 0), receiver: "B", sender: "A", snr: -7, hz: dayHz},
			},
			want:   []string{"12:00:05 A→B 40m unwitnessed -7"},
			counts: observations.Counts{Read: 3, Duplicate: 2, Used: 1},
		},
		{
			name: "power is scaled to the planned",
			rows: []row{
				{unix: at(12, 0, 0), receiver: "B", sender: "A", snr: -10, hz: dayHz, power: 1},
				{unix: at(12, 2, 0), receiver: "C", sender: "A", snr: -10, hz: dayHz, power: 100},
				{unix: at(12, 4, 0), receiver: "C", sender: "A", snr: -10, hz: dayHz, power: 10},
			},
			want: []string{
				"12:00:00 A→B 40m unwitnessed 0 raise 10",
				"12:02:00 A→C 40m unwitnessed -20 raise -10", "12:02:00 A→B 40m miss raise -10",
				"12:04:00 A→C 40m unwitnessed -10", "12:04:00 A→B 40m miss",
			},
		},
		{
			name: "without frequency: the named channel, else the watch",
			rows: []row{
				{unix: at(12, 0, 0), receiver: "B", sender: "A", channel: "night"},
				{unix: at(12, 2, 0), receiver: "C", sender: "A"},
				{unix: at(12, 4, 0), receiver: "X", sender: "A"},
				{unix: at(12, 6, 0), receiver: "B", sender: "A", channel: "dawn"},
			},
			want:   []string{"12:00:00 A→B 80m unwitnessed 0", "12:02:00 A→C 40m unwitnessed 0"},
			counts: observations.Counts{Read: 4, Rejected: 2, Used: 2},
		},
		{
			name: "strangers among themselves and bands of no channel are outside",
			rows: []row{
				report(12, 0, 0, "X", "Y", dayHz), report(12, 0, 0, "B", "A", otherHz), report(12, 0, 0, "B", "X", dayHz),
			},
			want:   nil,
			counts: observations.Counts{Read: 3, Outside: 2, Used: 1},
		},
		{
			name: "a station does not hear itself under another name",
			net:  func(n *Net) { n.Stations[0].Also = []string{"AA"} },
			rows: []row{report(12, 0, 0, "A", "AA", dayHz), report(12, 0, 0, "B", "AA", dayHz)},
			want: []string{"12:00:00 A→B 40m unwitnessed -10"}, counts: observations.Counts{Read: 2, Rejected: 1, Used: 1},
		},
		{
			name:  "what comes after the moment is set apart",
			rows:  []row{report(12, 0, 0, "B", "A", dayHz), report(12, 0, 1, "X", "A", dayHz)},
			until: at(12, 0, 0),
			want:  []string{"12:00:00 A→B 40m unwitnessed -10"}, counts: observations.Counts{Read: 2, Later: 1, Used: 1},
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			n := abcNet(t, tt.net)
			log := makeLog(tt.rows)
			until := tt.until
			if until == 0 {
				until = forever
				for i := range n.Stations {
					if n.Stations[i].Soundings != nil {
						until = tt.rows[len(tt.rows)-1].unix + 120
					}
				}
			}
			got, a := traced(t, n, log, until)
			if !slices.Equal(got, tt.want) {
				t.Errorf("events\n\t%s\nwant\n\t%s", strings.Join(got, "\n\t"), strings.Join(tt.want, "\n\t"))
			}
			if (tt.counts != observations.Counts{}) && a.Counts != tt.counts {
				t.Errorf("counts %+v, want %+v", a.Counts, tt.counts)
			}
			if c := a.Counts; c.Read != c.Rejected+c.Earlier+c.Later+c.Duplicate+c.Outside+c.Used {
				t.Errorf("counts do not add up: %+v", c)
			}
			if a.ProblemCount != a.Counts.Rejected || len(a.Problems) != a.ProblemCount {
				t.Errorf("%d rejected, %d problems", a.Counts.Rejected, a.ProblemCount)
			}
		})
	}
}

func TestTraceProblems(t *testing.T) {
	n := abcNet(t, func(n *Net) { n.Stations[1].OnAir = Windows{[]Span{{0, 3600}}} })
	log := makeLog([]row{
		{unix: at(12, 0, 0), receiver: "X", sender: "A"},
		{unix: at(12, 0, 0), receiver: "B", sender: "A", channel: "dawn"},
		{unix: at(12, 0, 0), receiver: "B", sender: "C"},
	})
	_, a := traced(t, n, log, forever)
	want := map[int]string{1: "X is not in the plan", 2: `no channel "dawn"`, 3: "B listens to nothing then"}
	if len(a.Problems) != len(want) {
		t.Fatalf("problems %+v", a.Problems)
	}
	for _, p := range a.Problems {
		if p.Source != "test.csv" || !strings.Contains(p.Message, want[p.Line]) || p.Mend == "" || p.Field == "" {
			t.Errorf("problem %+v, want one that says %q", p, want[p.Line])
		}
	}
}

func TestTraceMoves(t *testing.T) {
	heardAt := func(m int, sender, locator string) row {
		return row{unix: at(12, m, 0), receiver: "B", sender: sender, snr: -10, hz: dayHz, senderAt: locator}
	}
	home := func(n *Net) { n.Stations[0].Locator = "RE44" }
	tests := []struct {
		name string
		net  func(*Net)
		rows []row
		want []string // moves among the events
		at   string   // where A is in the end
	}{
		{
			name: "one degree north: 111.2 km of 300",
			net:  home,
			rows: []row{heardAt(0, "A", "RE44"), heardAt(2, "A", "RE44"), heardAt(4, "A", "RE45")},
			want: []string{"12:04:00 A→B 40m move 0.6293"}, at: "RE45", // 1 − 111.2/300
		},
		{
			name: "too far to know anything",
			net:  home,
			rows: []row{heardAt(0, "A", "RE44"), heardAt(2, "A", "QF22")},
			want: []string{"12:02:00 A→B 40m move 0"}, at: "QF22",
		},
		{
			name: "more or less exactly is no move",
			net:  home,
			rows: []row{heardAt(0, "A", "RE44"), heardAt(2, "A", "re44ab"), heardAt(4, "A", "RE44AB12"), heardAt(6, "A", "RE44")},
			at:   "RE44AB12",
		},
		{
			name: "no locator is no move",
			net:  home,
			rows: []row{heardAt(0, "A", "RE44"), heardAt(2, "A", ""), heardAt(4, "A", "RE44")},
			at:   "RE44",
		},
		{
			name: "the plan counts until a report says otherwise",
			net:  home,
			rows: []row{heardAt(0, "A", ""), heardAt(2, "A", "RE45")},
			want: []string{"12:02:00 A→B 40m move 0.6293"}, at: "RE45",
		},
		{
			name: "nothing is known to have moved without a first place",
			rows: []row{heardAt(0, "A", ""), heardAt(2, "A", "RE45")},
			at:   "RE45",
		},
		{
			name: "what can't be a locator is passed over",
			net:  home,
			rows: []row{heardAt(0, "A", ""), heardAt(2, "A", "ZZZZ"), heardAt(4, "A", "RE44")},
			at:   "RE44",
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			n := abcNet(t, tt.net)
			got, a := traced(t, n, makeLog(tt.rows), forever)
			got = slices.DeleteFunc(got, func(s string) bool { return !strings.Contains(s, "move") })
			if !slices.Equal(got, tt.want) {
				t.Errorf("moves %q, want %q", got, tt.want)
			}
			if a.Places[0] != tt.at {
				t.Errorf("A is at %q, want %q", a.Places[0], tt.at)
			}
			if len(a.Moves) != len(tt.want) {
				t.Errorf("moves %+v", a.Moves)
			}
		})
	}
}

func TestTraceMoveTakesAllLinks(t *testing.T) {
	n := abcNet(t, nil)
	both := func(m int, locator string) []row {
		return []row{
			{unix: at(12, m, 0), receiver: "B", sender: "A", hz: dayHz, senderAt: locator},
			{unix: at(12, m, 0), receiver: "C", sender: "B", hz: nightHz},
			{unix: at(12, m+2, 0), receiver: "A", sender: "C", hz: nightHz, receiverAt: locator},
		}
	}
	got, _ := traced(t, n, makeLog(append(both(0, "RE44"), both(20, "RE45")...)), forever)
	var moves []string
	for _, s := range got {
		if strings.Contains(s, "move") {
			moves = append(moves, strings.Fields(s)[1])
		}
	}
	if want := []string{"A→B", "C→A"}; !slices.Equal(moves, want) {
		t.Errorf("moved links %v, want %v", moves, want)
	}
}

func TestTraceClaims(t *testing.T) {
	heard := func(m int, receiver, sender string, hz uint32) row {
		return row{unix: at(12, m, 0), receiver: receiver, sender: sender, hz: hz}
	}
	tests := []struct {
		name  string
		net   func(*Net)
		rows  []row
		claim string // channel of a claim of B's at 12:10
		want  []string
	}{
		{
			name: "whoever sent in the window and is not listed was missed",
			rows: []row{
				heard(0, "X", "A", dayHz), heard(4, "X", "A", dayHz), heard(4, "X", "C", dayHz),
				heard(10, "B", "C", dayHz),
			},
			want: []string{"12:10:00 C→B 40m unwitnessed 0", "12:00:00 A→B 40m miss", "12:04:00 A→B 40m miss"},
		},
		{
			name: "not before the window",
			rows: []row{{unix: at(11, 58, 0), receiver: "X", sender: "A", hz: dayHz}, heard(10, "B", "C", dayHz)},
			want: []string{"12:10:00 C→B 40m unwitnessed 0"},
		},
		{
			name: "not while it sent, nor in a slot in which it was elsewhere",
			rows: []row{
				heard(2, "X", "A", dayHz), heard(2, "X", "B", dayHz),
				heard(4, "X", "A", dayHz), heard(4, "B", "X", nightHz),
				heard(6, "X", "A", dayHz),
				heard(10, "B", "C", dayHz),
			},
			want: []string{"12:10:00 C→B 40m unwitnessed 0", "12:06:00 A→B 40m miss"},
		},
		{
			name: "nor twice: what was judged already stays",
			rows: []row{heard(0, "B", "X", dayHz), heard(4, "X", "A", dayHz), heard(10, "B", "C", dayHz)},
			want: []string{"12:04:00 A→B 40m miss", "12:10:00 C→B 40m unwitnessed 0"},
		},
		{
			name: "only on the channel it names",
			rows: []row{heard(4, "X", "A", dayHz), heard(4, "X", "C", nightHz), heard(10, "B", "X", nightHz)},
			want: []string{"12:04:00 C→B 80m miss"}, claim: "night",
		},
		{
			name: "an unknown channel says nothing",
			rows: []row{heard(4, "X", "A", dayHz)}, claim: "dawn",
		},
		{
			name: "nobody else's reports change",
			net:  watch(2, WatchDeclared),
			rows: []row{heard(4, "X", "A", dayHz), heard(10, "B", "X", dayHz)},
			want: []string{"12:04:00 A→C 40m miss", "12:04:00 A→B 40m miss"},
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			log := makeLog(append(tt.rows, row{unix: at(0, 0, 0), receiver: "Y", sender: "B", hz: otherHz}))
			c := observations.Claim{Time: at(12, 10, 0), Receiver: site(t, log, "B"), Line: 7}
			if tt.claim != "" {
				log.Channels = append(log.Channels, tt.claim)
				c.Channel = uint16(len(log.Channels))
			}
			log.Claims = []observations.Claim{c}
			got, a := traced(t, abcNet(t, tt.net), log, forever)
			if !slices.Equal(got, tt.want) {
				t.Errorf("events\n\t%s\nwant\n\t%s", strings.Join(got, "\n\t"), strings.Join(tt.want, "\n\t"))
			}
			if unknown := tt.claim == "dawn"; unknown != (a.ProblemCount == 1) {
				t.Errorf("problems %+v", a.Problems)
			}
			before, _ := traced(t, abcNet(t, tt.net), log, c.Time-1)
			if !slices.Equal(before, got[:len(before)]) {
				t.Errorf("before the claim %q, after it %q", before, got)
			}
		})
	}
}

func TestTraceStops(t *testing.T) {
	var rows []row
	for i := range 5000 {
		rows = append(rows, row{unix: at(0, 0, 0) + int64(i)*120, receiver: "B", sender: "A", hz: dayHz})
	}
	n, log := abcNet(t, nil), makeLog(rows)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Trace(ctx, n, log, forever, func([]Event) error { return nil }); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	mine := errors.New("enough")
	if _, err := Trace(context.Background(), n, log, forever, func([]Event) error { return mine }); !errors.Is(err, mine) {
		t.Errorf("stopped: %v", err)
	}
	log.Reports[0], log.Reports[1] = log.Reports[1], log.Reports[0]
	if _, err := Trace(context.Background(), n, log, forever, func([]Event) error { return nil }); err == nil {
		t.Error("an unsorted log was taken")
	}
}

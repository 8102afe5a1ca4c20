package mesh

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"farhop/observations"
)

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

package mesh

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"farhop/observations"
)

// inspected writes each finding as kind, severity and stations.
func inspected(t *testing.T, n *Net, log *observations.Log, now int64) (short []string, long map[string]Finding) {
	t.Helper()
	l := learn(t, n, log, now)
	long = make(map[string]Finding)
	for _, f := range Inspect(n, log, l, now) {
		key := fmt.Sprint(f.Kind, " ", f.Severity, " ", strings.Join(f.Stations, ","))
		short = append(short, key)
		long[key] = f
	}
	return short, long
}

// hearsAll makes every station of abcNet hear every other once, so that nothing is
// left to find.
func hearsAll() []row {
	var rows []row
	for i, pair := range []string{"AB", "BA", "AC", "CA", "BC", "CB"} {
		rows = append(rows, row{unix: at(12, 2*i, 0), receiver: pair[:1], sender: pair[1:], snr: -10, hz: dayHz})
	}
	return rows
}

func TestInspect(t *testing.T) {
	tests := []struct {
		name string
		net  func(*Net)
		rows []row
		want string // kind, severity and stations of the only finding
		says []string
	}{
		{name: "nothing wrong", rows: hearsAll()},
		{
			name: "silent",
			net:  func(n *Net) { n.Stations = append(n.Stations, Station{Call: "D", PowerW: 5}) },
			rows: hearsAll(), want: "silent warning D", says: []string{"none of the reports"},
		},
		{
			name: "never heard",
			net:  func(n *Net) { n.Stations = append(n.Stations, Station{Call: "D", PowerW: 5}) },
			rows: append(hearsAll(), row{unix: at(12, 30, 0), receiver: "D", sender: "X", hz: dayHz}, row{unix: at(12, 30, 0), receiver: "D", sender: "X", hz: dayHz}),
			want: "never-heard warning D", says: []string{"2 reports of its own"},
		},
		{
			name: "never reported",
			net:  func(n *Net) { n.Stations = append(n.Stations, Station{Call: "D", PowerW: 5}) },
			rows: append(hearsAll(), row{unix: at(12, 30, 0), receiver: "X", sender: "D", hz: dayHz}),
			want: "no-reports warning D", says: []string{"1 time"},
		},
		{
			name: "a slip of the pen",
			net:  func(n *Net) { n.Stations[0].Also = []string{"GLACIER"} },
			rows: append(hearsAll(), row{unix: at(12, 30, 0), receiver: "B", sender: "glacer", hz: dayHz}),
			want: "not-in-plan warning GLACER", says: []string{"nearest name is GLACIER", "was heard 1 time, by B;"},
		},
		{
			name: "a stranger",
			rows: append(hearsAll(), row{unix: at(12, 30, 0), receiver: "FARAWAY", sender: "A", hz: dayHz}),
			want: "not-in-plan hint FARAWAY", says: []string{"heard members 1 time: A"},
		},
		{
			name: "a jump",
			rows: append(hearsAll(),
				row{unix: at(12, 30, 0), receiver: "B", sender: "A", hz: dayHz, senderAt: "RE44"},
				row{unix: at(12, 32, 0), receiver: "B", sender: "A", hz: dayHz, senderAt: "RE45"}),
			want: "moved warning A", says: []string{"once", "from RE44 to RE45, 111 km", "2026-03-02 12:32Z"},
		},
		{
			name: "another band",
			rows: append(hearsAll(), row{unix: at(12, 30, 0), receiver: "B", sender: "A", hz: otherHz}),
			want: "no-channel hint ", says: []string{"1 report between members on 20m"},
		},
		{
			name: "no return",
			rows: hearsAll()[:5], // B hears C, C doesn't hear B
			want: "no-return hint B", says: []string{"B hears C (40m)", "0 misses"},
		},
		{
			name: "power",
			rows: append(hearsAll(),
				row{unix: at(12, 30, 0), receiver: "B", sender: "A", hz: dayHz, power: 2},
				row{unix: at(12, 32, 0), receiver: "B", sender: "A", hz: dayHz, power: 2},
				row{unix: at(12, 34, 0), receiver: "B", sender: "A", hz: dayHz, power: 10}),
			want: "power warning A", says: []string{"planned at 10 W", "2 of 3 reports", "middle is 2 W, -7.0 dB"},
		},
		{
			name: "from the future",
			rows: append(hearsAll(), row{unix: at(21, 0, 0), receiver: "B", sender: "A", hz: dayHz}),
			want: "clock warning ", says: []string{"1 report dated after 2026-03-02 20:00Z"},
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			n := abcNet(t, tt.net)
			short, long := inspected(t, n, makeLog(tt.rows), at(20, 0, 0))
			if tt.want == "" {
				if len(short) > 0 {
					t.Fatalf("findings %q", short)
				}
				return
			}
			short = slices.DeleteFunc(short, func(s string) bool { return s == "not-in-plan hint X" })
			if len(short) != 1 || short[0] != tt.want {
				t.Fatalf("findings %q, want %q", short, tt.want)
			}
			for _, part := range tt.says {
				if f := long[tt.want]; !strings.Contains(f.Message, part) {
					t.Errorf("message %q does not say %q", f.Message, part)
				}
			}
		})
	}
}

func TestInspectPlace(t *testing.T) {
	n := abcNet(t, func(n *Net) { n.Stations[0].Locator = "RE44" })
	rows := append(hearsAll(), row{unix: at(13, 0, 0), receiver: "B", sender: "A", hz: dayHz, senderAt: "RE45AB"})
	short, long := inspected(t, n, makeLog(rows), at(20, 0, 0))
	if len(short) != 2 || short[0] != "moved warning A" || short[1] != "other-place warning A" {
		t.Fatalf("findings %q", short)
	}
	if m := long[short[1]].Message; !strings.Contains(m, "plan has A at RE44") || !strings.Contains(m, "RE45AB") {
		t.Errorf("message %q", m)
	}
}

// TestInspectPlan needs no observations.
func TestInspectPlan(t *testing.T) {
	n := abcNet(t, func(n *Net) {
		n.Channels[0].Windows = Windows{[]Span{{6 * 3600, 3600}}}
		n.Channels = append(n.Channels, Channel{Name: "spare", Frequency: otherHz})
		for i := range n.Stations {
			n.Stations[i].Channels = []int{0, 1}
		}
		n.Stations[2].Channels = []int{0}
		n.Stations[2].OnAir = Windows{[]Span{{12 * 3600, 3600}}}
		n.Fixed = []FixedLink{
			{From: 0, To: 1, Channel: 0, Decode: 1, HasDecode: true},
			{From: 0, To: 2, Channel: 0, Decode: 1, HasDecode: true},
		}
	})
	var got []string
	for _, f := range Inspect(n, nil, learn(t, n, nil, 0), 0) {
		got = append(got, fmt.Sprint(f.Kind, " ", f.Stations))
	}
	want := "[never-usable [C] never-usable [] never-usable [A C]]"
	if fmt.Sprint(got) != want {
		t.Errorf("findings %v, want %v", got, want)
	}
}

// clockRows has A send in odd slots, heard by B and, a given time later by its
// clock, by C.
func clockRows(late time.Duration, regular bool) []row {
	var rows []row
	slot := at(0, 0, 0)
	for k := range 40 {
		step := int64(1 + k*k%7)
		if regular {
			step = 10
		}
		slot += step * 120
		rows = append(rows,
			row{unix: slot, receiver: "B", sender: "A", snr: -10, hz: dayHz},
			row{unix: slot + int64(late.Seconds()), receiver: "C", sender: "A", snr: -10, hz: dayHz})
	}
	return append(rows, hearsAll()...)
}

func TestInspectClocks(t *testing.T) {
	tests := []struct {
		late time.Duration
		says string // "" nothing
	}{
		{0, ""},
		{50 * time.Second, ""}, // within the slot
		{2 * time.Minute, "C looks 2m0s fast"},
		{-4 * time.Minute, "C looks 4m0s slow"},
		{3 * time.Hour, "C looks 3h0m0s fast"},
		{-11 * time.Hour, "C looks 11h0m0s slow"},
	}
	for _, tt := range tests {
		n := abcNet(t, nil)
		log := makeLog(clockRows(tt.late, false))
		var got []string
		for _, f := range Inspect(n, log, learn(t, n, log, at(0, 0, 0)+86400), at(0, 0, 0)+86400) {
			if f.Kind == FindClock && f.Stations[0] == "C" {
				got = append(got, f.Message)
			}
		}
		if tt.says == "" && len(got) == 0 || len(got) == 1 && strings.Contains(got[0], tt.says) && tt.says != "" {
			continue
		}
		t.Errorf("%v late: findings %q, want %q", tt.late, got, tt.says)
	}
	// A sounds every 20 minutes and C hears it at other hours than B: no clock is wrong.
	n := abcNet(t, func(n *Net) { n.Stations[0].Soundings = []Sounding{{Channel: 0, Every: 20 * time.Minute}} })
	log := makeLog(clockRows(14*time.Hour, true))
	for _, f := range Inspect(n, log, learn(t, n, log, at(0, 0, 0)+2*86400), at(0, 0, 0)+2*86400) {
		if f.Kind == FindClock {
			t.Errorf("regular sender: %q", f.Message)
		}
	}
	// Planning for yesterday with reports from after now.
	log = makeLog(hearsAll())
	for _, f := range Inspect(n, log, learn(t, n, log, at(13, 0, 0)), at(12, 5, 0)) {
		if f.Kind == FindClock && !strings.Contains(f.Message, "dated after now") {
			t.Errorf("future reports: %q", f.Message)
		}
	}
}

func TestInspectManyStrangers(t *testing.T) {
	rows := hearsAll()
	for i := range 30 {
		rows = append(rows, row{unix: at(13, 0, 0), receiver: fmt.Sprintf("FAR%03d", i), sender: "A", hz: dayHz})
	}
	short, long := inspected(t, abcNet(t, nil), makeLog(rows), at(20, 0, 0))
	if len(short) != mostListed+1 {
		t.Fatalf("%d findings", len(short))
	}
	f := long[short[mostListed]]
	if f.Message != "10 more findings of the same kind, about FAR020, FAR021, FAR022, FAR023, FAR024, FAR025 and 4 more" || len(f.Stations) != 10 {
		t.Errorf("summary %+v", f)
	}
}

package mesh

import (
	"slices"
	"strings"
	"testing"

	"farhop/observations"
)

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

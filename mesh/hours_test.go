package mesh

import (
	"testing"

	"pgregory.net/rapid"

	"farhop/observations"
)

func TestMoment(t *testing.T) {
	for _, tt := range []struct {
		unix int64
		want moment
	}{
		{0, moment{0, 1}},
		{3599, moment{0, 1}},
		{3600, moment{1, 1}},
		{86399, moment{23, 1}},
		{86400, moment{0, 2}},
		{-1, moment{23, 0}},
		{1_772_409_600 + 5*3600 + 1, moment{5, 20515}}, // 2026-03-02 05:00:01Z, 20514 days since 1970
	} {
		if got := momentOf(tt.unix); got != tt.want {
			t.Errorf("%d: %+v, want %+v", tt.unix, got, tt.want)
		}
	}
}

// An hour counts that was seen lately, or lies in a gap of no more than three hours
// between two such, by looking at all pairs around the clock.
func TestHoursAttested(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const today = 20515
		var h hourly
		lately := make([]bool, dayHours)
		for range rapid.IntRange(0, 8).Draw(t, "times") {
			m := moment{rapid.IntRange(0, 23).Draw(t, "hour"), today - int32(rapid.SampledFrom([]int{-2, 0, 1, 59, 60, 61, 400}).Draw(t, "days ago"))}
			h.mark(m)
			lately[m.hour] = lately[m.hour] || today-m.day <= attestedDays
		}
		for hour := range dayHours {
			want := lately[hour]
			for a := range dayHours {
				for b := range dayHours {
					since, until := (hour-a+dayHours)%dayHours, (b-hour+dayHours)%dayHours
					want = want || lately[a] && lately[b] && since+until <= attestedGap
				}
			}
			if got := h.attests(moment{hour, today}); got != want {
				t.Fatalf("hour %d: %v, want %v of %v", hour, got, want, h)
			}
		}
	})
}

func TestMarksKeepTheNewestDay(t *testing.T) {
	var h hourly
	h.mark(moment{3, 50})
	h.mark(moment{3, 40})
	if h[3] != 50 || h[4] != 0 {
		t.Errorf("%v", h)
	}
}

// dayOnly has A and B hear each other by day, 09:00 to 16:59, for three weeks, and C
// be heard by A around the clock on another band.
func dayOnly() []row {
	var rows []row
	for unix := at(0, 0, 0); unix < at(0, 0, 0)+21*86400; unix += 600 {
		if hour := unix / 3600 % 24; hour >= 9 && hour < 17 {
			rows = append(rows, row{unix: unix, receiver: "B", sender: "A", snr: -5, hz: dayHz}, row{unix: unix + 300, receiver: "A", sender: "B", snr: -6, hz: dayHz})
		}
	}
	return rows
}

// Known are hours at which both ends are known to be there; the climate alone would
// let hours beside them be known too.
func TestKnownOnlyWhereSomebodyIs(t *testing.T) {
	const lastHour, nextHour, night = 16, 17, 2
	start := at(0, 0, 0) + 21*86400
	hourOf := func(h int64) int64 { return start + h*3600 + 1800 }
	n := abcNet(t, nil)
	l := learn(t, n, makeLog(dayOnly()), start)
	for _, tt := range []struct {
		name  string
		unix  int64
		known bool
	}{
		{"the middle of the day", hourOf(12), true},
		{"the last hour", hourOf(lastHour), true},
		{"its last second", hourOf(lastHour) + 1799, true},
		{"the hour after", hourOf(lastHour) + 1800, false},
		{"well into it", hourOf(nextHour), false},
		{"the hour before", hourOf(8), false},
		{"the night", hourOf(night), false},
	} {
		e := edge(t, l, 0, 1, 0, tt.unix)
		if e.Known != tt.known {
			t.Errorf("%s: known %v, want %v (climate ± %.1f dB)", tt.name, e.Known, tt.known, e.ClimateSD)
		}
	}
	if e := edge(t, l, 0, 1, 0, hourOf(nextHour)); e.ClimateSD > n.Link.KnownSD || e.Decode < 0.5 {
		t.Errorf("the hour after is unknown anyway: %+v", e)
	}
}

// What else says that somebody is there at an hour.
func TestThereByOtherMeans(t *testing.T) {
	start := at(0, 0, 0) + 21*86400
	after := start + 17*3600 + 1800 // the hour after the operators' last
	evening := at(17, 20, 0) + 19*86400
	for _, tt := range []struct {
		name   string
		change func(*Net)
		rows   []row
		claims []observations.Claim
		known  bool // A to B in the hour after
		back   bool // B to A
	}{
		{name: "nothing"},
		{
			name: "both declare to listen", known: true, back: true,
			change: func(n *Net) { n.Stations[0].Watch, n.Stations[1].Watch = WatchDeclared, WatchDeclared },
		},
		{
			name: "one of them declares to", change: func(n *Net) { n.Stations[1].Watch = WatchDeclared },
		},
		{
			name: "both declare to, but the plan has one of them off the air", change: func(n *Net) {
				n.Stations[0].Watch, n.Stations[1].Watch = WatchDeclared, WatchDeclared
				n.Stations[0].OnAir = mustWindows(t, "09:00-17:00")
			},
		},
		{
			name: "one is heard by others, the other listens to others", known: true,
			rows: []row{{unix: evening, receiver: "C", sender: "A", snr: -3, hz: nightHz}, {unix: evening, receiver: "B", sender: "C", snr: -3, hz: dayHz}},
		},
		{
			name: "one listens to others, on another band", rows: []row{{unix: evening, receiver: "C", sender: "A", snr: -3, hz: nightHz}, {unix: evening, receiver: "B", sender: "C", snr: -3, hz: nightHz}},
		},
		{
			name: "both listen to others", known: true, back: true,
			rows: []row{{unix: evening, receiver: "A", sender: "C", snr: -3, hz: dayHz}, {unix: evening, receiver: "B", sender: "C", snr: -3, hz: dayHz}},
		},
	} {
		t.Run(tt.name, func(t *testing.T) {
			n := abcNet(t, tt.change)
			l := learn(t, n, makeLog(append(dayOnly(), tt.rows...), tt.claims...), start)
			if e := edge(t, l, 0, 1, 0, after); e.Known != tt.known {
				t.Errorf("there: known %v, want %v (climate ± %.1f dB)", e.Known, tt.known, e.ClimateSD)
			}
			if e := edge(t, l, 1, 0, 0, after); e.Known != tt.back {
				t.Errorf("back: known %v, want %v (climate ± %.1f dB)", e.Known, tt.back, e.ClimateSD)
			}
			// Another plan with the same stations in other places of its list knows as much.
			other := n.Without(2)
			if e, want := edge(t, replan(t, l, other), 0, 1, 0, after), tt.known; e.Known != want {
				t.Errorf("replanned: known %v, want %v", e.Known, want)
			}
		})
	}
}

// A complete list proves that its writer listened, even to nothing.
func TestThereByClaim(t *testing.T) {
	start := at(0, 0, 0) + 21*86400
	evening := at(17, 20, 0) + 19*86400
	log := makeLog(append(dayOnly(), row{unix: evening, receiver: "C", sender: "A", snr: -3, hz: dayHz}))
	n := abcNet(t, nil)
	after := start + 17*3600 + 1800
	if e := edge(t, learn(t, n, log, start), 0, 1, 0, after); e.Known {
		t.Errorf("B has not been heard of at that hour: %+v", e)
	}
	log.Claims = []observations.Claim{{Time: evening, Receiver: site(t, log, "B"), Channel: 1}}
	log.Channels = []string{"day"}
	if e := edge(t, learn(t, n, log, start), 0, 1, 0, after); !e.Known {
		t.Errorf("B has listened to nothing: %+v", e)
	}
}

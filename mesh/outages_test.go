package mesh

import (
	"context"
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"farhop/mesh/link"
	"farhop/observations"
)

// soundingNet has A sound on day every ten minutes, B and C listen to it.
func soundingNet(t *testing.T) *Net {
	return abcNet(t, func(n *Net) {
		n.Evidence = DefaultEvidence()
		n.Stations[0].Soundings = []Sounding{{Channel: 0, Every: 10 * time.Minute}}
		n.Stations[1].Watch, n.Stations[2].Watch = WatchAll, WatchAll
	})
}

// aDayOff is a log in which B hears A for a day, then nobody does for so long,
// then B does for an hour.
func aDayOff(off time.Duration) *observations.Log {
	var rows []row
	hear := func(from, to int64) {
		for unix := from; unix <= to; unix += 600 {
			rows = append(rows, row{unix: unix, receiver: "B", sender: "A", snr: -10, hz: dayHz})
		}
	}
	back := at(12, 0, 0) + int64(off/time.Second)
	hear(at(12, 0, 0)-86400, at(12, 0, 0))
	hear(back, back+3600)
	return makeLog(rows)
}

// After an outage the links are as if the soundings of that time had never been;
// a silence that ends before is taken for what it is, a shut path.
func TestOutagesTeachNothing(t *testing.T) {
	n := soundingNet(t)
	silent := n.Evidence.SilentAfter
	for _, off := range []time.Duration{silent - 20*time.Minute, silent + 20*time.Minute, 30 * silent} {
		log := aDayOff(off)
		back := at(12, 0, 0) + int64(off/time.Second)
		links, err := Learn(context.Background(), n, log, back+3720)
		if err != nil {
			t.Fatal(err)
		}
		m, err := link.NewModel(n.Link)
		if err != nil {
			t.Fatal(err)
		}
		first := at(12, 0, 0) - 86400
		heard, missed := m.NewState(), m.NewState() // by B, by C
		for unix := first; unix <= back+3600; unix += 600 {
			switch {
			case unix <= at(12, 0, 0) || unix >= back:
				// Of the very first, and of the first after an outage, nobody else knew.
				m.Report(heard, unix, -10, unix > first && (unix != back || off < silent))
				m.Miss(missed, unix, 0)
			case off < silent:
				m.Miss(heard, unix, 0)
				m.Miss(missed, unix, 0)
			}
		}
		for to, state := range map[int]*link.State{1: heard, 2: missed} {
			e, want := edge(t, links, 0, to, 0, back+7200), m.Forecast(state, back+7200)
			if math.Abs(e.SNR-want.SNR) > 1e-9 || math.Abs(e.SD-want.SD) > 1e-9 || e.Newest != back+3600 {
				t.Errorf("%v off, to %d: %+v, want %+v", off, to, e, want)
			}
		}
	}
}

// While an outage lasts, its misses count until it is known for one.
func TestOutageIsFoundInTime(t *testing.T) {
	n := soundingNet(t)
	log := aDayOff(100 * time.Hour)
	newest := func(unix int64) int64 {
		links, err := Learn(context.Background(), n, log, unix)
		if err != nil {
			t.Fatal(err)
		}
		return edge(t, links, 0, 1, 0, unix).Newest
	}
	last := at(12, 0, 0)
	found := last + int64(n.Evidence.SilentAfter/time.Second)
	for _, tt := range []struct{ at, want int64 }{
		{last + 719, last}, {last + 720, last + 600}, {found + 119, found - 600}, {found + 720, last}, {found + 50*3600, last},
	} {
		if got := newest(tt.at); got != tt.want {
			t.Errorf("%d s after A was heard the newest evidence is %d s later, want %d", tt.at-last, got-last, tt.want-last)
		}
	}
}

// news is a silence or an outage, and from when on.
type news struct {
	unix int64
	kind EventKind
}

// silences is the news of a station by the definition, asked slot by slot.
func (o *oracle) silences(s int) (list []news) {
	call, silent := o.n.Stations[s].Call, int64(o.n.Evidence.SilentAfter/time.Second)
	quiet := false
	for _, k := range o.visited() {
		last := int64(math.MinInt64)
		for _, f := range o.facts {
			if f.s == call && f.slot < k {
				last = max(last, f.time)
			}
		}
		if quiet && last < k-silent {
			list, quiet = append(list, news{k, EventOutage}), false
		}
		switch {
		case o.exists(func(f fact) bool { return f.s == call && f.slot == k }):
			quiet = false
		case !quiet && o.anySounding(s, k):
			list, quiet = append(list, news{k, EventSilent}), true
		}
	}
	return list
}

// visited lists the slots with a report, or with a sounding of anybody that is over.
func (o *oracle) visited() (slots []int64) {
	if len(o.facts) == 0 {
		return nil
	}
	length := int64(o.n.Slots.Length / time.Second)
	for k := o.facts[0].slot; k <= o.slotOf(o.at); k += length {
		due := slices.ContainsFunc(o.log.Reports, func(r observations.Report) bool { return r.Time <= o.at && o.slotOf(r.Time) == k })
		for s := range o.n.Stations {
			for c := range o.n.Channels {
				due = due || k+length <= o.at && o.n.SoundsOn(s, c, k)
			}
		}
		if due {
			slots = append(slots, k)
		}
	}
	return slots
}

// Every link is told of the silences and outages of its sender, from its own first
// evidence on.
func TestOutagesAgainstDefinition(t *testing.T) {
	seen := map[EventKind]int{}
	untilSeen(t, seen, []EventKind{EventSilent, EventOutage}, func(t *rapid.T) {
		n, log := drawCase(t)
		log.Claims = nil
		until := at(22, 0, 0) + int64(rapid.IntRange(0, 9*3600).Draw(t, "until"))
		o := newOracle(n, log, until)
		got, began := map[int32][]news{}, map[int32]int64{}
		a, err := Trace(context.Background(), n, log, until, func(batch []Event) error {
			for _, e := range batch {
				if _, begun := began[e.Link]; !begun {
					began[e.Link] = o.slotOf(e.Unix)
				}
				if e.Kind == EventSilent || e.Kind == EventOutage {
					got[e.Link] = append(got[e.Link], news{e.Unix, e.Kind})
					seen[e.Kind]++
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range a.Pairs {
			want := o.silences(int(p.From))
			want = slices.DeleteFunc(want, func(w news) bool { return w.unix <= began[int32(i)] })
			if !slices.Equal(got[int32(i)], want) {
				t.Fatalf("%+v was told %v, want %v", p, got[int32(i)], want)
			}
		}
	})
}

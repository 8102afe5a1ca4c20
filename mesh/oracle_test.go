package mesh

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"farhop/observations"
)

// oracle judges evidence the slow way: for each slot, band and ordered pair it
// asks the questions of Trace's definition one by one, looking through all reports
// every time. It shares nothing with the pass but the plan's own answers
// (WatchOf, Listens, SoundsOn, Find).
type oracle struct {
	n     *Net
	log   *observations.Log
	at    int64
	facts []fact
}

// fact is a report without its duplicates.
type fact struct {
	r, s  string // member's call, or the stranger's after a '?'
	band  observations.Band
	slot  int64
	time  int64
	snr   float64
	power float64
}

func newOracle(n *Net, log *observations.Log, at int64) *oracle {
	o := &oracle{n: n, log: log, at: at}
	until := *log
	until.Reports = slices.DeleteFunc(slices.Clone(log.Reports), func(r observations.Report) bool { return r.Time > at })
	number := func(call string) uint32 {
		if i, ok := n.Find(call); ok {
			return uint32(i)
		}
		for i := range log.Sites {
			if log.Sites[i].Call == call {
				return uint32(len(n.Stations) + i)
			}
		}
		panic("a report without a site")
	}
	all, _ := until.Distinct(n.Slots.Length, func(r *observations.Report) (uint32, uint32, observations.Band, bool) {
		receiver, sender := number(log.Call(r.Receiver)), number(log.Call(r.Sender))
		band, ok := o.bandOf(r)
		return receiver, sender, band, ok && receiver != sender
	})
	for i := range all {
		r := &all[i]
		band, _ := o.bandOf(r)
		f := fact{
			r: o.name(log.Call(r.Receiver)), s: o.name(log.Call(r.Sender)), band: band,
			slot: o.slotOf(r.Time), time: r.Time, snr: float64(r.SNR), power: float64(r.Power),
		}
		if strings.HasPrefix(f.r, "?") && strings.HasPrefix(f.s, "?") {
			continue
		}
		o.facts = append(o.facts, f)
	}
	return o
}

func (o *oracle) name(call string) string {
	if i, ok := o.n.Find(call); ok {
		return o.n.Stations[i].Call
	}
	return "?" + call
}

func (o *oracle) slotOf(unix int64) int64 {
	length := int64(o.n.Slots.Length.Seconds())
	return int64(math.Floor(float64(unix)/float64(length))) * length
}

func (o *oracle) bandOf(r *observations.Report) (observations.Band, bool) {
	if r.Frequency > 0 {
		return observations.BandOf(r.Frequency), true
	}
	if r.Channel > 0 {
		for _, c := range o.n.Channels {
			if c.Name == o.log.Channels[r.Channel-1] {
				return observations.BandOf(c.Frequency), true
			}
		}
		return 0, false
	}
	i, ok := o.n.Find(o.log.Call(r.Receiver))
	if !ok {
		return 0, false
	}
	c, ok := o.n.WatchOf(i, o.slotOf(r.Time))
	if !ok {
		return 0, false
	}
	return observations.BandOf(o.n.Channels[c].Frequency), true
}

// exists reports whether any fact has the property.
func (o *oracle) exists(is func(fact) bool) bool { return slices.ContainsFunc(o.facts, is) }

func (o *oracle) bands() []observations.Band {
	var list []observations.Band
	for _, c := range o.n.Channels {
		if b := observations.BandOf(c.Frequency); !slices.Contains(list, b) {
			list = append(list, b)
		}
	}
	return list
}

// sounded: a planned sounding that is over, of a station that is alive.
func (o *oracle) sounded(s int, band observations.Band, slot int64) bool {
	planned := false
	for c := range o.n.Channels {
		planned = planned || observations.BandOf(o.n.Channels[c].Frequency) == band && o.n.SoundsOn(s, c, slot)
	}
	if !planned || slot+int64(o.n.Slots.Length.Seconds()) > o.at {
		return false
	}
	silent := int64(o.n.Evidence.SilentAfter.Seconds())
	return o.exists(func(f fact) bool {
		return f.s == o.n.Stations[s].Call && f.slot < slot && f.time >= slot-silent
	})
}

func (o *oracle) anySounding(s int, slot int64) bool {
	return slices.ContainsFunc(o.bands(), func(b observations.Band) bool { return o.sounded(s, b, slot) })
}

// sent: the station is known to have sent something in the slot.
func (o *oracle) sent(s int, slot int64) bool {
	call := o.n.Stations[s].Call
	return o.exists(func(f fact) bool { return f.s == call && f.slot == slot }) || o.anySounding(s, slot)
}

// witnessed: somebody other than r knows that s sent on the band.
func (o *oracle) witnessed(s, r int, band observations.Band, slot int64) bool {
	from, to := o.n.Stations[s].Call, o.n.Stations[r].Call
	return o.sounded(s, band, slot) || o.exists(func(f fact) bool {
		return f.s == from && f.r != to && f.band == band && f.slot == slot
	})
}

// watched: r watched the band in the slot.
func (o *oracle) watched(r int, band observations.Band, slot int64) bool {
	st := &o.n.Stations[r]
	mine := func(f fact) bool { return f.r == st.Call && f.slot <= slot }
	lastHere := int64(math.MinInt64)
	for _, f := range o.facts {
		if mine(f) && f.band == band {
			lastHere = max(lastHere, f.time)
		}
	}
	since := int64(math.MinInt64)
	switch st.Watch {
	case WatchAll:
		listens := false
		for c := range o.n.Channels {
			listens = listens || observations.BandOf(o.n.Channels[c].Frequency) == band && o.n.Listens(r, c, slot)
		}
		return listens && !o.sent(r, slot)
	case WatchDeclared:
		on := func(slot int64) bool {
			c, ok := o.n.WatchOf(r, slot)
			return ok && observations.BandOf(o.n.Channels[c].Frequency) == band
		}
		if !on(slot) {
			return false
		}
		length := int64(o.n.Slots.Length.Seconds())
		for since = slot; on(since-length) && since > slot-DaySeconds; {
			since -= length
		}
		if since == slot-DaySeconds {
			since = math.MinInt64
		}
	case WatchHeard:
		if lastHere < slot-int64(o.n.Evidence.ListeningWindow.Seconds()) {
			return false
		}
	}
	elsewhere := o.exists(func(f fact) bool {
		return mine(f) && f.band != band && (f.slot == slot || f.time > lastHere && f.time >= since)
	})
	return !elsewhere && !o.sent(r, slot)
}

// judged is an event with names in place of numbers.
type judged struct {
	from, to string
	band     observations.Band
	unix     int64
	kind     EventKind
	value    float64
	raise    float64
}

// events lists every report and miss, in order of slot, pair and band.
func (o *oracle) events() []judged {
	var slots []int64
	length := int64(o.n.Slots.Length.Seconds())
	if len(o.facts) > 0 {
		last := o.slotOf(o.at)
		for k := o.facts[0].slot; k <= last; k += length {
			slots = append(slots, k)
		}
	}
	var list []judged
	for _, k := range slots {
		for _, b := range o.bands() {
			for s := range o.n.Stations {
				for r := range o.n.Stations {
					if r != s {
						list = o.judge(list, s, r, b, k)
					}
				}
			}
		}
	}
	return o.claims(list)
}

func (o *oracle) judge(list []judged, s, r int, b observations.Band, k int64) []judged {
	e := judged{from: o.n.Stations[s].Call, to: o.n.Stations[r].Call, band: b}
	planned := o.n.Stations[s].PowerW
	for _, f := range o.facts {
		if f.s != e.from || f.r != e.to || f.band != b || f.slot != k {
			continue
		}
		e.unix, e.value = f.time, f.snr
		if f.power > 0 && f.power != planned {
			e.value += 10 * math.Log10(planned/f.power)
			e.raise = e.value - f.snr
		}
		if o.witnessed(s, r, b, k) {
			return append(list, e)
		}
		e.kind = EventUnwitnessed
		return append(list, e)
	}
	if !o.witnessed(s, r, b, k) || !o.watched(r, b, k) {
		return list
	}
	e.unix, e.kind, e.raise = k, EventMiss, o.missRaise(s, b, k)
	return append(list, e)
}

func (o *oracle) missRaise(s int, b observations.Band, k int64) float64 {
	most := 0.0
	for _, f := range o.facts {
		if f.s == o.n.Stations[s].Call && f.band == b && f.slot == k {
			most = max(most, f.power)
		}
	}
	if most == 0 {
		return 0
	}
	return 10 * math.Log10(o.n.Stations[s].PowerW/most)
}

// claims adds the misses that lists which say they are complete prove.
func (o *oracle) claims(list []judged) []judged {
	type seat struct {
		r    int
		band observations.Band
		slot int64
	}
	done := make(map[seat]bool)
	length := int64(o.n.Slots.Length.Seconds())
	window := int64(o.n.Evidence.ListeningWindow.Seconds())
	for _, c := range o.log.Claims {
		r, ok := o.n.Find(o.log.Call(c.Receiver))
		if !ok || c.Time > o.at {
			continue
		}
		band, ok := o.bandOf(&observations.Report{Time: c.Time, Receiver: c.Receiver, Channel: c.Channel})
		if !ok {
			continue
		}
		call, last := o.n.Stations[r].Call, o.slotOf(c.Time)
		for k := last - window/length*length; k <= last; k += length {
			away := o.n.Stations[r].Watch != WatchAll &&
				o.exists(func(f fact) bool { return f.r == call && f.slot == k && f.band != band })
			at := seat{r, band, k}
			if done[at] || away || o.sent(r, k) || o.watched(r, band, k) {
				continue
			}
			done[at] = true
			for s := range o.n.Stations {
				from := o.n.Stations[s].Call
				heard := func(slot int64) bool {
					return o.exists(func(f fact) bool { return f.r == call && f.s == from && f.band == band && f.slot == slot })
				}
				if s != r && !heard(last) && !heard(k) && o.witnessed(s, r, band, k) {
					list = append(list, judged{from, call, band, k, EventMiss, 0, o.missRaise(s, band, k)})
				}
			}
		}
	}
	return list
}

// drawCase makes a net and a log of a few hours, small enough for the oracle
// and dense enough for every rule to matter.
func drawCase(t *rapid.T) (*Net, *observations.Log) {
	n := &Net{Slots: DefaultSlots(), Evidence: DefaultEvidence()}
	n.Slots.Length = rapid.SampledFrom([]time.Duration{2 * time.Minute, 5 * time.Minute}).Draw(t, "slot")
	n.Evidence.SilentAfter = time.Duration(rapid.IntRange(5, 90).Draw(t, "silent")) * time.Minute
	n.Evidence.ListeningWindow = n.Slots.Length * time.Duration(rapid.IntRange(0, 4).Draw(t, "window"))
	windows := func(label string) Windows {
		if rapid.Bool().Draw(t, label+" always") {
			return Windows{}
		}
		from := rapid.IntRange(0, 47).Draw(t, label+" from") * 1800
		return Windows{[]Span{{from, rapid.IntRange(1, 47).Draw(t, label+" length") * 1800}}}
	}
	for i, hz := range []uint32{dayHz, nightHz, dayHz + 50_000} {
		n.Channels = append(n.Channels, Channel{Name: fmt.Sprint("c", i), Frequency: hz, Windows: windows("channel")})
	}
	for _, call := range []string{"A", "B", "C", "D"} {
		s := Station{
			Call: call, PowerW: 10, OnAir: windows("on air"), Also: []string{call + call},
			Watch: rapid.SampledFrom([]Watch{WatchHeard, WatchDeclared, WatchAll}).Draw(t, "watch"),
		}
		s.Channels = rapid.Permutation([]int{0, 1, 2}).Draw(t, "order")[:rapid.IntRange(1, 3).Draw(t, "channels")]
		for range rapid.IntRange(0, 2).Draw(t, "soundings") {
			every := rapid.IntRange(2, 12).Draw(t, "every") * 5
			s.Soundings = append(s.Soundings, Sounding{
				Channel: rapid.SampledFrom(s.Channels).Draw(t, "on"),
				Every:   time.Duration(every) * time.Minute, After: time.Duration(rapid.IntRange(0, every-1).Draw(t, "after")) * time.Minute,
			})
		}
		n.Stations = append(n.Stations, s)
	}
	if issues := n.Prepare(); len(issues) > 0 {
		t.Fatal(issues)
	}
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
	log := makeLog(drawRows(r, r.IntN(80)))
	for range r.IntN(12) {
		if len(log.Reports) == 0 {
			break
		}
		of := log.Reports[r.IntN(len(log.Reports))]
		claim := observations.Claim{Time: of.Time, Receiver: of.Receiver, Channel: of.Channel}
		log.Claims = append(log.Claims, claim)
		if r.IntN(2) == 0 { // their windows overlap
			claim.Time += int64(r.IntN(600))
			log.Claims = append(log.Claims, claim)
		}
	}
	slices.SortStableFunc(log.Claims, func(a, b observations.Claim) int {
		return cmp.Or(cmp.Compare(a.Time, b.Time), cmp.Compare(a.Receiver, b.Receiver), cmp.Compare(a.Channel, b.Channel))
	})
	return n, log
}

// drawRows makes up transmissions in five hours, each with some receivers.
func drawRows(r *rand.Rand, transmissions int) (rows []row) {
	pick := func(from ...string) string { return from[r.IntN(len(from))] }
	for range transmissions {
		sender := pick("A", "B", "C", "D", "A", "B", "C", "AA", "X")
		hz := []uint32{dayHz, dayHz, dayHz, nightHz, nightHz, otherHz, 0}[r.IntN(7)]
		channel := ""
		if hz == 0 {
			channel = pick("", "c0", "c1", "dawn")
		}
		unix := at(22, 0, 0) + int64(r.IntN(5*3600))
		for range 1 + r.IntN(4) {
			rows = append(rows, row{
				unix: unix + int64(r.IntN(60)), receiver: pick("A", "B", "C", "D", "DD", "Y"), sender: sender,
				snr: float32(-r.IntN(20)), hz: hz, channel: channel, power: []float32{0, 0, 10, 5, 20}[r.IntN(5)],
			})
		}
	}
	return rows
}

// passed runs Trace and puts names in the place of numbers, reports and misses only.
func passed(t interface{ Fatal(...any) }, n *Net, log *observations.Log, at int64) []judged {
	var events []Event
	a, err := Trace(context.Background(), n, log, at, func(batch []Event) error {
		events = append(events, batch...)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	var list []judged
	for _, e := range events {
		if p := a.Pairs[e.Link]; e.Kind.Evidence() {
			list = append(list, judged{n.Stations[p.From].Call, n.Stations[p.To].Call, a.Bands[p.Band], e.Unix, e.Kind, e.Value, e.Raise})
		}
	}
	return list
}

func sortJudged(list []judged) []judged {
	slices.SortFunc(list, func(a, b judged) int {
		return cmp.Or(cmp.Compare(a.unix, b.unix), cmp.Compare(a.from, b.from), cmp.Compare(a.to, b.to),
			cmp.Compare(a.band, b.band), cmp.Compare(a.kind, b.kind))
	})
	return list
}

func sameJudged(a, b judged) bool {
	near := func(x, y float64) bool { return math.Abs(x-y) < 1e-9 }
	return a.from == b.from && a.to == b.to && a.band == b.band && a.unix == b.unix && a.kind == b.kind &&
		near(a.value, b.value) && near(a.raise, b.raise)
}

func TestTraceAgainstOracle(t *testing.T) {
	seen := make(map[EventKind]int)
	untilSeen(t, seen, []EventKind{EventReport, EventUnwitnessed, EventMiss}, func(t *rapid.T) {
		n, log := drawCase(t)
		until := at(22, 0, 0) + int64(rapid.IntRange(-60, 6*3600).Draw(t, "until"))
		if rapid.Bool().Draw(t, "at a report") && len(log.Reports) > 0 {
			until = rapid.SampledFrom(log.Reports).Draw(t, "which").Time
		}
		got := sortJudged(passed(t, n, log, until))
		want := sortJudged(newOracle(n, log, until).events())
		for i := range max(len(got), len(want)) {
			if i >= len(got) || i >= len(want) || !sameJudged(got[i], want[i]) {
				t.Fatalf("event %d differs:\ngot  %+v\nwant %+v", i, got[i:min(i+1, len(got))], want[i:min(i+1, len(want))])
			}
			seen[got[i].kind]++
		}
	})
}

// untilSeen checks drawn cases, a hundred at a time, until they held a hundred of each
// kind, which check counts; how many one drawing holds is luck.
func untilSeen(t *testing.T, seen map[EventKind]int, kinds []EventKind, check func(*rapid.T)) {
	t.Helper()
	lacks := func(kind EventKind) bool { return seen[kind] < 100 }
	for range 30 {
		rapid.Check(t, check)
		if t.Failed() || !slices.ContainsFunc(kinds, lacks) {
			return
		}
	}
	t.Errorf("the cases hold too little: %v", seen)
}

// TestTraceLooksBack cuts the log off at every moment: what was told up to
// then must not change.
func TestTraceLooksBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, log := drawCase(t)
		until := at(22, 0, 0) + int64(rapid.IntRange(0, 5*3600).Draw(t, "until"))
		short := *log
		short.Reports = slices.DeleteFunc(slices.Clone(log.Reports), func(r observations.Report) bool { return r.Time > until })
		short.Claims = slices.DeleteFunc(slices.Clone(log.Claims), func(c observations.Claim) bool { return c.Time > until })
		if got, want := passed(t, n, log, until), passed(t, n, &short, until); !slices.Equal(got, want) {
			t.Fatalf("up to %d: with later reports in the log %v, without %v", until, got, want)
		}
	})
}

// TestTraceNeverTakesBack goes on from the end of any slot: later evidence only
// adds to what was told.
func TestTraceNeverTakesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, log := drawCase(t)
		length := int64(n.Slots.Length.Seconds())
		end := at(22, 0, 0) + int64(rapid.IntRange(0, 5*3600/int(length)).Draw(t, "slots"))*length
		short := *log
		short.Reports = slices.DeleteFunc(slices.Clone(log.Reports), func(r observations.Report) bool { return r.Time >= end })
		short.Claims = slices.DeleteFunc(slices.Clone(log.Claims), func(c observations.Claim) bool { return c.Time >= end })
		early, late := passed(t, n, &short, end), passed(t, n, log, at(22, 0, 0)+8*3600)
		if len(late) < len(early) || !slices.Equal(early, late[:len(early)]) {
			t.Fatalf("up to %d it told %v, later %v", end, early, late)
		}
	})
}

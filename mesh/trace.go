package mesh

import (
	"context"
	"errors"
	"math"

	"farhop/observations"
)

// batchSize is how many events go over at once.
const batchSize = 4096

// never is before any time.
const never = math.MinInt64

// heard is a report made ready: what it says about stations and bands of the net.
type heard struct {
	time             int64
	receiver, sender int32 // station index; from len(Stations) on, stations outside the net
	band             int32 // number, −1 where no channel is on it
	code             observations.Band
	snr, power       float32
	next             int32 // next report of the same transmission, −1 the last
}

// transmission is what a slot's evidence says that a member sent.
type transmission struct {
	station, band int32
	first, count  int32   // reports of it: index of the first into tracer.cur, how many
	power         float32 // the highest that a report states, 0 = none does
	sounding      bool
}

// tracer is the state of a pass: what is known at the current slot.
type tracer struct {
	n       *Net
	log     *observations.Log
	at      int64
	bands   bands
	plan    *schedule
	members int32
	length  int64 // slot length in s
	window  int64 // listening window in s
	silent  int64 // silent after, in s

	who    whoTable
	counts observations.Counts
	faults faults
	moves  []Moved
	newest int64

	// The slot at hand.
	start    int64
	hour     moment
	cur      []heard
	same     sameTable
	sent     []transmission
	sentAt   []stamped // transmission of each station and band
	sending  []int64   // slot in which each member last sent
	reported []int64   // mark of the transmission each member last reported
	mark     int64
	watching [][]int32 // by band

	// What came before.
	lastOn    []int64 // time of each member's last report on each band
	elsewhere []elsewhere
	heardAt   []int64   // time of the last report of each member, by anybody, before the slot
	heardEver int64     // the newest of them
	heardIn   []int64   // slot in which each member was last reported by anybody
	silences  []int32   // members whose links were told that they are silent
	quiet     []bool    // the same by member
	listening [][]int32 // by band: members with WatchHeard that reported on it lately
	inList    []bool
	claims    claims

	power    decibels
	links    linkTable
	presence presence
	out      outbox
}

// stamped is an index that is only valid in one slot.
type stamped struct {
	slot  int64
	index int32
}

// elsewhere knows a receiver's last report, and its last on any other band.
type elsewhere struct {
	band            observations.Band
	time, otherTime int64
}

// on takes in a report.
func (e *elsewhere) on(band observations.Band, time int64) {
	switch {
	case band == e.band:
		e.time = max(e.time, time)
	case time >= e.time:
		e.band, e.time, e.otherTime = band, time, e.time
	default:
		e.otherTime = max(e.otherTime, time)
	}
}

// than is the time of the last report on another band than the one given.
func (e *elsewhere) than(band observations.Band) int64 {
	if e.band == band {
		return e.otherTime
	}
	return e.time
}

func newTracer(n *Net, log *observations.Log, at int64, shards int, flush func(int, []Event) []Event) *tracer {
	t := &tracer{
		n: n, log: log, at: at, bands: makeBands(n), members: int32(len(n.Stations)),
		length: n.Slots.Seconds(),
		window: int64(n.Evidence.ListeningWindow.Seconds()), silent: int64(n.Evidence.SilentAfter.Seconds()),
		heardEver: never,
	}
	t.plan = makeSchedule(n, &t.bands)
	t.who = makeWhoTable(n, log)
	t.faults.log = log
	t.out = newOutbox(shards, flush)
	members, bands := len(n.Stations), len(t.bands.list)
	t.sentAt = make([]stamped, members*bands)
	t.sending = filled(members, never)
	t.reported = make([]int64, members)
	t.watching = make([][]int32, bands)
	t.lastOn = filled(members*bands, never)
	t.elsewhere = make([]elsewhere, members)
	for i := range t.elsewhere {
		t.elsewhere[i] = elsewhere{0, never, never}
	}
	for i := range t.sentAt {
		t.sentAt[i].slot = never
	}
	t.heardAt, t.heardIn = filled(members, never), filled(members, never)
	t.quiet = make([]bool, members)
	t.listening = make([][]int32, bands)
	t.inList = make([]bool, members*bands)
	t.links = newLinkTable(members, bands)
	t.presence = newPresence(members, bands)
	t.claims = makeClaims(log, at)
	return t
}

func filled(n int, v int64) []int64 {
	s := make([]int64, n)
	for i := range s {
		s[i] = v
	}
	return s
}

// errUnsorted is a mistake in the program: reading sorts.
var errUnsorted = errors.New("mesh: the log's reports are not sorted by time")

// run goes through the slots that have anything in them. stop is asked now and
// then whether to end early.
func (t *tracer) run(ctx context.Context, stop func() error) error {
	reports := t.log.Reports
	t.counts = t.log.Counts
	end := len(reports)
	for end > 0 && reports[end-1].Time > t.at {
		end--
	}
	t.counts.Later += len(reports) - end
	reports = reports[:end]
	visited := 0
	for i := 0; ; {
		start, ok := t.nextSlot(reports, i)
		if !ok {
			break
		}
		j := i
		for j < len(reports) && reports[j].Time < start+t.length {
			if reports[j].Time < start {
				return errUnsorted
			}
			j++
		}
		t.slot(start, reports[i:j])
		i = j
		if visited++; visited&1023 == 0 {
			if err := ctx.Err(); err != nil {
				return err
			}
			if err := stop(); err != nil {
				return err
			}
		}
	}
	t.out.flushAll()
	return ctx.Err()
}

// nextSlot is the start of the next slot with a report, a claim or a sounding
// that counts, after the current one.
func (t *tracer) nextSlot(reports []observations.Report, i int) (start int64, ok bool) {
	start = math.MaxInt64
	if i < len(reports) {
		start = t.slotOf(reports[i].Time)
	}
	if claim := t.claims.next(); claim != nil {
		start = min(start, t.slotOf(claim.Time))
	}
	if t.heardEver != never {
		from := t.start + t.length
		if skip := t.plan.next[secondOfDay(from)/int(t.length)]; skip >= 0 {
			due := from + int64(skip)*t.length
			if (t.heardEver >= due-t.silent || len(t.silences) > 0) && due+t.length <= t.at {
				start = min(start, due)
			}
		}
	}
	return start, start != math.MaxInt64
}

// slot takes in one slot's evidence.
func (t *tracer) slot(start int64, reports []observations.Report) {
	t.start, t.hour = start, momentOf(start)
	t.gather(reports)
	t.transmissions()
	t.outages()
	for i := range t.cur {
		t.mentioned(&t.cur[i])
	}
	t.watchers()
	t.reports()
	t.misses()
	t.claimed()
	for i := range t.cur {
		if h := &t.cur[i]; h.sender < t.members {
			t.heardAt[h.sender] = max(t.heardAt[h.sender], h.time)
			t.heardEver = max(t.heardEver, h.time)
		}
	}
}

// slotOf is the start of the slot that holds a time.
func (t *tracer) slotOf(unix int64) int64 { return floorDiv(unix, t.length) * t.length }

func (t *tracer) account() *Account {
	return &Account{
		Pairs: t.links.pairs, Bands: t.bands.list, Counts: t.counts, Problems: t.faults.kept,
		ProblemCount: t.faults.count, Moves: t.moves, Places: t.who.place, Newest: t.newest,
	}
}

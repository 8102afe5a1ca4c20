package mesh

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"farhop/observations"
	"farhop/observations/locator"
)

// FindingKind says what a Finding is about.
type FindingKind string

const (
	FindSilent     FindingKind = "silent"       // in the plan, nowhere in the observations
	FindUnheard    FindingKind = "never-heard"  // in the plan, nobody has reported it
	FindUnreported FindingKind = "no-reports"   // in the plan, has reported nobody
	FindStranger   FindingKind = "not-in-plan"  // in the observations, not in the plan
	FindMoved      FindingKind = "moved"        // its locator jumps
	FindElsewhere  FindingKind = "other-place"  // the plan and the reports disagree about where it is
	FindClock      FindingKind = "clock"        // its times look wrong
	FindBand       FindingKind = "no-channel"   // reports on a band without a channel
	FindOneWay     FindingKind = "no-return"    // hears stations that have never reported it
	FindPower      FindingKind = "power"        // reported power far from the plan's
	FindUnusable   FindingKind = "never-usable" // part of the plan that no slot of the day lets happen
)

// Severity says how much a Finding matters.
type Severity uint8

const (
	Hint    Severity = iota // worth knowing
	Warning                 // probably a mistake, or answers suffer from it
)

// String is "hint" or "warning".
func (s Severity) String() string {
	if s == Warning {
		return "warning"
	}
	return "hint"
}

// Finding is something a coordinator wants to know about plan and observations.
type Finding struct {
	Kind     FindingKind
	Severity Severity
	Stations []string // calls it is about, none when it is about the net
	Message  string   // what was found, with figures
	Mend     string   // what to do about it, "" when there is nothing to be done
}

// Inspect looks through plan and observations for what is doubtful. The log and
// the links are those of Learn, either may be nil; now is the time of asking in
// Unix seconds. Findings come by kind, then by call; of a kind with many the rest
// is told in one. Time is linear in the log.
func Inspect(n *Net, log *observations.Log, l *Links, now int64) []Finding {
	i := inspection{n: n, now: now, until: now}
	i.plan()
	if log == nil || l == nil || l.account == nil {
		return shortened(i.found)
	}
	i.log, i.links, i.until = log, l, l.at
	i.count()
	i.silent()
	i.strangers()
	i.moves()
	i.clocks()
	i.otherBands()
	i.oneWay()
	i.powers()
	return shortened(i.found)
}

// mostListed is how many findings of a kind are told one by one.
const mostListed = 20

// shortened sorts findings by kind and joins what is beyond mostListed of a kind
// into one.
func shortened(all []Finding) []Finding {
	order := []FindingKind{
		FindUnusable, FindSilent, FindUnheard, FindUnreported, FindStranger, FindMoved, FindElsewhere,
		FindClock, FindBand, FindOneWay, FindPower,
	}
	slices.SortStableFunc(all, func(a, b Finding) int { return slices.Index(order, a.Kind) - slices.Index(order, b.Kind) })
	var out []Finding
	for len(all) > 0 {
		same := 1
		for same < len(all) && all[same].Kind == all[0].Kind {
			same++
		}
		out = append(out, all[:min(same, mostListed)]...)
		if more := all[:same]; same > mostListed {
			more = more[mostListed:]
			sum := Finding{Kind: more[0].Kind, Mend: more[0].Mend}
			for _, f := range more {
				sum.Severity = max(sum.Severity, f.Severity)
				sum.Stations = append(sum.Stations, f.Stations...)
			}
			slices.Sort(sum.Stations)
			sum.Stations = slices.Compact(sum.Stations)
			sum.Message = fmt.Sprintf("%s of the same kind, about %s", plural(len(more), "more finding"), listed(sum.Stations))
			out = append(out, sum)
		}
		all = all[same:]
	}
	return out
}

// inspection gathers findings.
type inspection struct {
	n     *Net
	log   *observations.Log
	links *Links
	now   int64
	until int64
	found []Finding

	who      whoTable
	heard    []int             // reports of each member
	reported []int             // reports by each member
	watts    []map[float32]int // powers stated for each member
	others   map[string]*stranger
	bands    map[observations.Band]int // reports between members on bands of no channel
	ahead    []int                     // reports by each member dated after now
	farthest []int64                   // and how far
}

// stranger is a station that is not in the plan.
type stranger struct {
	heard, reported int
	with            map[int]bool // members it heard or was heard by
}

func (i *inspection) add(kind FindingKind, severity Severity, stations []string, mend, format string, args ...any) {
	i.found = append(i.found, Finding{kind, severity, stations, fmt.Sprintf(format, args...), mend})
}

func (i *inspection) call(station int) string { return i.n.Stations[station].Call }

// plan looks for parts of the plan that can never happen.
func (i *inspection) plan() {
	for s := range i.n.Stations {
		if !i.inDay(func(slot int64) bool { _, ok := i.n.WatchOf(s, slot); return ok }) {
			i.add(FindUnusable, Warning, []string{i.call(s)}, "mend on_air, channels or the windows of the channels",
				"%s never listens to any channel: no whole slot of the day has it on the air and a channel of its own in window",
				i.call(s))
		}
	}
	for c := range i.n.Channels {
		used := false
		for s := range i.n.Stations {
			used = used || i.n.uses(s, c)
		}
		if !used {
			i.add(FindUnusable, Hint, nil, "add it to the channels of a station", "no station uses channel %s", i.n.Channels[c].Name)
		}
	}
	for _, f := range i.n.Fixed {
		if !i.inDay(func(slot int64) bool { return i.n.OpenSlot(f.From, f.To, f.Channel, slot) }) {
			from, to := i.call(f.From), i.call(f.To)
			i.add(FindUnusable, Warning, []string{from, to}, "mend on_air, channels or windows, or take the link out",
				"the fixed link %s → %s on %s can never be used: there is no slot of the day in which both listen to it",
				from, to, i.n.Channels[f.Channel].Name)
		}
	}
}

// inDay reports whether anything holds for any slot of the day.
func (i *inspection) inDay(holds func(slot int64) bool) bool {
	for k := range i.n.Slots.PerDay() {
		if holds(k * i.n.Slots.Seconds()) {
			return true
		}
	}
	return false
}

// silent names members that the observations don't know, or only half.
func (i *inspection) silent() {
	for s := range i.n.Stations {
		call := []string{i.call(s)}
		switch {
		case i.heard[s] == 0 && i.reported[s] == 0:
			i.add(FindSilent, Warning, call, "check its names in the plan (call, licensed_call, also), or send a sounding",
				"%s appears in none of the reports: nobody reported it, and it reported nobody", call[0])
		case i.heard[s] == 0:
			i.add(FindUnheard, Warning, call, "have it send a sounding; nobody knows whether it can be heard",
				"nobody has reported %s, though it has %s of its own", call[0], plural(i.reported[s], "report"))
		case i.reported[s] == 0:
			mend := "get its log, or a typed list of what it copies"
			if i.n.Stations[s].Watch == WatchHeard {
				mend += "; if it listens as the plan says, set watch: declared, and not hearing counts as evidence"
			}
			i.add(FindUnreported, Warning, call, mend,
				"%s has reported nobody, though it was reported %s", call[0], plural(i.heard[s], "time"))
		}
	}
}

// strangers names stations that aren't in the plan, those with a near name first.
func (i *inspection) strangers() {
	var names []string
	for s := range i.n.Stations {
		names = append(names, i.n.Stations[s].all()...)
	}
	calls := make([]string, 0, len(i.others))
	near := make(map[string]string)
	for call := range i.others {
		calls = append(calls, call)
		if name, ok := observations.Nearest(call, names); ok {
			near[call] = name
		}
	}
	slices.SortFunc(calls, func(a, b string) int {
		if (near[a] != "") != (near[b] != "") {
			return strings.Compare(near[b], near[a])
		}
		if d := i.others[b].total() - i.others[a].total(); d != 0 {
			return d
		}
		return strings.Compare(a, b)
	})
	for _, call := range calls {
		o := i.others[call]
		what := call + " is not in the plan but "
		switch members := i.members(o.with); {
		case o.reported == 0:
			what += fmt.Sprintf("was heard %s, by %s", plural(o.heard, "time"), members)
		case o.heard == 0:
			what += fmt.Sprintf("heard members %s: %s", plural(o.reported, "time"), members)
		default:
			what += fmt.Sprintf("heard members %s and was heard by them %s: %s", plural(o.reported, "time"), plural(o.heard, "time"), members)
		}
		if name := near[call]; name != "" {
			i.add(FindStranger, Warning, []string{call}, "if it is "+name+", list "+call+" under also, or mend the log",
				"%s; the nearest name is %s", what, name)
		} else {
			i.add(FindStranger, Hint, []string{call}, "if it belongs to the net, add it to the plan or under also of its station", "%s", what)
		}
	}
}

func (s *stranger) total() int { return s.heard + s.reported }

// members lists some members by call.
func (i *inspection) members(set map[int]bool) string {
	var calls []string
	for s := range set {
		calls = append(calls, i.call(s))
	}
	slices.Sort(calls)
	return listed(calls)
}

// moves tells of locators that jump, and of members that reports have elsewhere
// than the plan.
func (i *inspection) moves() {
	last := make(map[int]Moved)
	for _, m := range i.links.account.Moves {
		last[m.Station] = m
	}
	for s := range i.n.Stations {
		m, moved := last[s]
		if !moved {
			continue
		}
		times := "once"
		if m.Times > 1 {
			times = fmt.Sprintf("%d times, last", m.Times)
		}
		i.add(FindMoved, Warning, []string{i.call(s)}, "if it did not move, mend its locator in the log; else its links are learnt anew as far as it moved",
			"the locator of %s jumps %s: from %s to %s, %.0f km, on %s", i.call(s), times, m.From, m.To, m.KM, stamp(m.Unix))
	}
	for s := range i.n.Stations {
		plan, place := fold(i.n.Stations[s].Locator), i.links.Place(s)
		if plan == "" || strings.HasPrefix(plan, place) || strings.HasPrefix(place, plan) {
			continue
		}
		km := 0.0
		if at, err := locator.Parse(place); err == nil {
			km = locator.Distance(i.n.Stations[s].Position, at)
		}
		i.add(FindElsewhere, Warning, []string{i.call(s)}, "mend the locator in the plan if the station is there now",
			"the plan has %s at %s, its newest reports at %s, %.0f km away", i.call(s), plan, place, km)
	}
}

// otherBands tells of reports between members where the net has no channel.
func (i *inspection) otherBands() {
	var list []observations.Band
	for b := range i.bands {
		list = append(list, b)
	}
	slices.Sort(list)
	for _, b := range list {
		i.add(FindBand, Hint, nil, "if the net uses that band, add a channel on it; else nothing is wrong",
			"%s between members on %s, where the plan has no channel: they are left out", plural(i.bands[b], "report"), b)
	}
}

// oneWay tells for each member whom it hears without ever having been reported
// by them on that band.
func (i *inspection) oneWay() {
	t := &i.links.table
	for s := range i.n.Stations {
		var calls []string
		misses := 0
		for other := range i.n.Stations {
			for b := range i.links.bands.list {
				hears := t.find(int32(other), int32(s), int32(b))
				if hears < 0 || i.links.records[hears].reports == 0 {
					continue
				}
				back := t.find(int32(s), int32(other), int32(b))
				if back >= 0 && i.links.records[back].reports > 0 {
					continue
				}
				calls = append(calls, i.call(other)+" ("+i.links.bands.list[b].String()+")")
				if back >= 0 {
					misses += i.links.records[back].misses
				}
			}
		}
		if len(calls) > 0 {
			i.add(FindOneWay, Hint, []string{i.call(s)}, "have it send soundings while they listen",
				"%s hears %s, but on those bands none of them has reported it (%s of it are known)",
				i.call(s), listed(calls), plurals(misses, "miss", "misses"))
		}
	}
}

// listed joins names, the first few when there are many.
func listed(names []string) string {
	const most = 6
	if len(names) > most+1 {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:most], ", "), len(names)-most)
	}
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

func plural(count int, one string) string { return plurals(count, one, one+"s") }

func plurals(count int, one, many string) string {
	if count == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", count, many)
}

// stamp writes a moment for people.
func stamp(unix int64) string { return time.Unix(unix, 0).UTC().Format("2006-01-02 15:04Z") }

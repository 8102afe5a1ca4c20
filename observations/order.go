package observations

import (
	"cmp"
	"slices"
	"strings"
)

// compareReports is the order of Log.Reports: by time, then sender, receiver,
// frequency, SNR, then whatever else tells reports apart, at last their origin.
func compareReports(a, b Report) int {
	switch {
	case a.Time != b.Time:
		return cmp.Compare(a.Time, b.Time)
	case a.Sender != b.Sender:
		return cmp.Compare(a.Sender, b.Sender)
	case a.Receiver != b.Receiver:
		return cmp.Compare(a.Receiver, b.Receiver)
	case a.Frequency != b.Frequency:
		return cmp.Compare(a.Frequency, b.Frequency)
	case a.SNR != b.SNR:
		return cmp.Compare(a.SNR, b.SNR)
	}
	return cmp.Or(
		cmp.Compare(a.Power, b.Power),
		cmp.Compare(a.Delay, b.Delay),
		cmp.Compare(a.Channel, b.Channel),
		cmp.Compare(a.Source, b.Source),
		cmp.Compare(a.Line, b.Line),
	)
}

func compareClaims(a, b Claim) int {
	return cmp.Or(
		cmp.Compare(a.Time, b.Time),
		cmp.Compare(a.Receiver, b.Receiver),
		cmp.Compare(a.Channel, b.Channel),
		cmp.Compare(a.Source, b.Source),
		cmp.Compare(a.Line, b.Line),
	)
}

// order renumbers sites and channels by their names, leaving out those without
// a report or a claim, and sorts reports and claims.
func (l *Log) order() {
	usedSites, usedChannels := make([]bool, len(l.Sites)), make([]bool, len(l.Channels)+1)
	for i := range l.Reports {
		r := &l.Reports[i]
		usedSites[r.Sender], usedSites[r.Receiver], usedChannels[r.Channel] = true, true, true
	}
	for i := range l.Claims {
		usedSites[l.Claims[i].Receiver], usedChannels[l.Claims[i].Channel] = true, true
	}
	var sites []SiteID
	l.Sites, sites = sortUsed[SiteID](l.Sites, usedSites, compareSites)
	var channels []uint16
	l.Channels, channels = sortUsed[uint16](l.Channels, usedChannels[1:], strings.Compare)
	for i := range l.Reports {
		r := &l.Reports[i]
		r.Sender, r.Receiver = sites[r.Sender], sites[r.Receiver]
		if r.Channel != 0 {
			r.Channel = channels[r.Channel-1] + 1
		}
	}
	for i := range l.Claims {
		k := &l.Claims[i]
		k.Receiver = sites[k.Receiver]
		if k.Channel != 0 {
			k.Channel = channels[k.Channel-1] + 1
		}
	}
	sortReports(l.Reports)
	slices.SortFunc(l.Claims, compareClaims)
}

func compareSites(a, b Site) int {
	return cmp.Or(cmp.Compare(a.Call, b.Call), cmp.Compare(a.Locator, b.Locator))
}

// sortUsed returns the items in use in order, and for each item of the old row
// its number in the new one.
func sortUsed[ID uint16 | SiteID, T any](items []T, used []bool, compare func(a, b T) int) (sorted []T, number []ID) {
	var order []ID
	for i, u := range used {
		if u {
			order = append(order, ID(i))
		}
	}
	slices.SortFunc(order, func(a, b ID) int { return compare(items[a], items[b]) })
	number = make([]ID, len(items))
	for i, old := range order {
		sorted = append(sorted, items[old])
		number[old] = ID(i)
	}
	return sorted, number
}

// fewReports is up to how many reports comparing is as fast as counting.
const fewReports = 1 << 10

// sortReports sorts by compareReports. Logs are mostly in order of time
// already, which costs one look at each; then only reports of the same second
// are compared. Otherwise times are sorted by their digits, at 8 bytes a report.
func sortReports(reports []Report) {
	if len(reports) <= fewReports {
		slices.SortFunc(reports, compareReports)
		return
	}
	if !slices.IsSortedFunc(reports, func(a, b Report) int { return cmp.Compare(a.Time, b.Time) }) {
		sortTimes(reports)
	}
	var t tieSorter
	eachRun(reports, sameTime, t.sort)
}

// tieSorter sorts reports of one time. It moves words about that hold sender,
// receiver and place in the row, rather than reports.
type tieSorter struct{ keys []uint64 }

const siteBits, placeBits = 21, 22

func (t *tieSorter) sort(reports []Report) {
	t.keys = t.keys[:0]
	sorted, fit := true, len(reports) <= 1<<placeBits
	for i := range reports {
		r := &reports[i]
		fit = fit && (r.Sender|r.Receiver)>>siteBits == 0
		key := (uint64(r.Sender)<<siteBits|uint64(r.Receiver))<<placeBits | uint64(i)
		sorted = sorted && (i == 0 || t.keys[i-1]>>placeBits < key>>placeBits)
		t.keys = append(t.keys, key)
	}
	switch {
	case !fit:
		slices.SortFunc(reports, compareReports)
	case !sorted:
		slices.Sort(t.keys)
		for i := range t.keys {
			t.keys[i] &= 1<<placeBits - 1
		}
		permute(reports, t.keys)
		eachRun(reports, sameLink, func(run []Report) { slices.SortFunc(run, compareReports) })
	}
}

func sameTime(a, b *Report) bool { return a.Time == b.Time }

func sameLink(a, b *Report) bool { return a.Sender == b.Sender && a.Receiver == b.Receiver }

// eachRun calls do for each stretch of two or more neighbours that are the same.
func eachRun(reports []Report, same func(a, b *Report) bool, do func(run []Report)) {
	for i := 0; i < len(reports); {
		j := i + 1
		for j < len(reports) && same(&reports[i], &reports[j]) {
			j++
		}
		if j > i+1 {
			do(reports[i:j])
		}
		i = j
	}
}

// sortTimes brings reports into order of time. Times and places in the row are
// below 2³², so one word holds both.
func sortTimes(reports []Report) {
	keys, spare := make([]uint64, len(reports)), make([]uint64, len(reports))
	low, high := reports[0].Time, reports[0].Time
	for i := range reports {
		low, high = min(low, reports[i].Time), max(high, reports[i].Time)
	}
	for i := range reports {
		keys[i] = uint64(reports[i].Time-low)<<32 | uint64(uint32(i))
	}
	const bits = 11
	for shift := 32; (high-low)>>(shift-32) > 0; shift += bits {
		var starts [1 << bits]int
		for _, k := range keys {
			starts[k>>shift&(1<<bits-1)]++
		}
		sum := 0
		for i, n := range starts {
			starts[i] = sum
			sum += n
		}
		for _, k := range keys {
			d := k >> shift & (1<<bits - 1)
			spare[starts[d]] = k
			starts[d]++
		}
		keys, spare = spare, keys
	}
	permute(reports, keys)
}

// permute moves to place i the report whose place is the lower half of keys[i].
func permute(reports []Report, keys []uint64) {
	for start := range reports {
		if int(uint32(keys[start])) == start {
			continue
		}
		first, to := reports[start], start
		for {
			from := int(uint32(keys[to]))
			keys[to] = uint64(to)
			if from == start {
				reports[to] = first
				break
			}
			reports[to] = reports[from]
			to = from
		}
	}
}

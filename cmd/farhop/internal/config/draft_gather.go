package config

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"farhop/observations"
)

// gatherStations finds the stations worth a place in the plan. It returns them by
// the log's sites, nil for those left out.
func (h *heardNet) gatherStations(log *observations.Log) []*heardStation {
	heard, heardBy := map[string]int{}, map[string]int{}
	for i := range log.Reports {
		r := &log.Reports[i]
		if a, b := log.Sites[r.Receiver].Call, log.Sites[r.Sender].Call; a != b {
			heard[a]++
			heardBy[b]++
		}
	}
	var odd, once []string
	stations := map[string]*heardStation{}
	of := make([]*heardStation, len(log.Sites))
	for i, site := range log.Sites {
		call := strings.ToUpper(site.Call)
		base, suffix, _ := strings.Cut(call, "/")
		if suffix != "" && heard[base]+heardBy[base] > 0 && nameForm(base) == "" {
			call = base // the plan finds a call with a suffix by the call
		}
		switch {
		case heard[site.Call]+heardBy[site.Call] == 0:
			continue
		case nameForm(call) != "":
			odd = append(odd, site.Call)
			continue
		case len(log.Reports) >= frivolousFrom && heard[site.Call] == 0 && heardBy[site.Call] == 1:
			once = append(once, site.Call)
			continue
		}
		s := stations[call]
		if s == nil {
			s = &heardStation{call: call, powers: map[float64]int{}, sent: map[observations.Band][]int64{}}
			stations[call] = s
			h.stations = append(h.stations, s)
		}
		if site.Call != call && !slices.Contains(s.suffixed, shorten(site.Call)) {
			s.suffixed = append(s.suffixed, shorten(site.Call))
		}
		of[i] = s
	}
	slices.SortFunc(h.stations, byCall)
	for _, s := range h.stations {
		slices.Sort(s.suffixed)
	}
	h.leave(odd, "since they can't be names in a plan", "mend the names in the log if these are stations of the net")
	h.leave(once, "since they were heard once and never reported anybody, like most false decodes", "add those that are real")
	return of
}

// leave notes what was left out.
func (h *heardNet) leave(names []string, why, check string) {
	slices.Sort(names)
	names = slices.Compact(names)
	if len(names) == 0 {
		return
	}
	list := make([]string, 0, 8)
	for _, n := range names[:min(len(names), 8)] {
		list = append(list, shorten(n))
	}
	more := ""
	if len(names) > 8 {
		more = fmt.Sprintf(" and %d more", len(names)-8)
	}
	h.leftOut = append(h.leftOut, Note{Guess: "left out, " + why + ": " + strings.Join(list, ", ") + more, Check: check})
}

// gatherChannels finds the bands in use, in watch order, and returns how to
// find a report's among them, −1 for none. Typed lists give no frequency: the
// channels they name stand in only where the log holds no frequency at all.
func (h *heardNet) gatherChannels(log *observations.Log, of []*heardStation) func(*observations.Report) int {
	bands, named, total := tallyChannels(log, of)
	if len(bands) == 0 {
		h.channels = namedChannels(log, named)
	} else {
		h.channels = h.worthwhile(bands, total)
		if len(named) > 0 {
			h.leftOut = append(h.leftOut, Note{
				Guess: "reports of typed lists name no frequency; their channels are not in the plan",
				Check: "name the channels of the plan as the lists do",
			})
		}
	}
	place := map[*heardChannel]int{}
	for i, c := range h.channels {
		place[c] = i
	}
	for _, s := range h.stations {
		s.channels = make([]int, len(h.channels))
	}
	return func(r *observations.Report) int {
		c := bands[bandOf(r)]
		if bandOf(r) == 0 {
			c = named[r.Channel]
		}
		if i, ok := place[c]; ok {
			return i
		}
		return -1
	}
}

// tallyChannels counts reports between stations that are kept, by band or, without
// one, by the number of the channel they name.
func tallyChannels(log *observations.Log, of []*heardStation) (bands map[observations.Band]*heardChannel, named map[uint16]*heardChannel, total int) {
	bands, named = map[observations.Band]*heardChannel{}, map[uint16]*heardChannel{}
	for i := range log.Reports {
		r := &log.Reports[i]
		if of[r.Receiver] == nil || of[r.Sender] == nil || of[r.Receiver] == of[r.Sender] {
			continue
		}
		total++
		var c *heardChannel
		if band := bandOf(r); band == 0 {
			if c = named[r.Channel]; c == nil {
				c = &heardChannel{}
				named[r.Channel] = c
			}
		} else {
			if c = bands[band]; c == nil {
				c = &heardChannel{band: band}
				bands[band] = c
			}
			c.frequencies = append(c.frequencies, r.Frequency)
		}
		c.reports++
		c.hours[hourOf(r.Time)]++
	}
	return bands, named, total
}

// worthwhile orders bands for watching: those with the shortest hours first, so
// that each gets its turn, then the more used ones. It leaves out bands with
// less than 2 % of the reports and a tenth of those of the busiest.
func (h *heardNet) worthwhile(bands map[observations.Band]*heardChannel, total int) []*heardChannel {
	var out []*heardChannel
	var rare []string
	busiest := 0
	for _, c := range bands {
		busiest = max(busiest, c.reports)
	}
	for band, c := range bands {
		c.name = strings.ReplaceAll(band.String(), " ", "")
		slices.Sort(c.frequencies)
		if 50*c.reports < total && 10*c.reports < busiest {
			rare = append(rare, c.name)
			continue
		}
		out = append(out, c)
	}
	slices.SortFunc(out, func(a, b *heardChannel) int {
		return cmp.Or(
			cmp.Compare(hoursIn(a.hours, 200), hoursIn(b.hours, 200)),
			cmp.Compare(b.reports, a.reports), cmp.Compare(a.band, b.band),
		)
	})
	h.leave(rare, "since they are rarely used", "add a channel for those the net means to use")
	return out
}

// frequency is the median of the reported ones.
func (c *heardChannel) frequency() uint32 { return c.frequencies[(len(c.frequencies)-1)/2] }

// namedChannels are the channels that typed lists name, for a log without
// frequencies.
func namedChannels(log *observations.Log, named map[uint16]*heardChannel) []*heardChannel {
	keys := make([]uint16, 0, len(named))
	for k := range named {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	var out []*heardChannel
	taken := map[string]bool{}
	for _, k := range keys {
		c := named[k]
		if k > 0 && int(k) <= len(log.Channels) {
			c.name = log.Channels[k-1]
		}
		for i := 1; nameForm(c.name) != "" || taken[strings.ToUpper(c.name)]; i++ {
			c.name = fmt.Sprintf("channel%d", i)
		}
		taken[strings.ToUpper(c.name)] = true
		out = append(out, c)
	}
	return out
}

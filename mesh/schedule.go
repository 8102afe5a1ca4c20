package mesh

import "slices"

// schedule is what the plan says of every slot of a day: who is expected to
// listen where, and who sounds. Each day is the same.
type schedule struct {
	slots     int           // in a day
	segment   []int32       // of each slot of the day
	first     []int32       // first slot of each segment
	watchers  [][][]watcher // by segment and band
	soundings [][]sounding  // by slot of the day
	next      []int32       // slots from each slot of the day to the next with a sounding, 0 = this one; −1 = none at all
}

// watcher is a receiver that the plan says listens to a band.
type watcher struct {
	station int32
	// period is how many slots before its segment's first the receiver came to
	// the band, noPeriod if it is always there.
	period int32
	all    bool // several receivers
}

const noPeriod = -1

// sounding is a transmission that the plan gives for a slot.
type sounding struct{ station, band int32 }

func makeSchedule(n *Net, b *bands) *schedule {
	s := &schedule{slots: int(n.Slots.PerDay())}
	edges := s.edges(n)
	s.segment = make([]int32, s.slots)
	s.watchers = make([][][]watcher, len(edges))
	for i, from := range edges {
		to := s.slots
		if i+1 < len(edges) {
			to = edges[i+1]
		}
		for k := from; k < to; k++ {
			s.segment[k] = int32(i)
		}
		s.first = append(s.first, int32(from))
		s.watchers[i] = make([][]watcher, len(b.list))
	}
	for station := range n.Stations {
		switch n.Stations[station].Watch {
		case WatchDeclared:
			s.declared(n, b, station, edges)
		case WatchAll:
			s.several(n, b, station, edges)
		}
	}
	s.sounding(n, b)
	return s
}

// edges lists the slots of the day at which a station's watch may change, with 0.
func (s *schedule) edges(n *Net) []int {
	length := int(n.Slots.Seconds())
	edges := []int{0}
	add := func(w Windows) {
		for _, span := range w.spans {
			edges = append(edges,
				(span.Start+length-1)/length%s.slots,
				(span.Start+span.Seconds)/length%s.slots)
		}
	}
	for i := range n.Channels {
		add(n.Channels[i].Windows)
	}
	for i := range n.Stations {
		if n.Stations[i].Watch != WatchHeard {
			add(n.Stations[i].OnAir)
		}
	}
	slices.Sort(edges)
	return slices.Compact(edges)
}

// declared enters a station that listens as its list and windows say.
func (s *schedule) declared(n *Net, b *bands, station int, edges []int) {
	length := n.Slots.Seconds()
	at := make([]int, len(edges)) // band of each segment, −1 none
	for i, first := range edges {
		at[i] = -1
		if c, ok := n.WatchOf(station, int64(first)*length); ok {
			at[i] = b.channel[c]
		}
	}
	// Twice round the day, so that a period may begin the day before.
	run := 0
	for turn := range 2 {
		for i := range edges {
			before := (i + len(edges) - 1) % len(edges)
			if at[i] != at[before] {
				run = 0
			} else {
				run += (edges[i]-edges[before]+s.slots-1)%s.slots + 1
			}
			if turn == 0 || at[i] < 0 {
				continue
			}
			period := int32(run)
			if run >= s.slots {
				period = noPeriod
			}
			s.watchers[i][at[i]] = append(s.watchers[i][at[i]], watcher{int32(station), period, false})
		}
	}
}

// several enters a station with a receiver for each of its channels.
func (s *schedule) several(n *Net, b *bands, station int, edges []int) {
	length := n.Slots.Seconds()
	for i, first := range edges {
		seen := -1
		for band := range b.list {
			for c, on := range b.channel {
				if on == band && seen != band && n.Listens(station, c, int64(first)*length) {
					seen = band
					s.watchers[i][band] = append(s.watchers[i][band], watcher{int32(station), noPeriod, true})
				}
			}
		}
	}
}

// sounding enters the planned soundings.
func (s *schedule) sounding(n *Net, b *bands) {
	s.soundings = make([][]sounding, s.slots)
	s.next = make([]int32, s.slots)
	length := n.Slots.Seconds()
	for i := range n.Stations {
		if len(n.Stations[i].Soundings) == 0 {
			continue
		}
		for k := range s.slots {
			s.soundings[k] = b.sounding(s.soundings[k], n, i, int64(k)*length)
		}
	}
	next := int32(-1)
	for k := 2*s.slots - 1; k >= 0; k-- {
		if next >= 0 {
			next++
		}
		if len(s.soundings[k%s.slots]) > 0 {
			next = 0
		}
		s.next[k%s.slots] = next
	}
}

// sounding adds a station's soundings in a slot to the list, each band once.
func (b *bands) sounding(list []sounding, n *Net, station int, slot int64) []sounding {
	first := len(list)
	for _, planned := range n.Stations[station].Soundings {
		s := sounding{int32(station), int32(b.channel[planned.Channel])}
		if n.SoundsOn(station, planned.Channel, slot) && !slices.Contains(list[first:], s) {
			list = append(list, s)
		}
	}
	return list
}

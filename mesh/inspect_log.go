package mesh

import (
	"math"
	"slices"

	"farhop/observations"
)

// count goes through the log once.
func (i *inspection) count() {
	members := len(i.n.Stations)
	i.who = makeWhoTable(i.n, i.log)
	i.heard, i.reported, i.ahead = make([]int, members), make([]int, members), make([]int, members)
	i.farthest = make([]int64, members)
	i.watts = make([]map[float32]int, members)
	i.others = make(map[string]*stranger)
	i.bands = make(map[observations.Band]int)
	b := makeBands(i.n)
	for k := range i.log.Reports {
		r := &i.log.Reports[k]
		receiver, sender := int(i.who.station[r.Receiver]), int(i.who.station[r.Sender])
		if r.Time > i.until || receiver == sender || receiver >= members && sender >= members {
			continue
		}
		if receiver < members {
			i.reported[receiver]++
			if r.Time > i.now {
				i.ahead[receiver]++
				i.farthest[receiver] = max(i.farthest[receiver], r.Time-i.now)
			}
		} else {
			i.stranger(r.Receiver, sender).reported++
		}
		if sender < members {
			i.heard[sender]++
			i.power(sender, r.Power)
		} else {
			i.stranger(r.Sender, receiver).heard++
		}
		if receiver < members && sender < members && r.Frequency != 0 {
			if band := observations.BandOf(r.Frequency); b.number(band) < 0 {
				i.bands[band]++
			}
		}
	}
}

func (i *inspection) stranger(site observations.SiteID, member int) *stranger {
	call := i.log.Call(site)
	s := i.others[call]
	if s == nil {
		s = &stranger{with: make(map[int]bool)}
		i.others[call] = s
	}
	s.with[member] = true
	return s
}

// power notes a stated power of a member.
func (i *inspection) power(member int, watts float32) {
	if watts <= 0 {
		return
	}
	if i.watts[member] == nil {
		i.watts[member] = make(map[float32]int)
	}
	i.watts[member][watts]++
}

// farDB is how far a power must be from the plan's to be worth a word: half or double.
const farDB = 3.0

// powers tells of members whose reports mostly state another power than the plan.
func (i *inspection) powers() {
	for s := range i.n.Stations {
		planned := i.n.Stations[s].PowerW
		total, far := 0, 0
		for watts, count := range i.watts[s] {
			total += count
			if math.Abs(10*math.Log10(planned/float64(watts))) >= farDB {
				far += count
			}
		}
		if total == 0 || 2*far <= total {
			continue
		}
		median := medianOf(i.watts[s], total)
		db := 10 * math.Log10(float64(median)/planned)
		i.add(FindPower, Warning, []string{i.call(s)}, "mend power_w in the plan if that is what it will use",
			"%s is planned at %.4g W, but %d of %s with a power differ by half or more; their middle is %.4g W, %+.1f dB",
			i.call(s), planned, far, plural(total, "report"), median, db)
	}
}

func medianOf(counts map[float32]int, total int) float32 {
	var values []float32
	for v := range counts {
		values = append(values, v)
	}
	slices.Sort(values)
	seen := 0
	for _, v := range values {
		if seen += counts[v]; 2*seen >= total {
			return v
		}
	}
	return 0
}

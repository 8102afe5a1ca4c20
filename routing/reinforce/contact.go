package reinforce

import (
	"farhop/mesh"
	"farhop/observations"
)

// Contact is one report from or about a station.
type Contact struct {
	Other   string // who heard it or whom it heard, as the report or the plan calls them
	Unix    int64
	SNR     float64 // dB in 2500 Hz
	Channel int     // −1 where the report tells none of the net's
}

// Contacts are the newest reports of a station, nil where there are none.
type Contacts struct {
	HeardBy *Contact // the last that heard it
	Heard   *Contact // the last that it heard
}

// LastContacts finds the newest reports of each of the stations, in their order.
// Linear in the log at worst; the log may be nil.
func LastContacts(n *mesh.Net, log *observations.Log, stations []int) []Contacts {
	out := make([]Contacts, len(stations))
	if log == nil {
		return out
	}
	place := make(map[int]int, len(stations))
	for k, s := range stations {
		place[s] = k
	}
	who := make([]int, len(log.Sites)) // index into stations, −1 none
	name := make([]string, len(log.Sites))
	for i := range log.Sites {
		who[i], name[i] = -1, log.Sites[i].Call
		if s, ok := n.Find(log.Sites[i].Call); ok {
			name[i] = n.Stations[s].Call
			if k, asked := place[s]; asked {
				who[i] = k
			}
		}
	}
	missing := 2 * len(stations)
	for i := len(log.Reports) - 1; i >= 0 && missing > 0; i-- {
		r := &log.Reports[i]
		if k := who[r.Sender]; k >= 0 && out[k].HeardBy == nil {
			out[k].HeardBy = contact(n, log, r, name[r.Receiver])
			missing--
		}
		if k := who[r.Receiver]; k >= 0 && out[k].Heard == nil {
			out[k].Heard = contact(n, log, r, name[r.Sender])
			missing--
		}
	}
	return out
}

func contact(n *mesh.Net, log *observations.Log, r *observations.Report, other string) *Contact {
	c := &Contact{Other: other, Unix: r.Time, SNR: float64(r.SNR), Channel: -1}
	if r.Channel > 0 {
		if ch, ok := n.FindChannel(log.Channels[r.Channel-1]); ok {
			c.Channel = ch
		}
		return c
	}
	for ch := range n.Channels {
		if c.Channel < 0 && observations.BandOf(n.Channels[ch].Frequency) == observations.BandOf(r.Frequency) {
			c.Channel = ch
		}
	}
	return c
}

package routing

import (
	"fmt"

	"farhop/mesh"
)

// watches knows in which slots of a day a station listens to a channel and may answer. Slots
// count from midnight UTC. Stations that keep the same hours and channels share
// their figures.
type watches struct {
	net   *mesh.Net
	kinds []int    // kind of each station
	model []int    // one station of each kind
	days  [][]bool // by kind and channel, nil until asked for
	open  map[[3]int]*opening
}

func newWatches(n *mesh.Net) *watches {
	w := &watches{net: n, kinds: make([]int, len(n.Stations)), open: map[[3]int]*opening{}}
	seen := map[string]int{}
	for v := range n.Stations {
		s := &n.Stations[v]
		name := fmt.Sprint(s.OnAir.Strings(), s.Quiet.Strings(), s.Channels, s.Watch == mesh.WatchAll)
		kind, ok := seen[name]
		if !ok {
			kind = len(w.model)
			seen[name] = kind
			w.model = append(w.model, v)
		}
		w.kinds[v] = kind
	}
	w.days = make([][]bool, len(w.model)*len(n.Channels))
	return w
}

// day is whether stations of a kind listen to a channel and may answer, slot by slot.
func (w *watches) day(kind, channel int) []bool {
	i := kind*len(w.net.Channels) + channel
	if w.days[i] == nil {
		d := make([]bool, w.net.Slots.PerDay())
		for k := range d {
			d[k] = w.net.Answers(w.model[kind], channel, int64(k)*w.net.Slots.Seconds())
		}
		w.days[i] = d
	}
	return w.days[i]
}

// opening is when slots are open to a hop, day after day.
type opening struct {
	open []bool // by slot of the day, counted from midnight UTC
	any  bool   // some slot of the day is open
	all  bool   // every slot is
}

// between is when slots are open to hops from one station to another.
func (w *watches) between(from, to, channel int) *opening {
	a, b := min(w.kinds[from], w.kinds[to]), max(w.kinds[from], w.kinds[to])
	id := [3]int{a, b, channel}
	if o, ok := w.open[id]; ok {
		return o
	}
	x, y := w.day(a, channel), w.day(b, channel)
	o := &opening{open: make([]bool, len(x)), all: true}
	for k := range x {
		o.open[k] = x[k] && y[k]
		o.any = o.any || o.open[k]
		o.all = o.all && o.open[k]
	}
	w.open[id] = o
	return o
}

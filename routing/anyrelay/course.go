package anyrelay

import (
	"cmp"
	"math"
	"slices"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
)

const (
	mostFrames = 100_000
	mostSlots  = 10_000_000
	quarter    = int64(mesh.StateStep / time.Second)
)

// course is a plan made ready. Stations are numbered by how near they are to the
// destination, which is number 0: nearer is less. Nothing writes to it.
type course struct {
	Plan
	slots    mesh.Slots
	first    int64 // start of slot 0, Unix seconds
	length   int64 // of a slot in seconds
	inTime   int   // so many slots end by the deadline
	shift    int   // which slot of the day slot 0 is
	stations []int // indexes into the net
	from     int
	orders   []order // [0] is empty
	listens  [][][]bool
}

// order is who may take the message on from a station.
type order struct {
	channel int
	by      []int
	stands  []bool  // by station: it is in by
	wait    []int32 // by slot of the day: how many slots until the next open one; nil when none ever is
}

// turn is the place, from 1, at which the sender itself has its turn.
func (o *order) turn() int { return len(o.by) + 1 }

func (p Plan) course() (*course, error) {
	if p.Net == nil || p.Links == nil {
		return nil, ErrNet
	}
	s := p.Net.Slots
	if s.PerDay()*s.Seconds() != mesh.DaySeconds || s.Rounds < 1 || s.Ack < 0 || s.Turnaround < 0 || !(s.Busy >= 0 && s.Busy < 1) {
		return nil, ErrNet
	}
	if p.Frames < 1 || p.Frames > mostFrames {
		return nil, ErrFrames
	}
	if p.Deadline <= 0 || p.Deadline/time.Second/time.Duration(s.Seconds()) > mostSlots {
		return nil, ErrDeadline
	}
	c := &course{Plan: p, slots: s, first: s.Start(p.Start), length: s.Seconds()}
	c.inTime = int(max(0, (p.Deadline-time.Duration(c.first-p.Start)*time.Second)/s.Length))
	c.shift = int(mod(c.first, mesh.DaySeconds) / c.length)
	if err := c.rank(); err != nil {
		return nil, err
	}
	c.hours()
	return c, nil
}

// rank numbers the stations by nearness and checks the orders.
func (c *course) rank() error {
	orders := slices.Clone(c.Orders)
	if len(orders) == 0 {
		return ErrOrders
	}
	origin := orders[0].Station
	slices.SortFunc(orders, func(a, b Order) int {
		return cmp.Or(cmp.Compare(a.Cost, b.Cost), cmp.Compare(a.Station, b.Station))
	})
	number := map[int]int{c.To: 0}
	c.stations = []int{c.To}
	for _, o := range orders {
		if _, twice := number[o.Station]; twice || o.Station < 0 || o.Station >= len(c.Net.Stations) || o.Channel < 0 || o.Channel >= len(c.Net.Channels) {
			return ErrOrders
		}
		number[o.Station] = len(c.stations)
		c.stations = append(c.stations, o.Station)
	}
	if c.To < 0 || c.To >= len(c.Net.Stations) {
		return ErrOrders
	}
	c.from = number[origin]
	c.orders = make([]order, len(c.stations))
	for i, o := range orders {
		x := &c.orders[i+1]
		x.channel, x.stands = o.Channel, make([]bool, len(c.stations))
		for _, v := range o.By {
			w, ok := number[v]
			if !ok || w >= i+1 || x.stands[w] {
				return ErrOrders
			}
			x.by, x.stands[w] = append(x.by, w), true
		}
	}
	return nil
}

// hours looks up when stations listen, by slot of the day, and from that the
// slots open to each sender.
func (c *course) hours() {
	perDay := int(c.slots.PerDay())
	midnight := c.first - mod(c.first, mesh.DaySeconds)
	c.listens = make([][][]bool, len(c.stations))
	used := map[int]bool{}
	for _, o := range c.orders[1:] {
		used[o.channel] = true
	}
	for i, v := range c.stations {
		c.listens[i] = make([][]bool, len(c.Net.Channels))
		for ch := range c.Net.Channels {
			if !used[ch] {
				continue
			}
			day := make([]bool, perDay)
			for k := range day {
				day[k] = c.Net.Listens(v, ch, midnight+int64(k)*c.length)
			}
			c.listens[i][ch] = day
		}
	}
	for i := range c.orders[1:] {
		c.orders[i+1].wait = c.waits(i + 1)
	}
}

// waits goes backwards through the second of two equal days and the first.
func (c *course) waits(sender int) []int32 {
	o := &c.orders[sender]
	day := make([]int32, c.slots.PerDay())
	until, found := int32(0), false
	for k := 2*len(day) - 1; k >= 0; k-- {
		until++
		if c.open(sender, k%len(day)) {
			until, found = 0, true
		}
		day[k%len(day)] = until
	}
	if !found || len(o.by) == 0 {
		return nil
	}
	return day
}

// open reports whether a slot of the day is open to a sender: it and someone of
// its order listen to its channel.
func (c *course) open(sender, ofDay int) bool {
	o := &c.orders[sender]
	return c.listens[sender][o.channel][ofDay] && slices.ContainsFunc(o.by, func(w int) bool { return c.listens[w][o.channel][ofDay] })
}

// ofDay is which slot of the day a slot is.
func (c *course) ofDay(slot int) int { return (slot + c.shift) % int(c.slots.PerDay()) }

// direction is closed where there is no link, or none that may be used.
func (c *course) direction(from, to, channel int, slot int) link.Direction {
	unix := c.Start + (c.first-c.Start+int64(slot)*c.length)/quarter*quarter
	e, ok := mesh.Underway(c.Links, c.slots, c.Frames, c.stations[from], c.stations[to], channel, unix)
	if !ok || !e.Fixed && (!e.Known && !c.Unknown || e.Inferred && !c.Inferred) {
		return link.Direction{}
	}
	return e.Through(c.slots, c.Frames)
}

// gap is K.
func (c *course) gap() int { return Turn(c.slots, 1) }

// answer is how many frames an acknowledgment has.
func (c *course) answer() int { return max(1, c.slots.Ack) }

// mod is a modulo b, 0…b−1 also for negative a.
func mod(a, b int64) int64 { return (a%b + b) % b }

// miss is (1 − p)ⁿ.
func miss(p float64, n int) float64 { return math.Pow(1-p, float64(n)) }

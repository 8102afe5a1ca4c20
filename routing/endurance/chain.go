package endurance

import (
	"math"
	"time"

	"farhop/mesh"
	"farhop/routing/timetable"
)

// Use is what a message asks of a station: so much time keyed, begun at a moment.
type Use struct {
	Station      int
	From         int64 // Unix seconds
	KeyedSeconds float64
}

// Passing is a station whose battery would reach its reserve.
type Passing struct {
	Station int
	At      int64 // Unix seconds
	IdleAt  int64 // the same without the message, 0 where it wouldn't
}

// Checker tells which stations of a chain would reach their reserve. It keeps the
// batteries it has followed; it is not for concurrent use.
type Checker struct {
	net     *mesh.Net
	options Options
	frame   timetable.Timetable // of the horizon, without reservations
	seen    map[int]*checked
}

type checked struct {
	battery *battery
	idle    Station
}

// NewChecker follows batteries from a moment on over a horizon: what receivers
// and the soundings of the plan draw, and what charging gives. The error is
// ErrOptions.
func NewChecker(n *mesh.Net, start int64, horizon time.Duration, o Options) (*Checker, error) {
	o, err := o.filled()
	if err != nil {
		return nil, err
	}
	c := &Checker{net: n, options: o, seen: map[int]*checked{}}
	c.frame.First, c.frame.SlotSeconds = n.Slots.Start(start), n.Slots.Seconds()
	c.frame.Slots = int(max(0, (start+int64(horizon/time.Second)-c.frame.First)/c.frame.SlotSeconds))
	return c, nil
}

// Passing lists the stations that would reach their reserve within the horizon, in
// the order of uses: each use keyed in slots one after another from its moment on. A
// station without a stated battery is not listed.
func (c *Checker) Passing(uses []Use) (list []Passing) {
	for _, u := range uses {
		s := c.net.Stations[u.Station].Supply
		if s == nil || s.BatteryWh <= 0 || c.frame.Slots == 0 {
			continue
		}
		k := c.seen[u.Station]
		if k == nil {
			k = &checked{battery: newBattery(c.net, &c.frame, u.Station, c.options)}
			k.idle = k.battery.run(nil)
			c.seen[u.Station] = k
		}
		slots := int(math.Ceil(u.KeyedSeconds / c.net.Slots.Keyed.Seconds()))
		first := int(max(0, (u.From-c.frame.First)/c.frame.SlotSeconds))
		after := k.battery.run([]Load{{First: first, N: max(slots, 1), KeyedSecond: u.KeyedSeconds}})
		if !math.IsNaN(after.ReserveHours) {
			list = append(list, Passing{
				Station: u.Station, At: Moment(c.frame.First, after.ReserveHours), IdleAt: Moment(c.frame.First, k.idle.ReserveHours),
			})
		}
	}
	return list
}

// Moment is the Unix time so many hours after another, to the second; 0 for NaN.
func Moment(first int64, hours float64) int64 {
	if math.IsNaN(hours) {
		return 0
	}
	return first + int64(math.Round(hours*3600))
}

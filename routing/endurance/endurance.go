// Package endurance follows the batteries of a net's stations under the traffic
// of a timetable: the receiver's draw while a station is on the air, the
// transmitter's in its place while it is keyed, nothing off the air, and charging
// that follows the sun.
package endurance

import (
	"errors"
	"math"

	"farhop/mesh"
	"farhop/observations/locator"
	"farhop/routing/timetable"
)

// Options says how to look. Zero values are the defaults.
type Options struct {
	Charge float64 // share of each battery that is full at the start, over 0; 0 = 1
	Usable float64 // share of each battery's capacity left by cold and age; 0 = 1
	// Places are the stations' places; a station without one is charged evenly
	// round the clock. nil = as the net states.
	Places []*locator.Position
}

// ErrOptions is returned for shares outside 0…1.
var ErrOptions = errors.New("endurance: shares must be over 0 and up to 1")

func (o Options) filled() (Options, error) {
	if o.Charge == 0 {
		o.Charge = 1
	}
	if o.Usable == 0 {
		o.Usable = 1
	}
	if !(o.Charge > 0 && o.Charge <= 1 && o.Usable > 0 && o.Usable <= 1) {
		return o, ErrOptions
	}
	return o, nil
}

// Load is what a station keys in a stretch of slots.
type Load struct {
	Message     int
	First, N    int     // slots
	KeyedSecond float64 // expected, over the stretch
}

// Station is what becomes of one battery. Energies are in Wh.
type Station struct {
	Station  int
	Capacity float64   // usable
	Begin    float64   // in the battery at the start
	End      float64   // and at the end: Begin + Charged − Used
	Used     float64   // drawn from battery and panel together
	Charged  float64   // what the battery and the radio took of what the panel gave
	Wasted   float64   // given by the panel while the battery was full
	Short    float64   // wanted while the battery was empty
	Lowest   float64   // lowest share of the capacity
	LowestAt int64     // Unix seconds, at the end of a slot
	EmptyAt  int64     // Unix seconds, at the end of the slot in which it first falls short; 0 = never
	Hours    []float64 // share of the capacity at the end of each hour after the start
	// ReserveHours is the time from the start until the reserve is reached, NaN when it isn't.
	ReserveHours float64
	// IdleReserveHours is the same without any traffic.
	IdleReserveHours float64
	// Cause is the message that keyed it last before the reserve was reached, −1 when
	// there is none or it would be reached without traffic as well.
	Cause  int
	Keyed  float64 // expected seconds keyed
	Evenly bool    // charged evenly round the clock: its place is not known
}

// Cost is what a message costs the batteries beyond listening.
type Cost struct {
	Message   int
	Wh        float64 // over all stations that state a supply
	Station   int     // that pays most of its usable capacity
	StationWh float64
	Share     float64 // of that station's capacity
}

// Result is the endurance of a net.
type Result struct {
	Stations []Station // those that state a battery
	Without  []int     // those that don't
	Costs    []Cost    // of each message with a reservation, dearest first
}

// Run follows every battery slot by slot over the timetable's horizon. Its time
// and memory grow with stations × slots.
func Run(n *mesh.Net, t *timetable.Timetable, o Options) (*Result, error) {
	o, err := o.filled()
	if err != nil {
		return nil, err
	}
	r := &Result{}
	loads := loadsOf(n, t)
	for v := range n.Stations {
		s := n.Stations[v].Supply
		if s == nil || s.BatteryWh <= 0 {
			r.Without = append(r.Without, v)
			continue
		}
		b := newBattery(n, t, v, o)
		idle := b.run(nil)
		st := b.run(loads[v])
		st.IdleReserveHours = idle.ReserveHours
		st.Cause = cause(&st, loads[v], t)
		r.Stations = append(r.Stations, st)
	}
	r.Costs = costs(n, loads, o)
	return r, nil
}

// loadsOf lists what each station keys, in the order of the timetable.
func loadsOf(n *mesh.Net, t *timetable.Timetable) [][]Load {
	loads := make([][]Load, len(n.Stations))
	keyed := n.Slots.Keyed.Seconds()
	for i := range t.Reservations {
		x := &t.Reservations[i]
		first := int((x.Start - t.First) / t.SlotSeconds)
		loads[x.From] = append(loads[x.From], Load{x.Message, first, x.Slots, x.Sent * keyed})
		if x.Sendings == 0 {
			loads[x.To[0]] = append(loads[x.To[0]], Load{x.Message, first, x.Slots, x.Answered * keyed})
		}
	}
	return loads
}

// cause is the message keyed last before the reserve was reached.
func cause(s *Station, loads []Load, t *timetable.Timetable) int {
	found, last := -1, -1
	if math.IsNaN(s.ReserveHours) || !math.IsNaN(s.IdleReserveHours) {
		return found
	}
	for _, l := range loads {
		if l.First >= last && float64(l.First)*float64(t.SlotSeconds) < s.ReserveHours*3600 {
			found, last = l.Message, l.First
		}
	}
	return found
}

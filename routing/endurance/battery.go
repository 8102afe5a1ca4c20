package endurance

import (
	"cmp"
	"math"
	"slices"

	"farhop/mesh"
	"farhop/observations/locator"
	"farhop/routing/timetable"
)

// battery is one station's supply over the horizon.
type battery struct {
	net     *mesh.Net
	t       *timetable.Timetable
	station int
	supply  *mesh.Supply
	full    float64   // usable capacity, Wh
	begin   float64   // Wh
	gain    []float64 // [slot]: Wh that the panel gives
	onAir   []bool    // [slot]
	evenly  bool
}

func newBattery(n *mesh.Net, t *timetable.Timetable, station int, o Options) *battery {
	s := &n.Stations[station]
	b := &battery{net: n, t: t, station: station, supply: s.Supply, full: s.Supply.BatteryWh * o.Usable}
	b.begin = b.full * o.Charge
	b.onAir = make([]bool, t.Slots)
	for k := range b.onAir {
		b.onAir[k] = n.OnAir(station, b.unix(k))
	}
	var at *locator.Position
	switch {
	case o.Places != nil:
		at = o.Places[station]
	case s.Locator != "":
		at = &s.Position
	}
	b.charging(at)
	return b
}

func (b *battery) unix(slot int) int64 { return b.t.First + int64(slot)*b.t.SlotSeconds }

// charging spreads the daily energy over the slots of each UTC day by the sine of
// the sun's height in the middle of each slot, so that a whole day gives just
// that energy; a day without sun gives none. A station whose place isn't known is charged
// evenly, which is said.
func (b *battery) charging(at *locator.Position) {
	b.gain = make([]float64, b.t.Slots)
	if b.supply.ChargeWhPerDay <= 0 {
		return
	}
	var curve []float64
	day := int64(math.MinInt64)
	for k := range b.gain {
		slot := b.unix(k)
		second := mod(slot, mesh.DaySeconds)
		if today := slot - second; today != day {
			day = today
			curve = dayCurve(at, day, b.t.SlotSeconds)
			b.evenly = b.evenly || at == nil
		}
		b.gain[k] = b.supply.ChargeWhPerDay * curve[second/b.t.SlotSeconds]
	}
}

// dayCurve is the share of a UTC day's energy that comes in each of its slots.
// It sums to 1, or to 0 on a day on which the sun doesn't rise.
func dayCurve(at *locator.Position, midnight, slotSeconds int64) []float64 {
	curve := make([]float64, mesh.DaySeconds/slotSeconds)
	sum := 0.0
	for k := range curve {
		curve[k] = 1
		if at != nil {
			middle := float64(midnight) + (float64(k)+0.5)*float64(slotSeconds)
			curve[k] = max(0, math.Sin(rad(SunHeight(at.Lat, at.Lon, middle))))
		}
		sum += curve[k]
	}
	if sum > 0 {
		for k := range curve {
			curve[k] /= sum
		}
	}
	return curve
}

// keyedSeconds is the expected time keyed in each slot: by the timetable, and
// for the soundings that the plan gives for slots in which it has nothing else to
// send.
func (b *battery) keyedSeconds(loads []Load) []float64 {
	keyed := make([]float64, b.t.Slots)
	for _, l := range loads {
		for k := l.First; k < min(l.First+l.N, b.t.Slots); k++ {
			keyed[k] += l.KeyedSecond / float64(l.N)
		}
	}
	for k := range keyed {
		if _, sounds := b.net.Sounds(b.station, b.unix(k)); sounds && keyed[k] == 0 {
			keyed[k] = b.net.Slots.Keyed.Seconds()
		}
	}
	return keyed
}

// run follows the battery under a load.
func (b *battery) run(loads []Load) Station {
	s := Station{
		Station: b.station, Capacity: b.full, Begin: b.begin, End: b.begin, Lowest: b.begin / b.full, LowestAt: b.t.First,
		ReserveHours: math.NaN(), Cause: -1, Evenly: b.evenly,
	}
	keyed := b.keyedSeconds(loads)
	reserve := b.supply.Reserve * b.full
	if s.End <= reserve {
		s.ReserveHours = 0
	}
	hours := int64(0)
	for k := range b.gain {
		before := s.End
		b.step(&s, k, keyed[k])
		s.Keyed += keyed[k]
		if math.IsNaN(s.ReserveHours) && s.End <= reserve {
			part := 1.0
			if before > s.End {
				part = (before - reserve) / (before - s.End)
			}
			s.ReserveHours = (float64(k) + part) * float64(b.t.SlotSeconds) / 3600
		}
		if s.EmptyAt == 0 && s.Short > 0 {
			s.EmptyAt = b.unix(k + 1)
		}
		if share := s.End / b.full; share < s.Lowest {
			s.Lowest, s.LowestAt = share, b.unix(k+1)
		}
		for ; (hours+1)*3600 <= int64(k+1)*b.t.SlotSeconds; hours++ {
			s.Hours = append(s.Hours, s.End/b.full)
		}
	}
	return s
}

// step is one slot: draw and charge go on together, the battery takes or gives
// the difference as far as it can.
func (b *battery) step(s *Station, slot int, keyed float64) {
	draw := 0.0
	if b.onAir[slot] || keyed > 0 {
		draw = ((float64(b.t.SlotSeconds)-keyed)*b.supply.ReceiveW + keyed*b.supply.TransmitW) / 3600
	}
	left := s.End + b.gain[slot] - draw
	wasted, short := max(0, left-b.full), max(0, -left)
	s.Wasted += wasted
	s.Short += short
	s.Charged += b.gain[slot] - wasted
	s.Used += draw - short
	s.End = min(max(left, 0), b.full)
}

// costs adds up what each message draws beyond listening, dearest first.
func costs(n *mesh.Net, loads [][]Load, o Options) []Cost {
	type key struct{ message, station int }
	wh := map[key]float64{}
	var keys []key
	for v := range loads {
		s := n.Stations[v].Supply
		if s == nil || s.BatteryWh <= 0 {
			continue
		}
		for _, l := range loads[v] {
			k := key{l.Message, v}
			if _, ok := wh[k]; !ok {
				keys = append(keys, k)
			}
			wh[k] += l.KeyedSecond * (s.TransmitW - s.ReceiveW) / 3600
		}
	}
	by := map[int]*Cost{}
	var list []*Cost
	for _, k := range keys {
		c, ok := by[k.message]
		if !ok {
			c = &Cost{Message: k.message, Station: -1}
			by[k.message] = c
			list = append(list, c)
		}
		c.Wh += wh[k]
		if share := wh[k] / (n.Stations[k.station].Supply.BatteryWh * o.Usable); c.Station < 0 || share > c.Share {
			c.Station, c.StationWh, c.Share = k.station, wh[k], share
		}
	}
	slices.SortStableFunc(list, func(a, b *Cost) int {
		return cmp.Or(cmp.Compare(b.Wh, a.Wh), cmp.Compare(a.Message, b.Message))
	})
	out := make([]Cost, len(list))
	for i, c := range list {
		out[i] = *c
	}
	return out
}

func mod(a, b int64) int64 { return ((a % b) + b) % b }

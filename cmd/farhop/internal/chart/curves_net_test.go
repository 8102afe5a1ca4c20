package chart

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"farhop/cmd/farhop/internal/view"
)

var noon = time.Date(2026, 3, 16, 12, 0, 0, 0, time.UTC)

func inventedHead() view.Head {
	return view.Head{Net: "Invented net", At: noon, Caution: view.Caution, Clock: view.Clock{Day: noon}}
}

// inventedRoutes are n chains with arrivals of all kinds: sure, late, never.
func inventedRoutes(n int, seed uint64, minutes float64) view.Routes {
	r := rand.New(rand.NewPCG(seed, 3))
	v := &view.Route{
		Head: inventedHead(), From: "HARBOR", To: "LIGHTHOUSE", Start: noon, FirstSlot: noon.Add(17 * time.Second),
		Deadline: noon.Add(time.Duration(minutes * float64(time.Minute))), Characters: 100, Frames: 7, SlotSeconds: 40, Best: n,
	}
	slots := int(minutes*60/40) - 1
	for i := range n {
		c := view.Chain{Stations: []string{"HARBOR"}}
		for k := range r.IntN(4) {
			c.Stations = append(c.Stations, fmt.Sprintf("SUMMIT %d", k))
		}
		c.Stations = append(c.Stations, "LIGHTHOUSE")
		for k := range c.Stations[1:] {
			c.Hops = append(c.Hops, view.Hop{From: c.Stations[k], To: c.Stations[k+1], Channel: []string{"night", "day"}[k%2]})
		}
		most, begin, rise := r.Float64(), 5+10*float64(i), 2+6*r.Float64()
		for s := range slots {
			chance := 0.0
			if t := v.SlotEnd(s); t > begin {
				chance = most * (1 - math.Exp(-(t-begin)/rise))
			}
			c.Arrival = append(c.Arrival, chance)
			for k, at := range []**float64{&c.P50Minutes, &c.P80Minutes, &c.P90Minutes} {
				if *at == nil && chance >= arrivalLevels[k] {
					m := v.SlotEnd(s)
					*at = &m
				}
			}
			c.DeliveredByDeadline = chance
		}
		v.Chains = append(v.Chains, c)
	}
	if n > 1 {
		v.Backup = &view.Backup{Chains: [2]int{0, 1}, DeliveredByDeadline: 0.97}
	}
	return view.Routes{v}
}

// inventedBatteries are n batteries over some hours.
func inventedBatteries(n int, seed uint64, hours int) *view.Endurance {
	r := rand.New(rand.NewPCG(seed, 4))
	v := &view.Endurance{Head: inventedHead(), Start: noon, End: noon.Add(time.Duration(hours) * time.Hour), Charge: 0.8, Usable: 1, Planned: 3, Listed: 4}
	for i := range n {
		b := view.StationBattery{Call: fmt.Sprintf("LIGHTHOUSE %d", i), Reserve: []float64{0, 0.2, 0.5, 0.96}[i%4], LowestCharge: 1, CapacityWh: 100}
		phase, depth := r.Float64(), r.Float64()
		for h := range hours {
			share := clamp(0.6+depth*math.Sin(2*math.Pi*(float64(h)/24+phase)), 0, 1)
			at := noon.Add(time.Duration(h+1) * time.Hour)
			b.HourlyCharge = append(b.HourlyCharge, share)
			if share < b.LowestCharge {
				b.LowestCharge, b.LowestAt = share, at
			}
			if share <= b.Reserve && b.ReserveAt == nil {
				m := float64(h + 1)
				b.ReserveAt, b.HoursToReserve = &at, &m
			}
			if h%24 == 9 {
				b.Nights = append(b.Nights, view.Span{From: at, To: at.Add(11 * time.Hour)})
			}
		}
		if b.LowestAt.IsZero() {
			b.LowestAt = noon
		}
		v.Stations = append(v.Stations, b)
	}
	return v
}

// inventedScores are scores of n horizons.
func inventedScores(n int, seed uint64, forecasts int) *view.Backtest {
	r := rand.New(rand.NewPCG(seed, 5))
	v := &view.Backtest{Head: inventedHead(), Reports: forecasts, Links: 3, LinksSeen: 4}
	for i := range n {
		h := view.BacktestHorizon{HorizonMinutes: 15 * math.Pow(2, float64(i)), Forecasts: forecasts, BaseRate: 0.4}
		m := view.BacktestModel{Name: "farhop", Brier: 0.1, CalibrationError: 0.02}
		for k := range 10 {
			low := float64(k) / 10
			m.Bins = append(m.Bins, view.BacktestBin{Low: low, High: low + 0.1, N: r.IntN(forecasts/10 + 1), Forecast: low + 0.1*r.Float64(), Seen: r.Float64()})
		}
		h.Models = []view.BacktestModel{m}
		v.Horizons = append(v.Horizons, h)
	}
	return v
}

// inventedStrip is a chain of n hops with hours of every state.
func inventedStrip(n int, seed uint64, at time.Time) *view.Strip {
	r := rand.New(rand.NewPCG(seed, 6))
	v := &view.Strip{Head: inventedHead(), From: "HARBOR", To: "LIGHTHOUSE 9", Threshold: 0.5, ChainText: "likely, about 8 in 10"}
	for h := range 24 {
		v.Hours = append(v.Hours, at.Add(time.Duration(h)*time.Hour))
	}
	way := func() view.StripWay {
		w := view.StripWay{State: stripStates[r.IntN(len(stripStates))].state}
		if w.State == view.StripOpen || w.State == view.StripClosed {
			chance := r.Float64() / 2
			if w.State == view.StripOpen {
				chance += 0.5
			}
			w.Decode = &chance
		}
		return w
	}
	for i := range n {
		h := view.StripHop{From: fmt.Sprintf("LIGHTHOUSE %d", i), To: fmt.Sprintf("LIGHTHOUSE %d", i+1), OnChain: i < n-1 || n == 1}
		for range 24 {
			h.Hours = append(h.Hours, view.StripHour{Channel: []string{"", "a rather long name", "day"}[r.IntN(3)], There: way(), Back: way()})
		}
		v.Hops = append(v.Hops, h)
	}
	v.Chain = []string{"HARBOR", "LIGHTHOUSE 9"}
	return v
}

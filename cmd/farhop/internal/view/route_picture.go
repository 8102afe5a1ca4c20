package view

import (
	"fmt"
	"strings"
)

// SlotEnd is when a slot of Chain.Arrival ends, in minutes after the start.
func (v *Route) SlotEnd(slot int) float64 {
	return v.FirstSlot.Sub(v.Start).Minutes() + float64(slot+1)*v.SlotSeconds/60
}

// Told says in sentences what a picture of the arrival shows.
func (v Routes) Told() []string {
	var lines []string
	for _, r := range v {
		if len(r.Chains) == 0 {
			lines = append(lines, fmt.Sprintf("%s%s%s: no chain found by %s.", r.From, Arrow, r.To, r.Clock.At(r.Deadline)))
			continue
		}
		for i := range r.Chains {
			c := &r.Chains[i]
			lines = append(lines, fmt.Sprintf("%s: by %s %s, half by %s, 8 in 10 by %s, 9 in 10 by %s.", strings.Join(c.Stations, Arrow),
				r.Clock.At(r.Deadline), Percent(c.DeliveredByDeadline), r.Short(c.P50Minutes), r.Short(c.P80Minutes), r.Short(c.P90Minutes)))
			if len(v) > 1 {
				break
			}
		}
		if text := r.backup(); text != "" {
			lines = append(lines, text)
		}
	}
	return append(lines, "The same in words: farhop route, slot by slot with --explain.")
}

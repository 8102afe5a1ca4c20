package sounding

import (
	"cmp"
	"context"
	"math"
	"slices"
	"time"

	"farhop/mesh"
)

// Make plans the soundings of a prepared net. A plan in which nothing can be done is
// not an error; a request that makes no sense and a cancelled context are.
//
// With n soundings in the plan, c of them for one link and t links, time grows about
// as n·t/stations·(instants + c), some tens of milliseconds for 20 stations over 12
// hours. Memory: half a kilobyte for each link and sounding of its sender.
func Make(ctx context.Context, n *mesh.Net, src Source, r Request) (*Plan, error) {
	r = r.filled()
	if err := r.check(n); err != nil {
		return nil, err
	}
	d := newScene(n, src, r).newDraft()
	if err := d.fill(ctx); err != nil {
		return nil, err
	}
	if err := d.improve(ctx); err != nil {
		return nil, err
	}
	p := &Plan{Request: r, First: d.first, End: d.end}
	for i := range d.targets {
		p.Links = append(p.Links, d.outcome(i))
	}
	p.Soundings = d.soundings()
	p.Lists = d.lists()
	p.Tally = d.tally(d.shots)
	p.Halved = d.tally(d.halved())
	p.Scheduled = d.tally(d.scheduled())
	p.None = d.tally(make(timetable, len(d.shots)))
	p.Stations = d.burdens(p)
	return p, nil
}

// soundings lists the shots by time, station and channel.
func (d *draft) soundings() []Sounding {
	var list []Sounding
	for station, shots := range d.shots {
		for k := range shots {
			s := Sounding{Station: station, Channel: shots[k].channel, Offset: shots[k].offset, Start: shots[k].start}
			for _, i := range d.from[station] {
				if d.hears(i, &shots[k], d.shots) {
					s.For = append(s.For, d.targets[i].to)
				}
			}
			list = append(list, s)
		}
	}
	slices.SortFunc(list, func(a, b Sounding) int {
		return cmp.Or(cmp.Compare(a.Start, b.Start), a.Station-b.Station)
	})
	return list
}

// lists tells the heard lists that there are reports for.
func (d *draft) lists() []List {
	var list []List
	for p := range d.periods {
		for v := range d.characters {
			if d.characters[v][p] <= 0 {
				continue
			}
			l := List{Receiver: v, At: min(d.end, d.first+int64(p+1)*int64(d.Lists/time.Second)), Stations: d.passes[v][p].Stations}
			for i, t := range d.targets {
				if t.to == v {
					l.Reports += d.courses[i].reports[p]
				}
			}
			if v != d.Coordinator {
				l.Frames = d.frames(v, d.characters[v][p])
				l.Seconds = d.listSeconds(v, p, d.characters[v][p])
			}
			list = append(list, l)
		}
	}
	return list
}

// burdens adds up what each station keys.
func (d *draft) burdens(p *Plan) []Burden {
	all := make([]Burden, len(d.net.Stations))
	keyed := d.net.Slots.Keyed.Seconds()
	for _, s := range p.Soundings {
		all[s.Station].Soundings++
		all[s.Station].SoundingSeconds += keyed
	}
	for v := range d.characters {
		for k, characters := range d.characters[v] {
			pass := d.passes[v][k]
			if pass == nil {
				continue
			}
			frames := d.frames(v, characters)
			for i, u := range pass.Stations {
				all[u].ListSeconds += pass.keyed(i, frames, d.blocks(frames))
			}
		}
	}
	var list []Burden
	for v, b := range all {
		b.Station = v
		b.EnergyWh = math.NaN()
		if s := d.net.Stations[v].Supply; s != nil {
			b.EnergyWh = (b.SoundingSeconds + b.ListSeconds) * s.TransmitW / 3600
		}
		if b.SoundingSeconds+b.ListSeconds > 0 {
			list = append(list, b)
		}
	}
	return list
}

// halved is the plan without every second sounding of each station.
func (d *draft) halved() timetable {
	half := make(timetable, len(d.shots))
	for v, shots := range d.shots {
		for k := 0; k < len(shots); k += 2 {
			half[v] = append(half[v], shots[k])
		}
	}
	return half
}

// scheduled is the soundings that the stations' own plan has over the horizon.
func (sc *scene) scheduled() timetable {
	tt := make(timetable, len(sc.net.Stations))
	for v := range sc.net.Stations {
		if len(sc.net.Stations[v].Soundings) == 0 {
			continue
		}
		for start := sc.first; start+sc.slot <= sc.end; start += sc.slot {
			if c, ok := sc.net.Sounds(v, start); ok {
				tt[v] = append(tt[v], shot{start: start, channel: c})
			}
		}
	}
	return tt
}

package sounding

import (
	"context"
	"math"
	"slices"
	"testing"
	"time"

	"farhop/mesh"
)

// check goes through a plan with nothing but the plan, the net and the links, and
// holds it to every rule. It shares no code with Make.
func check(t *testing.T, n *mesh.Net, src Source, p *Plan) {
	t.Helper()
	checkSlots(t, n, p)
	checkReceivers(t, n, src, p)
	checkLinks(t, n, src, p)
	checkAirtime(t, n, p)
}

func checkSlots(t *testing.T, n *mesh.Net, p *Plan) {
	t.Helper()
	length := int64(n.Slots.Length / time.Second)
	type place struct {
		start           int64
		channel, offset int
	}
	taken := map[place]int{}
	last := map[int]int64{}
	for i, s := range p.Soundings {
		if s.Start%length != 0 || s.Start < p.First || s.Start+length > p.End {
			t.Errorf("sounding %d starts at %d: no slot of the horizon", i, s.Start)
		}
		if i > 0 && s.Start < p.Soundings[i-1].Start {
			t.Errorf("sounding %d is out of order", i)
		}
		second := int((s.Start%86400 + 86400) % 86400)
		if !n.Stations[s.Station].OnAir.Holds(second, int(length)) || !n.Channels[s.Channel].Windows.Holds(second, int(length)) {
			t.Errorf("sounding %d: %s is off the air or the channel out of window", i, n.Stations[s.Station].Call)
		}
		if !slices.Contains(n.Stations[s.Station].Channels, s.Channel) {
			t.Errorf("sounding %d is on a channel that isn't the sender's", i)
		}
		if s.Offset < 0 || s.Offset >= max(1, len(n.Channels[s.Channel].OffsetsHz)) {
			t.Errorf("sounding %d: no offset %d", i, s.Offset)
		}
		checkLimits(t, n, p, i)
		at := place{s.Start, s.Channel, s.Offset}
		if other, ok := taken[at]; ok {
			t.Errorf("stations %d and %d sound in one slot on one offset", other, s.Station)
		}
		taken[at] = s.Station
		if before, ok := last[s.Station]; ok && time.Duration(s.Start-before)*time.Second < p.Request.Gap {
			t.Errorf("station %d sounds twice within %d s", s.Station, s.Start-before)
		}
		last[s.Station] = s.Start
	}
}

// checkLimits holds a sounding to quiet hours, duty, and clearance of offsets.
func checkLimits(t *testing.T, n *mesh.Net, p *Plan, i int) {
	t.Helper()
	s := &p.Soundings[i]
	if n.Quiet(s.Station, s.Start) {
		t.Errorf("sounding %d is in quiet hours", i)
	}
	hour, slots := s.Start-s.Start%3600, 0
	for j := range p.Soundings {
		o := &p.Soundings[j]
		if o.Station == s.Station && o.Start >= hour && o.Start < hour+3600 {
			slots++
		}
		if hz := n.Channels[s.Channel].OffsetsHz; o.Station != s.Station && o.Start == s.Start && o.Channel == s.Channel &&
			max(hz[o.Offset]-hz[s.Offset], hz[s.Offset]-hz[o.Offset]) < n.Limits.ClearHz {
			t.Errorf("soundings %d and %d are too near each other", i, j)
		}
	}
	if share := float64(slots) * n.Slots.Length.Hours(); share > n.Duty(s.Station)+1e-9 {
		t.Errorf("station %d sounds in %.2f of an hour, more than %.2f", s.Station, share, n.Duty(s.Station))
	}
	if n.Channels[s.Channel].OffsetsHz == nil {
		return
	}
	for _, to := range s.For {
		if hz := n.Channels[s.Channel].OffsetsHz[s.Offset]; !n.OffsetClear(to, s.Channel, hz) {
			t.Errorf("sounding %d at %d Hz is in the noise of %d", i, hz, to)
		}
	}
}

// heard tells whether a receiver can listen to a sounding, pass it on, and has a link
// whose evidence it is.
func heard(n *mesh.Net, src Source, p *Plan, s *Sounding, to, onBandOf int) bool {
	second := int((s.Start%86400 + 86400) % 86400)
	length := int(n.Slots.Length / time.Second)
	r := &n.Stations[to]
	if !r.OnAir.Holds(second, length) || !n.Channels[s.Channel].Windows.Holds(second, length) {
		return false
	}
	for _, c := range r.Channels {
		if c == s.Channel {
			break
		}
		if r.Watch != mesh.WatchAll && n.Channels[c].Windows.Holds(second, length) {
			return false // it watches another
		}
	}
	for _, o := range p.Soundings {
		if o.Station == to && o.Start == s.Start {
			return false
		}
	}
	a, ok := src.Growth(s.Station, to, s.Channel)
	b, has := src.Growth(s.Station, to, onBandOf)
	return ok && has && a.Band == b.Band && slices.Contains(r.Channels, s.Channel)
}

func checkReceivers(t *testing.T, n *mesh.Net, src Source, p *Plan) {
	t.Helper()
	for i := range p.Soundings {
		s := &p.Soundings[i]
		if len(s.For) == 0 {
			t.Errorf("sounding %d is for nobody", i)
		}
		if !slices.IsSorted(s.For) {
			t.Errorf("sounding %d: receivers %v aren't in order", i, s.For)
		}
		period := int((s.Start - p.First) / int64(p.Request.Lists/time.Second))
		for _, to := range s.For {
			if !heard(n, src, p, s, to, s.Channel) {
				t.Errorf("sounding %d by %d: %d can't hear it", i, s.Station, to)
			}
			if !slices.ContainsFunc(p.Links, func(o Outcome) bool { return o.From == s.Station && o.To == to }) {
				t.Errorf("sounding %d is for %d → %d, which doesn't matter", i, s.Station, to)
			}
			if to != p.Request.Coordinator && !slices.ContainsFunc(p.Request.Passes, func(x Pass) bool { return x.Receiver == to && x.Period == period }) {
				t.Errorf("sounding %d: %d has no way to pass it on", i, to)
			}
		}
	}
}

// checkLinks plays every link on from its state, with the soundings that are for it.
func checkLinks(t *testing.T, n *mesh.Net, src Source, p *Plan) {
	t.Helper()
	length := int64(n.Slots.Length / time.Second)
	for _, o := range p.Links {
		g, _ := src.Growth(o.From, o.To, o.Channel)
		worst, above, judged := 0.0, 0, false
		for at := p.First; at < p.End; at += 900 {
			matters := false
			for _, d := range p.Request.Needs {
				e, ok := src.Growth(d.From, d.To, d.Channel)
				matters = matters || ok && d.From == o.From && d.To == o.To && e.Band == g.Band && at >= d.Start && at < d.End &&
					n.OpenSlot(d.From, d.To, d.Channel, n.Slots.Start(at))
			}
			if !matters {
				continue
			}
			judged = true
			s := g.State.Clone()
			for i := range p.Soundings {
				if x := &p.Soundings[i]; x.Station == o.From && x.Start+length <= at && slices.Contains(x.For, o.To) && heard(n, src, p, x, o.To, o.Channel) {
					g.Model.Expect(s, x.Start, g.Raise, 1-n.Slots.Busy)
				}
			}
			sd := g.Model.Forecast(s, at).SD
			worst = max(worst, sd)
			if sd > p.Request.WithinDB+1e-6 {
				above += 15
			}
		}
		if !judged {
			if o.Within || o.Reason != Away {
				t.Errorf("%d → %d is never judged; the plan says %+v", o.From, o.To, o)
			}
			continue
		}
		if math.Abs(worst-o.WorstSDDB) > 1e-6 || above != o.AboveMinutes || o.Within != (above == 0) || o.Within != (o.Reason == Kept) {
			t.Errorf("%d → %d: worst %v, above for %d min; the plan says %+v", o.From, o.To, worst, above, o)
		}
	}
}

func checkAirtime(t *testing.T, n *mesh.Net, p *Plan) {
	t.Helper()
	keyed := n.Slots.Keyed.Seconds()
	if want := float64(len(p.Soundings)) * keyed; p.Count != len(p.Soundings) || math.Abs(p.SoundingSeconds-want) > 1e-6 {
		t.Errorf("soundings take %v s, want %v", p.SoundingSeconds, want)
	}
	lists, stations, sounded, energy := 0.0, 0.0, 0.0, 0.0
	for _, l := range p.Lists {
		lists += l.Seconds
		if (l.Frames == 0) != (l.Receiver == p.Request.Coordinator) || l.Reports <= 0 {
			t.Errorf("list %+v", l)
		}
	}
	for _, b := range p.Stations {
		stations += b.ListSeconds
		sounded += b.SoundingSeconds
		if s := n.Stations[b.Station].Supply; s != nil {
			energy += b.EnergyWh - (b.ListSeconds+b.SoundingSeconds)*s.TransmitW/3600
		}
	}
	if math.Abs(lists-p.ListSeconds) > 1e-6 || math.Abs(stations-p.ListSeconds) > 1e-6 || math.Abs(sounded-p.SoundingSeconds) > 1e-6 || math.Abs(energy) > 1e-6 {
		t.Errorf("lists %v s by receiver, %v by station, %v in all; soundings %v of %v", lists, stations, p.ListSeconds, sounded, p.SoundingSeconds)
	}
	if math.Abs(p.AirtimeSeconds()-lists-sounded) > 1e-6 {
		t.Errorf("airtime %v", p.AirtimeSeconds())
	}
}

func TestRandomPlansKeepTheRules(t *testing.T) {
	total := 0
	for seed := range uint64(12) {
		n, f, r := drawn(t, seed, 4+int(seed)%6)
		p, err := Make(context.Background(), n, f, r)
		if err != nil {
			t.Fatal(err)
		}
		check(t, n, f, p)
		total += p.Count
		if p.WorstSDDB > p.Request.WithinDB+1e-6 || p.Over != 0 {
			t.Errorf("seed %d: the plan's own tally %+v", seed, p.Tally)
		}
		half := 0
		for _, b := range p.Stations {
			half += (b.Soundings + 1) / 2
		}
		if p.Halved.Count != half || p.None.Count != 0 || p.None.AirtimeSeconds() != 0 {
			t.Errorf("seed %d: halved %+v, none %+v", seed, p.Halved, p.None)
		}
		if p.Halved.WorstSDDB < p.WorstSDDB-1e-9 || p.None.WorstSDDB < p.Halved.WorstSDDB-1e-9 {
			t.Errorf("seed %d: the fewer soundings, the surer: %+v, %+v, %+v", seed, p.Tally, p.Halved, p.None)
		}
	}
	if total < 50 {
		t.Errorf("only %d soundings were looked at", total)
	}
}

// Limits that the plan states are kept: quiet hours, duty, noise, clearance.
func TestLimitsAreKept(t *testing.T) {
	total := 0
	for seed := range uint64(8) {
		n, f, r := drawn(t, 500+seed, 6)
		n.Channels[0].OffsetsHz, n.Channels[1].OffsetsHz = []int{800, 850, 1200}, []int{900, 1300}
		n.Limits.Quiet = windows(t, "10:00-10:30", "19:10-19:20")
		n.Limits.DutyLimit = 1.2 / 90 // one slot an hour
		n.Stations[1].DutyLimit, n.Stations[2].DutyLimit = 0.5/90, 1
		n.Stations[3].Noisy = []mesh.Noise{{Channel: 0, OffsetHz: 810}, {Channel: 1, OffsetHz: 900}}
		r.Gap, r.WithinDB = 10*time.Minute, 7
		p, err := Make(context.Background(), n, f, r)
		if err != nil {
			t.Fatal(err)
		}
		check(t, n, f, p)
		for _, s := range p.Soundings {
			if s.Station == 1 {
				t.Error("a station sounds that has no slot")
			}
		}
		total += p.Count
	}
	if total < 50 {
		t.Errorf("only %d soundings were looked at", total)
	}
}

// No sounding of a plan can be left out.
func TestNothingIsSuperfluous(t *testing.T) {
	for seed := range uint64(4) {
		n, f, r := drawn(t, 100+seed, 6)
		p, err := Make(context.Background(), n, f, r)
		if err != nil {
			t.Fatal(err)
		}
		for i := range p.Soundings {
			less := *p
			less.Soundings = slices.Delete(slices.Clone(p.Soundings), i, i+1)
			if worse := above(n, f, &less) - above(n, f, p); worse <= 0 {
				t.Errorf("seed %d: sounding %+v could be left out", seed, p.Soundings[i])
			}
		}
	}
}

// above counts the instants at which links that matter are above the limit.
func above(n *mesh.Net, src Source, p *Plan) (count int) {
	length := int64(n.Slots.Length / time.Second)
	for _, o := range p.Links {
		g, _ := src.Growth(o.From, o.To, o.Channel)
		for at := p.First; at < p.End; at += 900 {
			need := slices.ContainsFunc(p.Request.Needs, func(d Need) bool {
				e, ok := src.Growth(d.From, d.To, d.Channel)
				return ok && e.Band == g.Band && d.From == o.From && d.To == o.To && at >= d.Start && at < d.End && n.OpenSlot(d.From, d.To, d.Channel, n.Slots.Start(at))
			})
			if !need {
				continue
			}
			s := g.State.Clone()
			for i := range p.Soundings {
				if x := &p.Soundings[i]; x.Station == o.From && x.Start+length <= at && slices.Contains(x.For, o.To) && heard(n, src, p, x, o.To, o.Channel) {
					g.Model.Expect(s, x.Start, g.Raise, 1-n.Slots.Busy)
				}
			}
			if g.Model.Forecast(s, at).SD > p.Request.WithinDB+1e-6 {
				count++
			}
		}
	}
	return count
}

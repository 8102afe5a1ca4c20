package cli

import (
	"context"
	"math"
	"slices"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/routing/simulate"
)

// played is a printed message as a scenario of the simulation, which knows nothing of
// timetables: every hop has a channel of its own that is open in its reservation only, or
// after that in the catch-up blocks too, as the rule for overruns says.
type played struct {
	c        *checker
	hops     []*printedTransmission
	channels []int // of the plan
}

// Edge asks the plan's links for a hop's channel.
func (p *played) Edge(from, to, channel int, unix int64) (mesh.Edge, bool) {
	return p.c.links.Edge(from, to, p.channels[channel], unix)
}

// windows are the slots in which a hop may be worked on.
func (p *played) windows(t *testing.T, i int, until time.Time, catchUp bool) mesh.Windows {
	t.Helper()
	x, length := p.hops[i], int64(p.c.net.Slots.Length/time.Second)
	from, to := p.c.station(x.From), p.c.station(x.To[0])
	clock := func(unix int64) string { return time.Unix(unix, 0).UTC().Format("15:04:05") }
	var list []string
	for at := x.Start.Unix(); at+length <= until.Unix(); at += length {
		free := (at+length-1)%3600 >= 3600-int64(p.c.p.CatchUp*60)
		if at < x.End.Unix() || catchUp && free && p.c.net.OpenSlot(from, to, p.channels[i], at) {
			end := clock(at + length)
			if end == "00:00:00" {
				end = "24:00"
			}
			list = append(list, clock(at)+"-"+end)
		}
	}
	w, err := mesh.ParseWindows(list)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// play plays a message by its reservations.
func (p *played) play(t *testing.T, m *printedMessage, runs int, catchUp bool) simulate.Share {
	t.Helper()
	net := p.c.net.Clone()
	net.Channels, net.Fixed, net.Traffic = nil, nil, nil
	s := simulate.Scenario{Net: net, Links: p, Start: p.c.p.At.Unix(), Deadline: m.Deadline.Sub(p.c.p.At), Frames: p.hops[0].Frames}
	for i, x := range p.hops {
		if s.Stations == nil {
			s.Stations = []int{p.c.station(x.From)}
		}
		s.Stations, s.Channels = append(s.Stations, p.c.station(x.To[0])), append(s.Channels, i)
		net.Channels = append(net.Channels, mesh.Channel{
			Name: x.Message + string(rune('a'+i)), Frequency: 7_000_000, Windows: p.windows(t, i, m.Deadline, catchUp),
		})
	}
	for i := range net.Stations {
		v := &net.Stations[i]
		v.Channels, v.Watch, v.Soundings, v.Noisy = slices.Clone(s.Channels), mesh.WatchAll, nil, nil
	}
	if issues := net.Prepare(); len(issues) > 0 {
		t.Fatal(issues)
	}
	r, err := simulate.Run(context.Background(), s, simulate.Options{Runs: runs, Seed: 7, Workers: 1})
	if err != nil {
		t.Fatal(err)
	}
	return r.Delivered
}

// Played by the independent simulation, a hop only in the slots reserved for it and
// given up for good at their end, messages arrive as often as the timetable says or
// more often, within three standard errors; with the catch-up blocks for what overran,
// no less often.
func TestSimulatedTimetableKeepsItsWord(t *testing.T) {
	strewn, traffic := writePlan(t, 4, 14, 40)
	for _, c := range []struct {
		name, plan, log string
		args            []string
		least           int
	}{
		{"example", aysenPlan, aysenLog, nil, 3},
		{"example, half the margin", aysenPlan, aysenLog, []string{"--margin", "0.4"}, 3},
		{"strewn", strewn, "", []string{"--traffic", traffic}, 10},
	} {
		args := append([]string{"--plan", c.plan}, c.args...)
		if c.log != "" {
			args = append(args, "--observations", c.log, "--at", "newest")
		}
		check := newChecker(t, c.plan, c.log, timetableOf(t, args...))
		const runs = 8000
		strict, caught, said, messages := 0.0, 0.0, 0.0, 0
		for i := range check.p.Messages {
			m := &check.p.Messages[i]
			if !m.Fits || m.To == "every-member" {
				continue
			}
			p := check.played(m)
			kept, more := p.play(t, m, runs, false), p.play(t, m, runs, true)
			for _, want := range []float64{*m.Chance, check.p.Margin} {
				if kept.Value() < want-3*math.Sqrt(want*(1-want)/runs) {
					t.Errorf("%s: %s arrives with %.4f, said is %.4f", c.name, m.ID, kept.Value(), want)
				}
			}
			if more.Value() < kept.Value()-3*math.Hypot(kept.StandardError(), more.StandardError()) {
				t.Errorf("%s: %s arrives with %.4f, with catch-up blocks with %.4f", c.name, m.ID, kept.Value(), more.Value())
			}
			strict, caught, said, messages = strict+kept.Value(), caught+more.Value(), said+*m.Chance, messages+1
		}
		if messages < c.least {
			t.Fatalf("%s: only %d messages fit", c.name, messages)
		}
		n := float64(messages)
		t.Logf("%s, margin %g: %d messages: said %.3f, played %.3f, with catch-up blocks %.3f", c.name, check.p.Margin, messages, said/n, strict/n, caught/n)
		if caught <= strict {
			t.Errorf("%s: catch-up blocks gain nothing, %.4f after %.4f", c.name, caught/n, strict/n)
		}
	}
}

// played gathers the hops of a message.
func (c *checker) played(m *printedMessage) *played {
	p := &played{c: c}
	for i := range c.p.Transmissions {
		if x := &c.p.Transmissions[i]; x.Message == m.ID {
			ch, _ := c.net.FindChannel(x.Channel)
			p.hops, p.channels = append(p.hops, x), append(p.channels, ch)
		}
	}
	return p
}

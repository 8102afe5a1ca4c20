package aysen

import (
	"bytes"
	"context"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/fit"
	"farhop/mesh/link"
	"farhop/observations"
	"farhop/routing"
	"farhop/routing/simulate"
)

// When an evening is planned, by what has been heard until then, and how much later
// the messages leave.
const (
	planned = 19 * time.Hour
	leaving = 3 * time.Hour
)

// night is the state of the sky when an evening is planned.
type night struct {
	at  time.Time
	sky *weather
}

// unsettledHistory draws a log of a net in which every evening is disturbed to its own
// degree, and keeps the sky as it was when each was planned from the given day on.
func unsettledHistory(t *testing.T, seed uint64, days int) (*Truth, planner, []night) {
	t.Helper()
	s := New()
	s.Seed, s.Evening = seed, Disturbance{Ramp: time.Hour}
	s.Wander.NetDB, s.Wander.Net = 5, 5*time.Hour
	for i := range s.Stations {
		s.Stations[i].PowerW /= 20 // chains that are worth a backup
	}
	truth, err := NewTruth(s)
	if err != nil {
		t.Fatal(err)
	}
	next := s.Start.Add(time.Duration(days)*24*time.Hour + planned)
	var nights []night
	rows := truth.observe(func(at time.Time, sky *weather) {
		if !at.Before(next) {
			nights = append(nights, night{next, sky.clone()})
			next = next.Add(24 * time.Hour)
		}
	})
	var csv bytes.Buffer
	if err := WriteCSV(&csv, rows); err != nil {
		t.Fatal(err)
	}
	var p planner
	if p.net, err = s.Net(); err != nil {
		t.Fatal(err)
	}
	if p.log, err = observations.Read(context.Background(), []observations.Input{{Text: csv.String()}}, observations.Options{Newest: true}); err != nil {
		t.Fatal(err)
	}
	return truth, p, nights
}

func (y *weather) clone() *weather {
	c := *y
	copies := func(from [][][]strayer) [][][]strayer {
		out := make([][][]strayer, len(from))
		for i := range from {
			out[i] = make([][]strayer, len(from[i]))
			for j := range from[i] {
				out[i][j] = append([]strayer(nil), from[i][j]...)
			}
		}
		return out
	}
	c.fast, c.slow = copies(y.fast), copies(y.slow)
	return &c
}

// future is one way for an evening to go on, as links that nobody knows in the net.
type future struct {
	truth  *Truth
	sky    *weather
	start  int64
	common []float64 // what all links have in common, by quarter of an hour
}

func (n night) future(t *Truth, seed uint64) *future {
	f := &future{truth: t, sky: n.sky.clone(), start: n.at.Unix()}
	f.sky.rng = rand.New(rand.NewPCG(seed, 10))
	for q := range int64(4 * 6) {
		f.common = append(f.common, f.sky.net.at(f.start+900*q, f.sky.rng))
	}
	return f
}

// Edge is how a link truly is.
func (f *future) Edge(from, to, channel int, unix int64) (mesh.Edge, bool) {
	i, j, s := max(from, to), min(from, to), f.truth.Scenario
	snr := f.truth.SNR(from, to, channel, time.Unix(unix, 0)) + f.common[(unix-f.start)/900] +
		f.sky.fast[i][j][channel].at(unix, f.sky.rng) + f.sky.slow[i][j][channel].at(unix, f.sky.rng)
	return mesh.Edge{
		From: from, To: to, Channel: channel, Known: true, HasSNR: true, SNR: snr,
		Direction: link.Direction{Kind: link.Gaussian, Margin: snr - s.Slots.HalfDecodeDB, Noise: math.Hypot(s.Wander.SlotDB, s.Slots.SpreadDB)},
	}, true
}

// stated is what was said of pairs of chains, of each chain alone, and what became of
// them.
type stated struct{ n, said, seen, saidAlone, seenAlone float64 }

// over is by how much the pairs were oversold.
func (s stated) over() float64 { return (s.said - s.seen) / s.n }

// The chance that at least one of two chains delivers is as stated, with the net-wide
// deviation that fit learns from the log: evenings are disturbed, each to its own
// degree, and no forecast of hours before knows how much. Taken as independent, two
// chains seem surer than they are, although each alone is as sure as stated.
func TestPairsOnDisturbedEvenings(t *testing.T) {
	if testing.Short() {
		t.Skip("learns and plays 27 evenings")
	}
	const independent, fitted = 0, 1
	var sums [2]stated
	for seed := range uint64(3) {
		truth, p, nights := unsettledHistory(t, 70+seed, 5)
		history, err := mesh.Gather(context.Background(), p.net, p.log, p.log.Moment)
		if err != nil {
			t.Fatal(err)
		}
		common, err := fit.EstimateCommon(context.Background(), p.net, history, p.net.Link, fit.CommonAhead)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("history %d: net-wide deviation %.1f dB, square %.1f ± %.1f; in truth %v dB", seed, common.DB, common.Seen, common.SeenError, truth.Scenario.Wander.NetDB)
		for _, n := range nights {
			for which, db := range [2]float64{independent: 0, fitted: common.DB} {
				p.net.CommonDB = db
				p.pairs(t, truth, n, &sums[which])
			}
		}
	}
	for which, name := range [2]string{independent: "independent", fitted: "as fitted"} {
		s := sums[which]
		t.Logf("%s: %.0f pairs, said %.3f, seen %.3f; each chain alone: said %.3f, seen %.3f",
			name, s.n, s.said/s.n, s.seen/s.n, s.saidAlone/s.n/2, s.seenAlone/s.n/2)
		if off := (s.saidAlone - s.seenAlone) / s.n / 2; s.n < 150 || math.Abs(off) > 0.04 {
			t.Errorf("%s: of %.0f pairs each chain alone is off by %+.3f", name, s.n, off)
		}
	}
	if over := sums[fitted].over(); math.Abs(over) > 0.015 {
		t.Errorf("as fitted pairs are oversold by %+.3f", over)
	}
	if over := sums[independent].over(); over < 0.02 || over < sums[fitted].over()+0.015 {
		t.Errorf("independent pairs are oversold by %+.3f, as fitted by %+.3f", over, sums[fitted].over())
	}
}

// pairs asks for a message from HARBOR to others when the evening is planned, and
// plays the best pair of chains, sent at once, over ways the evening may go on.
func (p planner) pairs(t *testing.T, truth *Truth, n night, sum *stated) {
	t.Helper()
	const futures = 30
	const frames, deadline = 2, 12 * time.Minute // a short text, before the sky changes again
	start := n.at.Add(leaving).Unix()
	plan := routing.New(p.net, p.learn(t, n.at))
	harbor := index(truth.Scenario.Stations, "HARBOR")
	for _, call := range []string{"BRIDGE", "FERRY", "ISLAND", "SUMMIT", "JETTY", "QUARRY", "RANCH"} {
		a, err := plan.Route(context.Background(), routing.Request{
			From: harbor, To: index(truth.Scenario.Stations, call), Frames: frames, Start: start, Deadline: deadline, Chains: 2, Relays: 1, Both: true,
		})
		if err != nil {
			t.Fatal(err)
		}
		if a.Backup == nil {
			continue
		}
		sum.n++
		sum.said += a.Backup.Delivered
		for k := range uint64(futures) {
			f, neither := n.future(truth, uint64(n.at.Unix())+k), 1.0
			for _, c := range a.Backup.Chains {
				s := simulate.Scenario{Net: p.net, Links: f, Stations: a.Chains[c].Stations, Frames: frames, Start: start, Deadline: deadline}
				for _, h := range a.Chains[c].Hops {
					s.Channels = append(s.Channels, h.Channel)
				}
				r, err := simulate.Run(context.Background(), s, simulate.Options{Runs: 1, Seed: k, Workers: 1})
				if err != nil {
					t.Fatal(err)
				}
				neither *= 1 - r.Delivered.Value()
				sum.saidAlone += a.Chains[c].Delivered / futures
				sum.seenAlone += r.Delivered.Value() / futures
			}
			sum.seen += (1 - neither) / futures
		}
	}
}

package sounding

import (
	"cmp"
	"context"
	"slices"
	"time"

	"farhop/mesh"
	"farhop/routing"
	"farhop/routing/cut"
)

// PassThreshold is the chance of delivery that a receiver's chain to the coordinator
// needs for its list to count. A choice.
const PassThreshold = 0.5

// leastChance bounds how often a frame of a list is thought to be sent again.
const leastChance = 0.05

// Question says which links are to matter.
type Question struct {
	routing.Request               // message and chains that the table of all pairs is made for; From, To and Start aren't used
	Start           int64         // the moment asked for, Unix seconds
	Horizon         time.Duration // 0 = DefaultHorizon
	Every           time.Duration // the table is made anew so often; 0 = DefaultLists
	Threshold       float64       // decode chance from which a link counts as open
	Coordinator     int
}

// Matter is the links that matter, and how lists reach the coordinator.
type Matter struct {
	Needs  []Need // by time, sender, receiver and channel, each once a period
	Passes []Pass // by period and receiver
	Single []int  // stations that are a single point of failure at the start of some period, ascending
	// Warnings are those of the first table.
	Warnings []routing.Warning
}

// Links is what is asked of a net's links; *mesh.Links is it.
type Links interface {
	routing.Source
	Graph(unix int64) *mesh.Graph
}

// Matters finds the links that matter over the horizon: those on the best chain or the
// best chain with another next hop between any two stations, as the table of all pairs has
// it at the start of each period, and the open links from and to stations that are single
// points of failure then, with the links that are so themselves. A link of a
// period matters until the period ends. The work is that of a table a period.
func Matters(ctx context.Context, n *mesh.Net, links Links, q Question) (*Matter, error) {
	m := &Matter{}
	r := Request{Start: q.Start, Horizon: q.Horizon, Lists: q.Every, Coordinator: q.Coordinator}.filled()
	if err := r.check(n); err != nil {
		return nil, err
	}
	first := n.Slots.Start(q.Start)
	end := first + int64(r.Horizon/time.Second)
	for period, at := 0, first; at < end; period++ {
		p := stretch{net: n, links: links, question: &q, number: period, start: at, end: min(end, at+int64(r.Lists/time.Second))}
		if err := p.gather(ctx, m); err != nil {
			return nil, err
		}
		at = p.end
	}
	slices.Sort(m.Single)
	m.Single = slices.Compact(m.Single)
	return m, nil
}

// stretch is one period in the making.
type stretch struct {
	net        *mesh.Net
	links      Links
	question   *Question
	number     int
	start, end int64
	needs      []Need
}

func (s *stretch) gather(ctx context.Context, m *Matter) error {
	t := routing.TableRequest{Request: s.question.Request, Station: routing.AllStations}
	t.Start = s.start
	table, err := routing.New(s.net, s.links).Table(ctx, t)
	if err != nil {
		return err
	}
	if s.number == 0 {
		m.Warnings = table.Warnings
	}
	for i := range table.Rows {
		row := &table.Rows[i]
		s.chain(row.Stations, row.Channels)
		s.chain(row.BackupStations, row.BackupChannels)
		if row.To == s.question.Coordinator && row.Delivered >= PassThreshold {
			m.Passes = append(m.Passes, s.pass(row))
		}
	}
	single, err := s.single(ctx)
	if err != nil {
		return err
	}
	slices.SortFunc(s.needs, func(a, b Need) int {
		return cmp.Or(a.From-b.From, a.To-b.To, a.Channel-b.Channel)
	})
	m.Needs = append(m.Needs, slices.Compact(s.needs)...)
	m.Single = append(m.Single, single...)
	return nil
}

// add notes a link that matters.
func (s *stretch) add(from, to, channel int) {
	s.needs = append(s.needs, Need{From: from, To: to, Channel: channel, Start: s.start, End: s.end})
}

func (s *stretch) chain(stations, channels []int) {
	for i, c := range channels {
		s.add(stations[i], stations[i+1], c)
	}
}

// single adds the links at single points of failure.
func (s *stretch) single(ctx context.Context) ([]int, error) {
	q := s.question
	snapshot := s.links.Graph(s.start)
	g, err := cut.FromMesh(snapshot, cut.Use{Inferred: q.Inferred, Unknown: q.Unknown})
	if err != nil {
		return nil, err
	}
	report, err := cut.Analyse(ctx, g, cut.Options{Threshold: q.Threshold})
	if err != nil {
		return nil, err
	}
	point := make([]bool, len(s.net.Stations))
	var stations []int
	for _, x := range report.SingleStations {
		point[x.Station] = true
		stations = append(stations, x.Station)
	}
	only := map[[2]int]bool{}
	for _, x := range report.SingleLinks {
		only[[2]int{x.From, x.To}] = true
	}
	slot := s.net.Slots.Start(s.start)
	for _, e := range snapshot.Edges() {
		usable := e.Known && !e.Inferred || e.Inferred && q.Inferred || !e.Known && q.Unknown
		if !usable || e.Decode < q.Threshold || !s.net.OpenSlot(e.From, e.To, e.Channel, slot) {
			continue
		}
		if point[e.From] || point[e.To] || only[[2]int{e.From, e.To}] {
			s.add(e.From, e.To, e.Channel)
		}
	}
	return stations, nil
}

// pass is what the stations of a chain key for a list, on average: each frame until
// it is decoded, and for each block the acknowledgment until it is read, with a
// poll for each that isn't. Rounds that run out are not counted.
func (s *stretch) pass(row *routing.Row) Pass {
	keyed := s.net.Slots.Keyed.Seconds()
	p := Pass{
		Receiver: row.From, Period: s.number, Stations: row.Stations, Delivered: row.Delivered,
		FrameSeconds: make([]float64, len(row.Stations)), BlockSeconds: make([]float64, len(row.Stations)),
	}
	for i, c := range row.Channels {
		from, to := row.Stations[i], row.Stations[i+1]
		at := s.open(from, to, c)
		there, back := s.chance(from, to, c, at), s.chance(to, from, c, at)
		p.FrameSeconds[i] += keyed / there
		p.BlockSeconds[i] += keyed * (1/back - 1)
		p.BlockSeconds[i+1] += keyed * float64(s.net.Slots.Ack) / back
	}
	return p
}

// open is the first slot of the period that is open to a hop, the period's first
// when none is.
func (s *stretch) open(from, to, channel int) int64 {
	for at := s.start; at < s.end; at += s.net.Slots.Seconds() {
		if s.net.OpenSlot(from, to, channel, at) {
			return at
		}
	}
	return s.start
}

func (s *stretch) chance(from, to, channel int, at int64) float64 {
	e, _ := s.links.Edge(from, to, channel, at)
	return min(max(e.Decode, leastChance), 1)
}

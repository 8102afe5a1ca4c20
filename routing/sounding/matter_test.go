package sounding

import (
	"context"
	"math"
	"slices"
	"testing"
	"time"

	"farhop/examples/aysen"
	"farhop/mesh"
	"farhop/observations"
	"farhop/routing"
)

// example is the worked example, an invented net whose log ends at night.
func example(t *testing.T) (*mesh.Net, *mesh.Links, int64) {
	t.Helper()
	n, err := aysen.New().Net()
	if err != nil {
		t.Fatal(err)
	}
	ctx := context.Background()
	log, err := observations.Read(ctx, []observations.Input{{Path: "../../examples/aysen/observations.csv.gz"}}, observations.Options{Newest: true})
	if err != nil {
		t.Fatal(err)
	}
	l, err := mesh.Learn(ctx, n, log, log.Moment)
	if err != nil {
		t.Fatal(err)
	}
	return n, l, log.Moment
}

func TestMattersAndPlanOfTheExample(t *testing.T) {
	n, l, at := example(t)
	harbor, _ := n.Find("HARBOR")
	ranch, _ := n.Find("RANCH")
	q := Question{
		Request: routing.Request{Frames: n.Slots.Frames(20), Relays: 2}, Start: at, Horizon: 3 * time.Hour, Every: 3 * time.Hour,
		Threshold: 0.5, Coordinator: harbor,
	}
	m, err := Matters(context.Background(), n, l, q)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(m.Single, []int{ranch}) {
		t.Errorf("single points of failure: %v, want RANCH, %d", m.Single, ranch)
	}
	has := func(from, to, channel int) bool {
		return slices.Contains(m.Needs, Need{From: from, To: to, Channel: channel, Start: n.Slots.Start(at), End: n.Slots.Start(at) + 3*3600})
	}
	table, err := routing.New(n, l).Table(context.Background(), routing.TableRequest{
		Request: routing.Request{Frames: n.Slots.Frames(20), Relays: 2, Start: n.Slots.Start(at)}, Station: routing.AllStations,
	})
	if err != nil {
		t.Fatal(err)
	}
	backups := 0
	for _, row := range table.Rows {
		for i, c := range row.Channels {
			if !has(row.Stations[i], row.Stations[i+1], c) {
				t.Errorf("a hop of %v doesn't matter", row.Stations)
			}
		}
		if (row.BackupNext < 0) != (row.BackupStations == nil) || row.BackupNext >= 0 && row.BackupStations[1] != row.BackupNext {
			t.Errorf("backup %d is %v", row.BackupNext, row.BackupStations)
		}
		for i, c := range row.BackupChannels {
			backups++
			if !has(row.BackupStations[i], row.BackupStations[i+1], c) {
				t.Errorf("a hop of the backup %v doesn't matter", row.BackupStations)
			}
		}
	}
	if backups == 0 {
		t.Error("no backup chains")
	}
	for _, e := range l.Graph(n.Slots.Start(at)).Edges() {
		open := e.Known && !e.Inferred && e.Decode >= 0.5 && n.OpenSlot(e.From, e.To, e.Channel, n.Slots.Start(at))
		if open && (e.From == ranch || e.To == ranch) && !has(e.From, e.To, e.Channel) {
			t.Errorf("%d → %d at the single point of failure doesn't matter", e.From, e.To)
		}
	}
	checkPasses(t, n, l, m, harbor)
	r := Request{Start: at, Horizon: q.Horizon, Lists: q.Every, Coordinator: harbor, Needs: m.Needs, Passes: m.Passes}
	p := make1(t, n, l, r)
	check(t, n, l, p)
	if p.Count < 20 || p.None.Over < 30 || p.Halved.Over == 0 || p.Scheduled.Count < 20 {
		t.Errorf("%d soundings; halved %+v, scheduled %+v, none %+v", p.Count, p.Halved, p.Scheduled, p.None)
	}
}

// checkPasses works the keyed time of the lists out anew.
func checkPasses(t *testing.T, n *mesh.Net, l *mesh.Links, m *Matter, coordinator int) {
	t.Helper()
	if len(m.Passes) < 10 {
		t.Errorf("only %d stations can pass their lists on", len(m.Passes))
	}
	slot := n.Slots.Start(l.At())
	for _, p := range m.Passes {
		if p.Stations[0] != p.Receiver || p.Stations[len(p.Stations)-1] != coordinator || p.Delivered < PassThreshold {
			t.Errorf("%+v", p)
		}
		if len(p.Stations) > 2 {
			continue
		}
		there, _ := l.Edge(p.Receiver, coordinator, 1, slot)
		back, _ := l.Edge(coordinator, p.Receiver, 1, slot)
		if want := 34 / there.Decode; math.Abs(p.FrameSeconds[0]-want) > 1e-9 {
			t.Errorf("a frame takes %v s, want %v", p.FrameSeconds[0], want)
		}
		if polls, acks := 34*(1/back.Decode-1), 34/back.Decode; math.Abs(p.BlockSeconds[0]-polls) > 1e-9 || math.Abs(p.BlockSeconds[1]-acks) > 1e-9 {
			t.Errorf("a block takes %v s, want %v and %v", p.BlockSeconds, polls, acks)
		}
	}
}

func TestMattersRefusesNonsense(t *testing.T) {
	n, l, at := example(t)
	if _, err := Matters(context.Background(), n, l, Question{Start: at, Coordinator: 99}); err == nil {
		t.Error("no error for a coordinator that doesn't exist")
	}
	if _, err := Matters(context.Background(), n, l, Question{Start: at, Threshold: 0.5}); err == nil {
		t.Error("no error for a message without frames")
	}
}

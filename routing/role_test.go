package routing

import (
	"context"
	"math"
	"slices"
	"testing"

	"farhop/mesh/meshtest"
)

func TestRouteRole(t *testing.T) {
	n := meshtest.Net(t, "A-B:0.95 B-G1:0.9 A-C:0.9 C-G2:0.8 A-G3:0.2 B-G2:0.9 Z")
	for _, g := range []string{"G1", "G2", "G3", "Z"} {
		n.Stations[station(t, n, g)].Roles = []string{"gateway"}
	}
	p := planned(t, n)
	a, err := p.RouteRole(context.Background(), Request{From: station(t, n, "A"), Frames: 9, Start: noon}, "gateway")
	if err != nil {
		t.Fatal(err)
	}
	if len(a.Stations) != 4 || len(a.Answers) != 3 {
		t.Fatalf("%d gateways, %d can be reached", len(a.Stations), len(a.Answers))
	}
	if got := calls(n, a.Answers[0].Chains[0].Stations); got != "A B G1 " {
		t.Errorf("best %s", got)
	}
	if !slices.IsSortedFunc(a.Answers, func(x, y *Answer) int { return int(1e6 * (y.Chains[0].Delivered - x.Chains[0].Delivered)) }) {
		t.Error("answers are not in order")
	}
	// The second chain shares no relay with the first and ends elsewhere.
	if a.Backup == nil || calls(n, a.Backup.Chain.Stations) != "A C G2 " {
		t.Fatalf("backup %+v", a.Backup)
	}
	if best := a.Answers[0].Chains[0].Delivered; a.Backup.Delivered < best || a.Backup.Delivered > 1 {
		t.Errorf("with the backup %v, without %v", a.Backup.Delivered, best)
	}
	o := newOracle(t, n, p.links, Request{Frames: 9, Start: noon, Deadline: DefaultDeadline}, 0)
	A, B, C, G1, G2 := station(t, n, "A"), station(t, n, "B"), station(t, n, "C"), station(t, n, "G1"), station(t, n, "G2")
	first := o.eval.Chain(o.leg(A, B, 0), o.leg(B, G1, 0)).Chance()
	after := o.eval.GivenUp(o.eval.Start(), o.leg(A, B, 0))
	if want := first + o.eval.ChainFrom(after, o.leg(A, C, 0), o.leg(C, G2, 0)).Chance(); math.Abs(a.Backup.Delivered-want) > 1e-12 {
		t.Errorf("with the backup %v, evaluated %v", a.Backup.Delivered, want)
	}
	// Where nothing is ever given up, the best of the others stands by all the same.
	sure := meshtest.Net(t, "A-G1:1 A-C:1 C-G2:0.8 A-D:1 D-G3:0.9 G1-G3:1")
	for _, g := range []string{"G1", "G2", "G3"} {
		sure.Stations[station(t, sure, g)].Roles = []string{"gateway"}
	}
	b, err := planned(t, sure).RouteRole(context.Background(), Request{From: station(t, sure, "A"), Frames: 9, Start: noon}, "gateway")
	if err != nil || b.Backup == nil || calls(sure, b.Backup.Chain.Stations) != "A D G3 " || b.Backup.Delivered != 1 || b.Backup.SwitchAt != 0 {
		t.Errorf("backup of a sure chain: %+v, %v", b.Backup, err)
	}
	if none, err := p.RouteRole(context.Background(), Request{Frames: 9, Start: noon}, "relay"); err != nil || len(none.Stations)+len(none.Answers) != 0 || none.Backup != nil {
		t.Errorf("a role nobody has: %+v, %v", none, err)
	}
}

func TestRouteAll(t *testing.T) {
	p := planned(t, meshtest.Net(t, "A-B:0.95 B-C:0.9 C-D:0.9"))
	to := []int{3, 1, 2}
	list, err := p.RouteAll(context.Background(), Request{From: 0, Frames: 5, Start: noon}, to)
	if err != nil || len(list) != 3 {
		t.Fatal(list, err)
	}
	for i, a := range list {
		if a.Request.To != to[i] || len(a.Chains) != 1 || a.Chains[0].Stations[len(a.Chains[0].Stations)-1] != to[i] {
			t.Errorf("answer %d goes to %v", i, a.Chains)
		}
	}
	if _, err := p.RouteAll(context.Background(), Request{From: 0, Frames: 5, Start: noon}, []int{1, 0}); err == nil {
		t.Error("no error for a message to oneself")
	}
}

package anyrelay

import (
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/meshtest"
)

// evening is 2026-03-02 18:00 UTC, a slot boundary.
var evening = time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC).Unix()

// asked is a plan in short: a net, and the orders of its stations.
type asked struct {
	name     string
	net      string
	orders   string // A:D,C,B C:D B:D,C is to D from A, the origin, which stands first; the others by growing cost
	frames   int
	deadline time.Duration
	change   func(*mesh.Net)
}

func (a asked) plan(tb testing.TB) Plan {
	tb.Helper()
	n := meshtest.Net(tb, a.net)
	if a.change != nil {
		a.change(n)
	}
	if issues := n.Prepare(); len(issues) > 0 {
		tb.Fatalf("%s: %s", issues[0].Path, issues[0].Message)
	}
	links, err := mesh.Learn(context.Background(), n, nil, evening)
	if err != nil {
		tb.Fatal(err)
	}
	p := Plan{Net: n, Links: links, Frames: a.frames, Start: evening, Deadline: a.deadline}
	find := func(call string) int {
		i, ok := n.Find(call)
		if !ok {
			tb.Fatalf("no station %q", call)
		}
		return i
	}
	p.To = find("D")
	for i, o := range strings.Fields(a.orders) {
		call, by, _ := strings.Cut(o, ":")
		order := Order{Station: find(call), Cost: float64(1 + i)}
		if i == 0 {
			order.Cost = 1000
		}
		for _, w := range strings.Split(by, ",") {
			order.By = append(order.By, find(w))
		}
		p.Orders = append(p.Orders, order)
	}
	return p
}

func expect(tb testing.TB, p Plan, o Options) *Result {
	tb.Helper()
	r, err := Expect(context.Background(), p, o)
	if err != nil {
		tb.Fatal(err)
	}
	return r
}

// agrees allows so many standard errors.
func agrees(t *testing.T, what string, played Estimate, want float64, runs int, most float64) {
	t.Helper()
	se := math.Max(played.StandardError, 1/float64(runs))
	if away := (played.Value - want) / se; !(math.Abs(away) <= most) {
		t.Errorf("%s: played %.6g ± %.2g, exact %.8g: %.1f standard errors", what, played.Value, played.StandardError, want, away)
	}
}

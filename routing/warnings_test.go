package routing

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"farhop/mesh"
)

// doubtful makes a link unknown or inferred.
func doubtful(f func(int64) mesh.Edge, inferred bool) func(int64) mesh.Edge {
	return func(unix int64) mesh.Edge {
		e := f(unix)
		e.Known, e.Inferred = inferred, inferred
		return e
	}
}

func codes(a *Answer) []Code {
	var list []Code
	for _, w := range a.Warnings {
		list = append(list, w.Code)
	}
	return list
}

func TestDoubtfulLinks(t *testing.T) {
	good := estimated(12, 0, 0, 3)
	all := links{
		{0, 1, 0}: good, {1, 0, 0}: doubtful(good, false), // AB's answers are unknown
		{1, 2, 0}: good, {2, 1, 0}: doubtful(good, true), // and AC's inferred
		{0, 2, 0}: doubtful(good, false), {2, 0, 0}: good,
	}
	for _, c := range []struct {
		name              string
		unknown, inferred bool
		stations          []int
		codes             []Code
	}{
		{"as known", false, false, []int{0, 1, 2}, []Code{WarnUnknownReverse, WarnInferredReverse, WarnUnknownForward, WarnInferredForward}},
		{"unknown allowed", true, false, []int{0, 2}, []Code{WarnUsesUnknown, WarnInferredReverse, WarnInferredForward}},
		{"both allowed", true, true, []int{0, 2}, []Code{WarnUsesUnknown}},
	} {
		a, err := New(openNet(3), all).Route(context.Background(), Request{
			From: 0, To: 2, Frames: 3, Start: noon, Unknown: c.unknown, Inferred: c.inferred,
		})
		if err != nil {
			t.Fatal(err)
		}
		if len(a.Chains) == 0 || !slices.Equal(a.Chains[0].Stations, c.stations) {
			t.Fatalf("%s: chains %+v", c.name, a.Chains)
		}
		got := codes(a)
		for _, code := range c.codes {
			if !slices.Contains(got, code) {
				t.Errorf("%s: no warning %s in %v", c.name, code, got)
			}
		}
		for _, w := range a.Warnings {
			if w.Message == "" || strings.Contains(w.Message, ">") || len(w.Stations) == 2 && !strings.Contains(w.Message, name(w.Stations[0])) {
				t.Errorf("%s: warning %+v", c.name, w)
			}
		}
	}
}

// A link that the hours keep shut until the deadline anyway isn't left out for want of
// knowledge.
func TestLeftOutByHours(t *testing.T) {
	all := links{{0, 1, 0}: certain(0.9), {1, 0, 0}: certain(0.9)}
	for _, v := range []int{2, 3} {
		all[[3]int{0, v, 0}], all[[3]int{v, 0, 0}] = doubtful(estimated(12, 0, 0, 3), false), doubtful(estimated(12, 0, 0, 3), false)
	}
	n := openNet(4)
	n.Stations[3].OnAir = windows(t, "20:00-22:00")
	for deadline, want := range map[time.Duration]string{4 * time.Hour: "2 unknown links were left out", 9 * time.Hour: "4 unknown links were left out"} {
		a, err := New(n, all).Route(context.Background(), Request{From: 0, To: 1, Frames: 2, Start: noon, Deadline: deadline})
		if err != nil {
			t.Fatal(err)
		}
		if !slices.ContainsFunc(a.Warnings, func(w Warning) bool { return w.Message == want }) {
			t.Errorf("by %v: %v, want %s", deadline, a.Warnings, want)
		}
	}
}

// Without a known answering direction only what gets through in the first round
// is delivered.
func TestUnknownAnswersCountAsClosed(t *testing.T) {
	all := links{{0, 1, 0}: certain(0.9), {1, 0, 0}: doubtful(estimated(20, 0, 0, 1), false)}
	a, err := New(openNet(2), all).Route(context.Background(), Request{From: 0, To: 1, Frames: 2, Start: noon})
	if err != nil {
		t.Fatal(err)
	}
	c := a.Chains[0]
	if d := c.Delivered - 0.81; d > 1e-9 || d < -1e-9 || c.Confirmed != 0 {
		t.Errorf("delivered %v, confirmed %v", c.Delivered, c.Confirmed)
	}
	if r := c.Hops[0].Reasons; !slices.Equal(r, []Reason{AnswerWeak}) {
		t.Errorf("reasons %v", r)
	}
}

func TestReasonsAndWeakest(t *testing.T) {
	old := func(unix int64) mesh.Edge {
		e := estimated(1, 0, 0, 6)(unix)
		e.Reports, e.Freshness = 1, 0.1
		return e
	}
	weak := func(unix int64) mesh.Edge { return estimated(-1, 0, 0, 2)(unix) }
	good := estimated(15, 0, 0, 2)
	all := links{{0, 1, 0}: good, {1, 0, 0}: good, {1, 2, 0}: old, {2, 1, 0}: good, {2, 3, 0}: weak, {3, 2, 0}: good}
	a, err := New(openNet(4), all).Route(context.Background(), Request{From: 0, To: 3, Frames: 3, Start: noon})
	if err != nil {
		t.Fatal(err)
	}
	c := a.Chains[0]
	for i, want := range [][]Reason{nil, {OneReport, Old}, {Weak}} {
		if !slices.Equal(c.Hops[i].Reasons, want) {
			t.Errorf("hop %d: %v, want %v", i, c.Hops[i].Reasons, want)
		}
	}
	if c.Weakest != 1 && c.Weakest != 2 || c.Hops[c.Weakest].Done > c.Hops[0].Done {
		t.Errorf("weakest hop %d", c.Weakest)
	}
	for r := Weak; r <= Inferred; r++ {
		if r.String() == "?" {
			t.Errorf("reason %d has no words", r)
		}
	}
}

func TestOrderNames(t *testing.T) {
	for _, o := range []Order{Surest, Soonest, Lightest} {
		if got, ok := ParseOrder(o.String()); !ok || got != o {
			t.Errorf("%v reads back as %v, %v", o, got, ok)
		}
	}
	if _, ok := ParseOrder("quickest"); ok {
		t.Error("an order that is none")
	}
}

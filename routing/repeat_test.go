package routing

import (
	"context"
	"fmt"
	"testing"
	"time"
)

// describe writes an answer down to its last figure, without addresses.
func describe(a *Answer) string {
	b := *a
	s := fmt.Sprintf("%v %v", b.Backup, b.AnyRelay)
	if b.Hold != nil {
		s += fmt.Sprintf(" %v", *b.Hold)
	}
	b.Backup, b.AnyRelay, b.Hold = nil, nil, nil
	for _, c := range a.Chains {
		for _, h := range c.Hops {
			s += fmt.Sprintf("\n%v ", h.Then)
			h.Then = nil
			s += fmt.Sprintf("%v", h)
		}
		c.Hops = nil
		s += fmt.Sprintf("\n%v", c)
	}
	b.Chains = nil
	return s + fmt.Sprintf("\n%v", b)
}

// differ shows where two texts part.
func differ(got, want string) string {
	i := 0
	for i < min(len(got), len(want)) && got[i] == want[i] {
		i++
	}
	return fmt.Sprintf("…%.60s… and …%.60s…", got[max(i-20, 0):], want[max(i-20, 0):])
}

// The same question gets the same answer, to the last figure, whatever was asked
// before.
func TestRouteRepeats(t *testing.T) {
	n, all := scattered(3, 5, 0.9, estimatedLink)
	r := reference(n)
	r.Confirm, r.Chains, r.Deadline = true, 2, time.Hour
	want := ""
	var p *Planner
	for i := range 100 {
		if i%20 == 0 {
			p = New(n, all)
		}
		a, err := p.Route(context.Background(), r)
		if err != nil {
			t.Fatal(err)
		}
		got := describe(a)
		if want == "" {
			want = got
		}
		if len(a.Chains) == 0 || got != want {
			t.Fatalf("answer %d differs or is empty: %s", i, differ(got, want))
		}
		if i%20 == 10 {
			r := r
			r.From, r.To = 2, 3
			if _, err := p.Route(context.Background(), r); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// Two workers share a table's rows as they come, which must not show.
func TestTableRepeats(t *testing.T) {
	n, all := scattered(4, 6, 0.8, estimatedLink)
	want := ""
	for range 8 {
		r := reference(n)
		r.Deadline = time.Hour
		table, err := New(n, all).Table(context.Background(), TableRequest{Request: r, Station: AllStations})
		if err != nil {
			t.Fatal(err)
		}
		got := fmt.Sprintf("%v", *table)
		if want == "" {
			want = got
		}
		if got != want {
			t.Fatalf("tables differ: %s", differ(got, want))
		}
	}
}

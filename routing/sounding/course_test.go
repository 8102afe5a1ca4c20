package sounding

import (
	"context"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"farhop/mesh/link"
)

// Courses that were taken up in the middle, time and again, are those that go through
// all shots from the beginning.
func TestCoursesAreThoseFromTheBeginning(t *testing.T) {
	looked := 0
	for seed := range uint64(6) {
		n, f, r := drawn(t, 300+seed, 6)
		d := newScene(n, f, r.filled()).newDraft()
		if err := d.fill(context.Background()); err != nil {
			t.Fatal(err)
		}
		if err := d.improve(context.Background()); err != nil {
			t.Fatal(err)
		}
		for i, x := range d.targets {
			kept := d.courses[i]
			d.courses[i] = course{}
			d.record(i, 0)
			if !reflect.DeepEqual(kept, d.courses[i]) {
				t.Errorf("seed %d: target %d stands at\n%+v, from the beginning\n%+v", seed, i, kept, d.courses[i])
			}
			looked += len(d.shots[x.from])
		}
	}
	if looked < 100 {
		t.Errorf("only %d shots were looked at", looked)
	}
}

// What other shots would do doesn't hang on how many of them stay.
func TestWeighingFromTheMiddle(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	weighed := 0
	for seed := range uint64(6) {
		n, f, r := drawn(t, 400+seed, 6)
		d := newScene(n, f, r.filled()).newDraft()
		if err := d.fill(context.Background()); err != nil {
			t.Fatal(err)
		}
		for station, shots := range d.shots {
			if len(shots) < 2 {
				continue
			}
			k := 1 + rng.IntN(len(shots)-1)
			other := slices.Delete(slices.Clone(shots), k, k+1)
			part, _ := d.weigh(station, other, 1e9)
			if part.same != k {
				t.Errorf("%d shots are the same, want %d", part.same, k)
			}
			for j, i := range d.from[station] {
				whole := d.resume(i, 0, other, 1e9)
				if !reflect.DeepEqual(part.courses[j], whole) {
					t.Errorf("seed %d, target %d: %+v from shot %d, %+v from the first", seed, i, part.courses[j], k, whole)
				}
				if d.breaks(i, k, other, whole.above) || whole.above > 0 && !d.breaks(i, k, other, whole.above*0.99) {
					t.Errorf("seed %d, target %d: %v above", seed, i, whole.above)
				}
				weighed++
			}
		}
	}
	if weighed < 30 {
		t.Errorf("only %d courses were looked at", weighed)
	}
}

// The state in use while a course is followed is never the link's own.
func TestFollowingLeavesTheLinksAlone(t *testing.T) {
	n, f, r := drawn(t, 9, 5)
	sc := newScene(n, f, r.filled())
	var before []link.Forecast
	for _, x := range sc.targets {
		before = append(before, x.growth.Model.Forecast(x.growth.State, sc.end))
	}
	d := sc.newDraft()
	if err := d.fill(context.Background()); err != nil {
		t.Fatal(err)
	}
	for i, x := range sc.targets {
		if now := x.growth.Model.Forecast(x.growth.State, sc.end); now != before[i] {
			t.Errorf("target %d: %+v before, %+v after", i, before[i], now)
		}
	}
}

package mesh

import (
	"math"
	"testing"
)

// A report settles something at once, less for later, and leaves the links as they
// were; what a report says to the filter decides nothing about the deviation.
func TestSettle(t *testing.T) {
	_, l := replanNet(t)
	at := l.At() + 3600
	was := edge(t, l, 0, 1, 0, at)
	before, after, ok := l.Settle(0, 1, 0, at, at)
	if !ok || math.Abs(before-was.SD) > 1e-12 || !(after < before) {
		t.Fatalf("%v: from %v to %v, the edge says %v", ok, before, after, was.SD)
	}
	laterBefore, laterAfter, _ := l.Settle(0, 1, 0, at, at+6*3600)
	if laterBefore-laterAfter >= before-after || laterAfter > laterBefore {
		t.Errorf("six hours later from %v to %v, at once from %v to %v", laterBefore, laterAfter, before, after)
	}
	g, _ := l.Growth(0, 1, 0)
	g.Model.Report(g.State, at, -3, true)
	if sd := g.Model.Forecast(g.State, at).SD; math.Abs(sd-after) > 1e-12 {
		t.Errorf("a report of −3 dB leaves %v, told %v", sd, after)
	}
	if again := edge(t, l, 0, 1, 0, at); again != was {
		t.Errorf("the links changed: %+v", again)
	}
	if _, _, ok := l.Settle(2, 1, 1, at, at); ok {
		t.Error("a stated link has nothing to settle")
	}
}

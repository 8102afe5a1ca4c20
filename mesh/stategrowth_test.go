package mesh

import (
	"math"
	"testing"
)

// What Growth hands out forecasts as Edge does, and is the caller's own.
func TestGrowthGoesOnFromTheEdge(t *testing.T) {
	n, l := replanNet(t)
	c := n.Clone()
	c.Stations[0].PowerW *= 10
	r := replan(t, l, c)
	ahead := l.At() + 5*3600
	for _, links := range []*Links{l, r} {
		g, ok := links.Growth(0, 1, 0)
		if !ok {
			t.Fatal("A → B has no state")
		}
		e := edge(t, links, 0, 1, 0, ahead)
		f := g.Model.Forecast(g.State, ahead)
		if math.Abs(f.SD-e.SD) > 1e-12 || math.Abs(f.SNR-g.Raise-e.SNR) > 1e-9 {
			t.Errorf("growth says %+v raised %v, the edge %+v", f, g.Raise, e)
		}
		if chance := g.Model.Expect(g.State.Clone(), ahead, g.Raise, 1); math.Abs(chance-e.Decode) > 1e-9 {
			t.Errorf("chance %v, the edge says %v", chance, e.Decode)
		}
		g.Model.Expect(g.State, ahead, g.Raise, 1)
		if again := edge(t, links, 0, 1, 0, ahead); again != e {
			t.Errorf("the links changed: %+v", again)
		}
	}
}

func TestGrowthOnlyWhereSomethingIsEstimated(t *testing.T) {
	_, l := replanNet(t)
	for _, c := range []struct {
		from, to, channel int
		want              bool
	}{{0, 1, 0, true}, {2, 1, 0, true}, {0, 0, 0, false}, {2, 0, 1, false}, {2, 1, 1, false}} {
		if _, ok := l.Growth(c.from, c.to, c.channel); ok != c.want {
			t.Errorf("%d → %d on %d: %v", c.from, c.to, c.channel, ok)
		}
	}
	_, fresh := replanNet(t)
	fresh.estimated = false
	if _, ok := fresh.Growth(0, 1, 0); ok {
		t.Error("a state without observations")
	}
}

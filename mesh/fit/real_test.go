package fit

import (
	"context"
	"testing"

	"farhop/mesh"
	"farhop/mesh/meshtest"
)

// firstDays is a history without what came later.
func firstDays(h *mesh.History, days int64) *mesh.History {
	cut := &mesh.History{Account: h.Account, First: h.First, Last: h.First + days*86400}
	for _, l := range h.Links {
		end := 0
		for end < len(l) && l[end].Told < cut.Last {
			end++
		}
		cut.Links = append(cut.Links, l[:end])
	}
	return cut
}

// On the real sets fitting does no harm to the part that was held out.
func TestRealReports(t *testing.T) {
	for _, set := range meshtest.RealSets {
		t.Run(set, func(t *testing.T) {
			n, h := meshtest.RealHistory(t, set)
			h = firstDays(h, map[string]int64{"beacon-2023": 28, "link-2025": 12}[set])
			r, err := Fit(context.Background(), n, h, Options{})
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%d steps, %d passes; %d fitted: %.5f → %.5f; %d held out: %.5f → %.5f, gain %.5f ± %.5f, better %v", r.Steps, r.Evaluated,
				r.Fitted, r.FittedBefore, r.FittedAfter, r.HeldOut, r.HeldOutBefore, r.HeldOutAfter, r.HeldOutGain, r.HeldOutError, r.Better)
			for _, p := range r.Parameters {
				t.Logf("%+v", p)
			}
			t.Logf("%+v, one step ahead %+v; %+v, times held %v", r.Common, r.OneStep, r.Ahead, r.TimesHeld)
			if r.HeldOutGain < -leastGain || r.FittedAfter < r.FittedBefore {
				t.Errorf("held out %+.5f, fitted %+.5f", r.HeldOutGain, r.FittedAfter-r.FittedBefore)
			}
			if r.Better != (r.HeldOutGain > leastGain && r.BeyondLuck() && r.Ahead[0].After < r.Ahead[0].Before+aheadWorse && r.Ahead[1].After < r.Ahead[1].Before+aheadWorse) {
				t.Errorf("better: %v", r.Better)
			}
			if c := r.Common; c.DB < 1 || c.DB > 6 || !(c.SeenError < 15) {
				t.Errorf("net-wide deviation %+v", c)
			}
		})
	}
}

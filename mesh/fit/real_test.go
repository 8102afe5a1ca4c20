package fit

import (
	"context"
	"testing"
	"time"

	"farhop/mesh/meshtest"
)

func TestRealReports(t *testing.T) {
	for _, set := range meshtest.RealSets {
		t.Run(set, func(t *testing.T) {
			n, h := meshtest.RealHistory(t, set)
			begun := time.Now()
			r, err := Fit(context.Background(), n, h, Options{})
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%v %d steps, %d passes", time.Since(begun), r.Steps, r.Evaluated)
			t.Logf("%d fitted: %.5f → %.5f; %d held out: %.5f → %.5f, gain %.5f ± %.5f, better %v", r.Fitted, r.FittedBefore, r.FittedAfter, r.HeldOut, r.HeldOutBefore, r.HeldOutAfter, r.HeldOutGain, r.HeldOutError, r.Better)
			for _, p := range r.Parameters {
				t.Logf("%+v", p)
			}
			t.Logf("%+v, %+v, held %v", r.Common, r.Ahead, r.TimesHeld)
		})
	}
}

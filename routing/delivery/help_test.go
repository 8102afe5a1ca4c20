package delivery

import (
	"math"
	"testing"
	"time"

	"farhop/mesh/link"
)

func always(int) bool { return true }

func certain(p float64) link.Direction {
	return link.Direction{Kind: link.Certain, Decode: p}
}

func gaussian(margin, sd, common, noise float64) link.Direction {
	return link.Direction{Kind: link.Gaussian, Margin: margin, SD: sd, Common: common, Noise: noise}
}

// steady is a leg that is always open and whose link stays as it is.
func steady(forward, reverse link.Direction) Leg {
	return Leg{Open: always, Directions: func(int) (f, r link.Direction) { return forward, reverse }}
}

func fixedLeg(p, q float64) Leg { return steady(certain(p), certain(q)) }

// evaluator makes an evaluator and registers the legs.
func evaluator(t testing.TB, p Plan, legs ...Leg) (*Evaluator, []LegID) {
	t.Helper()
	e, err := NewEvaluator(p)
	if err != nil {
		t.Fatal(err)
	}
	var ids []LegID
	for _, l := range legs {
		ids = append(ids, e.NewLeg(l))
	}
	return e, ids
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.12g, want %.12g ± %g", what, got, want, tolerance)
	}
}

func total(of []float64) (sum float64) {
	for _, v := range of {
		sum += v
	}
	return sum
}

const slot = 40 * time.Second

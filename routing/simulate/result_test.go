package simulate

import (
	"math"
	"testing"
)

func TestShare(t *testing.T) {
	s := Share{Count: 25, Runs: 100}
	if s.Value() != 0.25 || math.Abs(s.StandardError()-0.0433012701892219) > 1e-15 {
		t.Errorf("%v ± %v", s.Value(), s.StandardError())
	}
	for _, c := range []struct {
		share  Share
		chance float64
		want   float64
	}{
		{Share{60, 100}, 0.5, 2},
		{Share{40, 100}, 0.5, -2},
		{Share{100, 100}, 1, 0},
		{Share{99, 100}, 1, -1},
		{Share{0, 100}, 0, 0},
		{Share{1, 100}, 0, 1},
		{Share{1, 100}, 1e-9, 1},
		{Share{100, 100}, 1 + 1e-16, 0},
	} {
		if got := c.share.Away(c.chance); math.Abs(got-c.want) > 1e-6 {
			t.Errorf("%v is %v standard errors from %v, not %v", c.share, got, c.chance, c.want)
		}
	}
}

func TestMean(t *testing.T) {
	all := &tally{runs: 4, frames: []int64{2 + 4 + 4 + 6}, squares: []int64{4 + 16 + 16 + 36}}
	m := all.mean(0)
	if m.Value != 4 || math.Abs(m.StandardError-math.Sqrt(8.0/3/4)) > 1e-15 {
		t.Errorf("%+v", m)
	}
	if got := m.Away(2); math.Abs(got-2/m.StandardError) > 1e-12 {
		t.Errorf("%v standard errors", got)
	}
	same := (&tally{runs: 5, frames: []int64{35}, squares: []int64{245}}).mean(0)
	if same.StandardError != 0 || same.Away(7) != 0 || math.Abs(same.Away(7.2)+1) > 1e-9 {
		t.Errorf("%+v, %v", same, same.Away(7.2))
	}
	if one := (&tally{runs: 1, frames: []int64{3}, squares: []int64{9}}).mean(0); one.Value != 3 || one.StandardError != 0 {
		t.Errorf("%+v", one)
	}
}

// counted is a result of 1000 runs that arrive as said.
func counted(arrivals ...int) *Result { return &Result{Runs: 1000, Arrivals: arrivals} }

func TestQuantile(t *testing.T) {
	r := counted(0, 100, 400, 0, 300, 0)
	for _, c := range []struct {
		level float64
		want  int
	}{{0.05, 1}, {0.1, 1}, {0.100001, 2}, {0.5, 2}, {0.501, 4}, {0.8, 4}, {0.801, -1}} {
		if got := r.Quantile(c.level); got != c.want {
			t.Errorf("level %v in slot %d, not %d", c.level, got, c.want)
		}
	}
	if s := r.By(3); s.Count != 500 || s.Runs != 1000 {
		t.Errorf("by slot 3: %v", s)
	}
}

func TestAgrees(t *testing.T) {
	flat := counted(0, 480, 0, 0, 0, 0, 300) // 48 % for a long time: 1.3 standard errors under a half
	for _, c := range []struct {
		name  string
		r     *Result
		level float64
		slot  int
		want  bool
	}{
		{"same slot", flat, 0.6, 6, true},
		{"next slot", flat, 0.6, 5, true},
		{"too early", flat, 0.6, 4, false},
		{"too late", flat, 0.3, 3, false},
		{"flat", flat, 0.5, 1, true},
		{"flat all along", flat, 0.5, 3, true},
		{"before the step", flat, 0.5, 0, false},
		{"hardly reached", flat, 0.79, -1, true},
		{"not reached", flat, 0.9, -1, true},
		{"reached after all", flat, 0.7, -1, false},
		{"not reached by far", flat, 0.9, 6, false},
		{"nearly reached", flat, 0.79, 6, true},
	} {
		if got := c.r.Agrees(c.level, c.slot, 3); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}

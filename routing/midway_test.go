package routing

import (
	"context"
	"math"
	"testing"
	"time"

	"farhop/mesh"
	"farhop/mesh/link"
)

// The state of a link is taken midway through a hop; shown is that at its start.
func TestStatesMidway(t *testing.T) {
	n := openNet(2)
	for _, frames := range []int{9, 42, 87, 200} {
		midway := n.Slots.Midway(frames)
		opens := noon + int64(midway/time.Second)
		state := func(unix int64) mesh.Edge {
			e := mesh.Edge{Known: true, HasSNR: true, Direction: link.Direction{Kind: link.Gaussian, Margin: -40, Noise: 1}}
			if unix >= opens {
				e.Direction.Margin = 40
			}
			return e
		}
		l := links{{0, 1, 0}: state, {1, 0, 0}: state}
		answer, err := New(n, l).Route(context.Background(), Request{From: 0, To: 1, Frames: frames, Start: noon, Deadline: 8 * time.Hour})
		if err != nil {
			t.Fatal(err)
		}
		if len(answer.Chains) != 1 {
			t.Fatalf("%d frames: %d chains", frames, len(answer.Chains))
		}
		c := &answer.Chains[0]
		if got, want := c.P50Minutes*60, 40*float64(frames); math.Abs(got-want) > 1e-6 || c.Hops[0].At != noon {
			t.Errorf("%d frames: through after %v s, shown at %d, want %v s, %d", frames, got, c.Hops[0].At, want, noon)
		}
		opens++ // a second later the first try fails
		if answer, err = New(n, l).Route(context.Background(), Request{From: 0, To: 1, Frames: frames, Start: noon, Deadline: 8 * time.Hour}); err != nil {
			t.Fatal(err)
		}
		if len(answer.Chains) > 0 && answer.Chains[0].Delivered > 1e-6 {
			t.Errorf("%d frames: %v delivered by a link that opens later", frames, answer.Chains[0].Delivered)
		}
	}
}

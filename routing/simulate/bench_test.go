package simulate

import (
	"context"
	"testing"
	"time"

	"farhop/mesh"
)

// BenchmarkRun plays 9 frames over 3 hops in 40 s slots, 200,000 times.
func BenchmarkRun(b *testing.B) {
	cases := []struct {
		name, net string
		workers   int
		change    func(*mesh.Net)
	}{
		{"3hops/9frames/fixed/1worker", "A-B:0.83/0.8 B-C:0.7 C-D:0.9", 1, nil},
		{"3hops/9frames/fixed/2workers", "A-B:0.83/0.8 B-C:0.7 C-D:0.9", 2, nil},
		{"3hops/9frames/gaussian/busy/windows/2workers", "A-B:-12dB±4 B-C:-14dB±4 C-D:-11dB±5", 2, func(n *mesh.Net) {
			n.Slots.Busy = 0.1
			n.Channels[0].Windows = windows(b, "05:00-19:00")
		}},
	}
	for _, c := range cases {
		b.Run(c.name, func(b *testing.B) {
			s := scene(b, c.net, 9, 4*time.Hour, c.change)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Run(context.Background(), s, Options{Seed: 1, Workers: c.workers}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

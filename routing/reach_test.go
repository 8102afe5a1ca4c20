package routing

import "testing"

func BenchmarkReach(b *testing.B) {
	n, l := scattered(1, 20, 0.5, estimatedLink)
	r := reference(n)
	b.ReportAllocs()
	b.Run("scene", func(b *testing.B) {
		for b.Loop() {
			p := New(n, l)
			if _, err := p.scene(r.filled().terms()); err != nil {
				b.Fatal(err)
			}
		}
	})
	for _, times := range []bool{false, true} {
		b.Run(map[bool]string{false: "reach", true: "times"}[times], func(b *testing.B) {
			for b.Loop() {
				b.StopTimer()
				p := New(n, l)
				s, _ := p.scene(r.filled().terms())
				b.StartTimer()
				for i := range s.hops {
					h := &s.hops[i]
					for q := range 16 {
						if times {
							s.eval.Times(h.leg, q, 0, true)
						} else {
							s.eval.Reach(h.leg, q)
						}
					}
				}
				b.ReportMetric(float64(len(s.hops)*16), "hops")
				b.ReportMetric(float64(len(s.eval.Weights())), "nodes")
			}
		})
	}
}

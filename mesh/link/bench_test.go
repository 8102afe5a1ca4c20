package link

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

// evidence is one slot of a made-up link.
type evidence struct {
	unix int64
	snr  float64
	miss bool
}

// history is a made-up link's evidence: a slot every 2 minutes to an hour, one
// report to three misses.
func history(n int, seed uint64) []evidence {
	r := rand.New(rand.NewPCG(seed, 1))
	list := make([]evidence, n)
	unix := int64(1_700_000_000)
	for i := range list {
		unix += 120 * (1 + r.Int64N(30))
		list[i] = evidence{unix, -18 + 6*r.NormFloat64(), i%4 != 0}
	}
	return list
}

func benchModel(b *testing.B, harmonics int) *Model {
	b.Helper()
	s := Defaults()
	s.Harmonics = harmonics
	m, err := NewModel(s)
	if err != nil {
		b.Fatal(err)
	}
	return m
}

func BenchmarkUpdate(b *testing.B) {
	list := history(4096, 7)
	kinds := []struct {
		name string
		take func(m *Model, s *State, e evidence)
	}{
		{"report", func(m *Model, s *State, e evidence) { m.Report(s, e.unix, e.snr, true) }},
		{"unwitnessed", func(m *Model, s *State, e evidence) { m.Report(s, e.unix, e.snr, false) }},
		{"miss", func(m *Model, s *State, e evidence) { m.Miss(s, e.unix, 0) }},
		{"three misses a report", func(m *Model, s *State, e evidence) {
			if e.miss {
				m.Miss(s, e.unix, 0)
			} else {
				m.Report(s, e.unix, e.snr, true)
			}
		}},
	}
	for _, k := range []int{1, 3, 6} {
		m := benchModel(b, k)
		for _, kind := range kinds {
			b.Run(fmt.Sprintf("%s/harmonics=%d", kind.name, k), func(b *testing.B) {
				b.ReportAllocs()
				s := m.NewState()
				for i := 0; b.Loop(); i++ {
					e := list[i&(len(list)-1)]
					if i&(len(list)-1) == 0 {
						s.unix = never // time starts anew, what was learnt stays
					}
					kind.take(m, s, e)
				}
			})
		}
	}
}

// Evidence of many links in turn, as a log brings it: the states don't fit the caches.
func BenchmarkManyLinks(b *testing.B) {
	b.ReportAllocs()
	m := benchModel(b, 3)
	states := make([]*State, 50_000)
	for i := range states {
		states[i] = m.NewState()
	}
	r := rand.New(rand.NewPCG(3, 1))
	order := make([]int32, 1<<16)
	for i := range order {
		order[i] = r.Int32N(int32(len(states)))
	}
	b.ResetTimer()
	unix := int64(1_700_000_000)
	for i := 0; b.Loop(); i++ {
		s := states[order[i&(len(order)-1)]]
		if i&3 == 0 {
			m.Report(s, unix, -18, true)
		} else {
			m.Miss(s, unix, 0)
		}
		if i&255 == 0 {
			unix += 120
		}
	}
}

func BenchmarkForecast(b *testing.B) {
	for _, k := range []int{1, 3, 6} {
		b.Run(fmt.Sprintf("harmonics=%d", k), func(b *testing.B) {
			b.ReportAllocs()
			m := benchModel(b, k)
			s := m.NewState()
			list := history(500, 7)
			for _, e := range list {
				m.Report(s, e.unix, e.snr, true)
			}
			unix := list[len(list)-1].unix
			sum := 0.0
			for i := int64(0); b.Loop(); i++ {
				sum += m.Forecast(s, unix+i%100_000).Decode
			}
			_ = sum
		})
	}
}

func BenchmarkFrame(b *testing.B) {
	b.ReportAllocs()
	d := Direction{Kind: Gaussian, Margin: 3, SD: 7, Common: 3, Noise: 4}
	sum := 0.0
	for i := 0; b.Loop(); i++ {
		sum += d.Frame(float64(i&63)*0.1-3, 0.4)
	}
	_ = sum
}

func BenchmarkPhi(b *testing.B) {
	b.ReportAllocs()
	sum := 0.0
	for i := 0; b.Loop(); i++ {
		sum += Phi(float64(i&255)*0.06 - 8)
	}
	_ = sum
}

func BenchmarkNewState(b *testing.B) {
	b.ReportAllocs()
	m := benchModel(b, 3)
	for b.Loop() {
		sink = m.NewState()
	}
}

var sink *State

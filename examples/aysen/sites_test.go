package aysen

import (
	"math"
	"testing"
)

// typical is the middle of some figures, each counted as at most 3 from it.
func typical(list []float64) (m float64) {
	for range 3000 {
		for _, x := range list {
			m += min(max(x-m, -3), 3) / float64(10*len(list))
		}
	}
	return m
}

// The receiving offsets that farhop finds are the noise of the sites, within what it
// says of their errors.
func TestReceivingSitesAreFound(t *testing.T) {
	var square, n, within, stated float64
	for seed := range uint64(4) {
		truth, p := history(t, 7+seed)
		type group struct{ band, number int }
		noise := make(map[group][]float64)
		sites := p.learn(t, truth.Scenario.End).Sites()
		for _, s := range sites {
			g := group{s.Band, s.Group}
			noise[g] = append(noise[g], truth.all[s.Station].NoiseDB)
		}
		for _, s := range sites {
			off := s.OffsetDB - (typical(noise[group{s.Band, s.Group}]) - truth.all[s.Station].NoiseDB)
			if seed == 0 {
				t.Logf("%-9s band %d: %+.1f ± %.1f dB, off %+.1f, %d pairs", truth.all[s.Station].Call, s.Band, s.OffsetDB, s.SDDB, off, s.Links)
			}
			z := off / s.SDDB
			square, n, stated = square+z*z, n+1, stated+s.SDDB
			if math.Abs(z) < 1.645 {
				within++
			}
		}
	}
	spread := math.Sqrt(square / n)
	t.Logf("%.0f offsets, stated ± %.2f dB on average: errors spread %.2f times that, %.0f %% within the 90 %% interval", n, stated/n, spread, 100*within/n)
	if n < 80 || !(spread > 0.7 && spread < 1.3) || math.Abs(within/n-0.9) > 0.05+math.Sqrt(0.9*0.1/n) { // 85 to 95 %, give or take the error of such a share
		t.Errorf("%.0f offsets, errors spread %.2f, %.0f %% within the 90 %% interval", n, spread, 100*within/n)
	}
}

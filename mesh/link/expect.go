package link

import "math"

// Expect takes in a transmission that is still to come: the state becomes what
// can be expected of it once the slot at the moment is over and it is known
// whether the frame was decoded. With chance p = Φ((E x − θ − raise)/S),
// S² = Var x + s_e² + δ², there will be a report, else a miss; their effects on
// the covariance P don't depend on the SNR reported, so
//
//	P ← P − share·(p/(Var x + s_e²) + (1 − p)·ρ(z + ρ)/S²)·(Ph)(Ph)ᵀ,  z = −(E x − θ − raise)/S, ρ = φ(z)/Φ(z)
//
// is the expected covariance, exactly, for one slot. The mean stays: evidence to come
// moves it either way and on average not at all. For several slots in a row it is
// an approximation, because the chance and the effect of the second depend on what the
// first brings; where p is near 1, as on links worth using, nothing is lost.
//
// The share, 0…1, is the chance that the transmission is made and listened for at all;
// without it the slot says nothing. The raise is as for Miss, which see for order of time
// and cost. It returns p, 0 where raise or share can't be used.
func (m *Model) Expect(s *State, unix int64, raise, share float64) (chance float64) {
	if !(math.Abs(raise) <= maxSNR && share >= 0 && share <= 1) {
		return 0
	}
	var p prediction
	m.predict(s, unix, &p)
	variance := p.variance + m.noiseVar
	z := (m.set.HalfDecodeDB + raise - p.mean) / math.Sqrt(variance)
	chance = Phi(-z)
	_, shrink := hazard(z)
	m.absorb(s, &p, 0, share*(chance/(p.variance+m.slotVar)+(1-chance)*shrink/variance))
	return chance
}

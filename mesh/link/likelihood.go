package link

import "math"

// LogReport returns the natural logarithm of the density, per dB, with which a
// forecast foretold a report of the given SNR: N(y; E x, Var x + s_e²)·Φ((y − θ − raise)/δ).
// The raise is as for Model.Miss. Over all reports and the miss these add up to one:
//
//	∫ exp LogReport(f, y, raise) dy + exp LogMiss(f, raise) = 1.
func (m *Model) LogReport(f Forecast, snr, raise float64) float64 {
	variance := f.SD*f.SD + m.slotVar
	d := snr - f.SNR
	return -0.5*(d*d/variance+math.Log(variance)) - logSqrt2Pi +
		logPhi((snr-m.set.HalfDecodeDB-raise)/m.set.SpreadDB)
}

// LogMiss returns the natural logarithm of the chance with which a forecast
// foretold a miss: Φ((θ + raise − E x)/√(Var x + s_e² + δ²)).
func (m *Model) LogMiss(f Forecast, raise float64) float64 {
	return logPhi((m.set.HalfDecodeDB + raise - f.SNR) / math.Sqrt(f.SD*f.SD+m.noiseVar))
}

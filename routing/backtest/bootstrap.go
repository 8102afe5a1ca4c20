package backtest

import (
	"math/rand/v2"
	"slices"
)

// Interval is a figure with the bounds between which 95 % of its bootstrap
// samples lie. The bounds are the figure itself without any samples.
type Interval struct{ Value, Low, High float64 }

// differences compares the model's Brier score with the others. The forecasts of
// one day share its weather, so whole UTC days are drawn, with replacement, as
// many as there are: an interval that takes every forecast for a case of its own
// would be far too narrow.
func differences(days []part, resamples int, seed, stream uint64) (out [ModelCount]Interval) {
	var used []part
	for i := range days {
		if days[i].n > 0 {
			used = append(used, days[i])
		}
	}
	if len(used) == 0 {
		return out
	}
	values := gaps(used, func(i int) int { return i })
	for m, v := range values {
		out[m] = Interval{v, v, v}
	}
	if resamples <= 0 {
		return out
	}
	rng := rand.New(rand.NewPCG(seed, stream))
	var samples [ModelCount][]float64
	for range resamples {
		for m, v := range gaps(used, func(int) int { return rng.IntN(len(used)) }) {
			samples[m] = append(samples[m], v)
		}
	}
	for m := range samples {
		slices.Sort(samples[m])
		out[m].Low, out[m].High = quantile(samples[m], 0.025), quantile(samples[m], 0.975)
	}
	return out
}

// gaps is the model's mean Brier score over as many days as there are, as
// drawn, less that of each way.
func gaps(days []part, draw func(i int) int) (out [ModelCount]float64) {
	n := 0
	for i := range days {
		d := &days[draw(i)]
		n += d.n
		for m := range out {
			out[m] += d.brier[Model] - d.brier[m]
		}
	}
	for m := range out {
		out[m] /= float64(n)
	}
	return out
}

// quantile is the level's place in a sorted list, between two entries by
// straight line.
func quantile(sorted []float64, level float64) float64 {
	at := level * float64(len(sorted)-1)
	i := int(at)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}

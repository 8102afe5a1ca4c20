package backtest

import "math"

// Score tells how good the forecasts of one way were; lower is better.
type Score struct {
	Brier            float64 // mean square of the forecast less 1 for a decode and 0 for none
	LogLoss          float64 // mean of −ln of the chance given to what happened
	CalibrationError float64 // mean over the forecasts of |forecast − seen| of their bin
	Bins             []Bin   // those of ten that have forecasts
}

// Bin is the forecasts between two chances, and how often they came true.
type Bin struct {
	Low, High      float64
	N              int
	Forecast, Seen float64 // means
}

// binCount is how many bins the chances are laid out in.
const binCount = 10

// binSlack is how far below the lower edge of a bin a chance still falls into it. Rules
// that count give chances on an edge, such as 3 in 10; which bin those fall into mustn't
// hang on the last bits of the arithmetic.
const binSlack = 1e-9

// bins sums forecasts by their chance.
type bins [binCount]struct {
	n, seen  int
	forecast float64
}

// take counts a forecast of p and whether it came true (1) or not (0).
func (b *bins) take(p float64, seen int) {
	at := &b[min(int((p+binSlack)*binCount), binCount-1)]
	at.n++
	at.seen += seen
	at.forecast += p
}

func (b *bins) add(o *bins) {
	for i := range b {
		b[i].n += o[i].n
		b[i].seen += o[i].seen
		b[i].forecast += o[i].forecast
	}
}

func (b *bins) list() (list []Bin) {
	for i := range b {
		if at := &b[i]; at.n > 0 {
			n := float64(at.n)
			list = append(list, Bin{
				Low: float64(i) / binCount, High: float64(i+1) / binCount,
				N: at.n, Forecast: at.forecast / n, Seen: float64(at.seen) / n,
			})
		}
	}
	return list
}

// calibrationError is how far off the bins are, weighted by their forecasts.
func calibrationError(bins []Bin) float64 {
	sum, n := 0.0, 0
	for _, b := range bins {
		sum += float64(b.N) * math.Abs(b.Forecast-b.Seen)
		n += b.N
	}
	if n == 0 {
		return 0
	}
	return sum / float64(n)
}

package aysen

import (
	"math"
	"math/rand/v2"
	"time"
)

// strayer is a stationary Ornstein–Uhlenbeck process, mean 0, drawn exactly at
// the moments asked for, which must not go back in time.
type strayer struct {
	sd, tau float64 // dB, seconds
	value   float64
	unix    int64
	begun   bool
}

func newStrayer(sd float64, tau time.Duration) strayer { return strayer{sd: sd, tau: tau.Seconds()} }

func (s *strayer) at(unix int64, rng *rand.Rand) float64 {
	keep := 0.0
	if s.begun {
		keep = math.Exp(-float64(unix-s.unix) / s.tau)
	}
	if !s.begun || unix != s.unix {
		s.value = keep*s.value + math.Sqrt(1-keep*keep)*s.sd*rng.NormFloat64()
	}
	s.unix, s.begun = unix, true
	return s.value
}

// weather is every fluctuation of the net, as one history.
type weather struct {
	net        strayer
	fast, slow [][][]strayer // larger index, smaller index, channel
	rng        *rand.Rand
	evening    Disturbance
}

func newWeather(w Wander, evening Disturbance, stations, channels int, rng *rand.Rand) *weather {
	y := &weather{net: newStrayer(w.NetDB, w.Net), rng: rng, evening: evening}
	pairs := func(sd float64, tau time.Duration) [][][]strayer {
		out := make([][][]strayer, stations)
		for i := range out {
			out[i] = make([][]strayer, i)
			for j := range out[i] {
				for range channels {
					out[i][j] = append(out[i][j], newStrayer(sd, tau))
				}
			}
		}
		return out
	}
	y.fast, y.slow = pairs(w.FastDB, w.Fast), pairs(w.SlowDB, w.Slow)
	return y
}

// at is how far the path between two stations strays from its mean, in dB. It
// is the same both ways.
func (y *weather) at(a, b, channel int, unix int64) float64 {
	i, j := max(a, b), min(a, b)
	return y.net.at(unix, y.rng) + y.fast[i][j][channel].at(unix, y.rng) + y.slow[i][j][channel].at(unix, y.rng) -
		y.evening.At(time.Unix(unix, 0))
}

// At is by how many dB the disturbance lowers every link at a moment.
func (d Disturbance) At(t time.Time) float64 {
	if !d.Spell.Holds(t) {
		return 0
	}
	since, left := t.Sub(d.Spell.From), d.Spell.To.Sub(t)
	return d.DepthDB * min(1, float64(min(since, left))/float64(d.Ramp))
}

package reinforce

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"farhop/mesh/workers"
)

// covered is the share of guesses that an interval holds.
const covered = 0.9

// guesses are the net before a change under every guess at the climate of its
// links, to be compared with the same guesses after a change.
type guesses []struct {
	meter  *meter
	before Figures
	among  []grid
}

// guess makes the guesses: the climate of every link, measured or expected, as the
// evidence allows. The expected links of one station are guessed together, for they have
// its site in common.
func (a *advisor) guess(ctx context.Context, w *world, links [][]Link) (guesses, error) {
	all := make(guesses, a.Draws)
	g := w.guesser(links)
	err := workers.Run(ctx, len(all), func() (func(int), func()) {
		return func(d int) {
			first := g.guess(a.Seed, d)
			all[d].meter = newMeter(w.members, a.options(a.rough(w.members)))
			all[d].meter.keep(first)
			all[d].before, all[d].among = all[d].meter.measure(first, nil)
		}, nil
	})
	return all, err
}

// rough is how many draws do where many figures are averaged.
func (r *Request) rough(members int) int {
	if len(r.Moments) > 1 || members > 60 {
		return 64
	}
	return 256
}

// promise fills in the gains of a change: their mean over the guesses and their
// interval. Ranking by the mean keeps a change that might be great but probably isn't from
// coming first.
func (a *advisor) promise(after *world, links [][]Link, all guesses, o *Option) {
	g := after.guesser(links)
	var score, firm, mean, worst []float64
	for d := range all {
		x := all[d].before
		y, _ := all[d].meter.measure(g.guess(a.Seed, d), all[d].among)
		score = append(score, y.Score()-x.Score())
		firm, mean = append(firm, y.Firm-x.Firm), append(mean, y.Mean-x.Mean)
		if !math.IsNaN(x.Worst) {
			worst = append(worst, y.Worst-x.Worst)
		}
	}
	o.Score, o.Firm, o.Mean, o.Worst = gain(score), gain(firm), gain(mean), gain(worst)
}

// gain is the mean and the interval of guesses, which it sorts; zero without any.
func gain(guesses []float64) (g Gain) {
	if len(guesses) == 0 {
		return g
	}
	for _, x := range guesses {
		g.Mean += x / float64(len(guesses))
	}
	slices.Sort(guesses)
	out := int(float64(len(guesses)) * (1 - covered) / 2)
	g.Low, g.High = min(g.Mean, guesses[out]), max(g.Mean, guesses[len(guesses)-1-out])
	return g
}

// guesser guesses at climates. Expected links are guessed through a factor of
// their covariance.
type guesser struct {
	moments [][]Link
	which   [][]int // expected links of each moment
	factor  []*mat.TriDense
}

func (w *world) guesser(moments [][]Link) *guesser {
	g := &guesser{moments: moments, which: make([][]int, len(moments)), factor: make([]*mat.TriDense, len(moments))}
	for k, links := range moments {
		var paths []path
		for i := range links {
			if l := &links[i]; l.Expected && l.Use {
				g.which[k] = append(g.which[k], i)
				paths = append(paths, path{w.laws[k].band[l.Channel], w.site(w.laws[k], l.From), w.site(w.laws[k], l.To)})
			}
		}
		if len(paths) == 0 {
			continue
		}
		spread := w.laws[k].spread(paths)
		for i := range paths {
			spread.SetSym(i, i, spread.At(i, i)*(1+1e-9))
		}
		var c mat.Cholesky
		if c.Factorize(spread) {
			g.factor[k] = new(mat.TriDense)
			c.LTo(g.factor[k])
		}
	}
	return g
}

// guess returns the links with their climates guessed for the d-th time. A link's
// deviate is the same at every moment and in every net.
func (g *guesser) guess(seed uint64, d int) [][]Link {
	out := make([][]Link, len(g.moments))
	deviate := func(l *Link) float64 {
		return normal(seed, uint64(d), uint64(l.From), uint64(l.To), uint64(l.Band))
	}
	for k, links := range g.moments {
		out[k] = make([]Link, len(links))
		z := make([]float64, len(g.which[k]))
		for j, i := range g.which[k] {
			z[j] = deviate(&links[i])
		}
		j := 0
		for i, l := range links {
			x := 0.0
			switch {
			case l.Expected && l.Use && g.factor[k] != nil:
				for c := 0; c <= j; c++ {
					x += g.factor[k].At(j, c) * z[c]
				}
				x /= l.ClimateSD
				j++
			case !l.Expected:
				x = deviate(&l)
			}
			out[k][i] = l.climateKnown(x)
		}
	}
	return out
}

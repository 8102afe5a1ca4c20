package fit

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"

	"farhop/mesh/link"
)

const (
	slopeStep = 1e-5 // of the free numbers, for slopes by differences
	converged = 0.1  // log-likelihood to which the greatest is known
	patience  = 2    // steps that must gain less
	mostSteps = 25
)

// search sets the settings of the greatest likelihood, by Newton's steps. The
// curvature comes from the slopes of the single pieces of evidence: one step ahead they
// are differences of a martingale, and the sum of their squares is the
// information (Berndt, Hall, Hall and Hausman, Annals of Economic and Social
// Measurement 3 (1974) 653–665).
func (r *Result) search(ctx context.Context, start link.Settings, e *evaluator, progress func(float64)) error {
	f := newFrame(start, r.TimesHeld)
	c := &climb{ctx: ctx, frame: f, e: e, progress: progress}
	problem := optimize.Problem{
		Func:   c.value,
		Grad:   func(slope, x []float64) { copy(slope, c.at(x).slope) },
		Hess:   func(h *mat.SymDense, x []float64) { h.CopySym(c.at(x).curve) },
		Status: func() (optimize.Status, error) { return c.status(), c.failed },
	}
	found, err := optimize.Minimize(problem, make([]float64, len(f.list)), &optimize.Settings{
		Converger:         &optimize.FunctionConverge{Absolute: converged, Iterations: patience},
		MajorIterations:   mostSteps,
		GradientThreshold: 1e-2,
	}, &optimize.Newton{Linesearcher: &optimize.Backtracking{}})
	if c.failed != nil {
		return c.failed
	}
	if found == nil {
		return err
	}
	// A line search that ends for want of precision leaves the best place found.
	r.Settings, r.Steps, r.Evaluated = f.settings(found.X), found.MajorIterations, e.passes
	r.Parameters = c.parameters(found.X)
	if progress != nil {
		progress(1)
	}
	return c.failed
}

// climb is a search under way. The optimiser works with minus the logarithm.
type climb struct {
	ctx      context.Context
	frame    *frame
	e        *evaluator
	progress func(float64)
	failed   error
	steps    int
	last     *place
}

// place is what the surroundings of a place look like.
type place struct {
	x, slope []float64
	curve    *mat.SymDense
}

func (c *climb) status() optimize.Status {
	if c.failed != nil {
		return optimize.Failure
	}
	return optimize.NotTerminated
}

// value is minus the log-likelihood and that of the settings themselves.
func (c *climb) value(x []float64) float64 {
	if c.failed != nil {
		return math.Inf(1)
	}
	sums, err := c.e.fitted(c.ctx, []link.Settings{c.frame.settings(x)})
	if err != nil {
		c.failed = err
		return math.Inf(1)
	}
	return c.frame.penalty(x) - sums[0]
}

// at looks at the surroundings of a place.
func (c *climb) at(x []float64) *place {
	if c.last != nil && slices.Equal(c.last.x, x) {
		return c.last
	}
	n := len(x)
	p := &place{slices.Clone(x), make([]float64, n), mat.NewSymDense(n, nil)}
	tries := []link.Settings{c.frame.settings(x)}
	for i := range x {
		moved := slices.Clone(x)
		moved[i] += slopeStep
		tries = append(tries, c.frame.settings(moved))
	}
	if c.failed == nil {
		var s *slopes
		if s, c.failed = c.e.slopes(c.ctx, tries); c.failed == nil {
			for i := range n {
				p.slope[i] = -s.sum[i] / slopeStep
				for j := i; j < n; j++ {
					p.curve.SetSym(i, j, s.square[i*n+j]/(slopeStep*slopeStep))
				}
			}
		}
	}
	for i := range n {
		slope, curve := c.frame.pull(i, x[i])
		p.slope[i] += slope
		p.curve.SetSym(i, i, p.curve.At(i, i)+curve)
	}
	c.last = p
	if c.steps++; c.progress != nil {
		c.progress(math.Min(float64(c.steps)/12, 0.95))
	}
	return p
}

// Parameter is one setting as fitted.
type Parameter struct {
	Field       string  // of link.Settings
	From, To    float64 // dB, hours for time constants
	Low, High   float64 // To less and plus one standard error; To itself at its bounds
	AtItsBounds bool    // the log would have it go on
}

// parameters tells the settings of a place, with their errors.
func (c *climb) parameters(x []float64) (list []Parameter) {
	p := c.at(x)
	var chol mat.Cholesky
	inverse := mat.NewSymDense(len(x), nil)
	for i := range x { // at its bounds a setting has no slope
		p.curve.SetSym(i, i, p.curve.At(i, i)+1e-6)
	}
	if !chol.Factorize(p.curve) || chol.InverseTo(inverse) != nil {
		inverse.Zero()
	}
	s := c.frame.settings(x)
	for i, q := range c.frame.list {
		se := math.Sqrt(math.Max(inverse.At(i, i), 0))
		at := func(by float64) float64 {
			return q.unscale(c.frame.at[i] + c.frame.step(i, x[i]+by))
		}
		found := Parameter{Field: q.name, From: q.get(&c.frame.start), To: q.get(&s), Low: at(-se), High: at(se)}
		if found.AtItsBounds = math.Abs(c.frame.step(i, x[i])) > 0.95*q.reach; found.AtItsBounds {
			found.Low, found.High = found.To, found.To
		}
		list = append(list, found)
	}
	return list
}

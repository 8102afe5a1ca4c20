package link

// A prediction is what a state says about a moment before evidence of it is
// taken in, with what is needed to bring the state there.
type prediction struct {
	unix           int64
	mean, variance float64 // of x
	left           vector  // share of each part's deviation that is left
	with           vector  // covariance of each part with x
}

// predict does not change the state.
//
// The parts are one level and then pairs (aₖ and bₖ, fast and slow), so the
// covariance is gone through two rows at a time.
func (m *Model) predict(s *State, unix int64, to *prediction) {
	var h, g vector
	unix, seconds := s.gap(unix)
	to.unix = unix
	m.fill(&h, &to.left, unix, seconds)
	n := m.parts
	for i := range g {
		g[i] = h[i] * to.left[i]
	}
	mean, p := s.v[:n], s.v[n:]
	x := m.mean + g[0]*mean[0]
	to.with[0] = p[0] * g[0]
	p = p[1:]
	for i := 1; i < n-1 && i < maxParts-1; i += 2 {
		g0, g1 := g[i], g[i+1]
		x += g0*mean[i] + g1*mean[i+1]
		row0, row1, own := rows(p, i)
		p = p[2*i+3:]
		var sum0, sum1 float64
		for j, c0 := range row0 {
			c1, gj := row1[j], g[j]
			sum0 += c0 * gj
			sum1 += c1 * gj
			to.with[j] += c0*g0 + c1*g1
		}
		to.with[i] = sum0 + *own.first*g0 + own.both[0]*g1
		to.with[i+1] = sum1 + own.both[0]*g0 + own.both[1]*g1
	}
	a := to.left[0]
	w := to.with[0]*a + m.variance[0]*(1-a*a)
	to.with[0] = w
	v := w
	for i := 1; i < n-1 && i < maxParts-1; i += 2 {
		a0, a1 := to.left[i], to.left[i+1]
		w0 := to.with[i]*a0 + m.variance[i]*(1-a0*a0)*h[i]
		w1 := to.with[i+1]*a1 + m.variance[i+1]*(1-a1*a1)*h[i+1]
		to.with[i], to.with[i+1] = w0, w1
		v += w0*h[i] + w1*h[i+1]
	}
	to.mean, to.variance = x, positive(v)
}

// absorb brings the state to the moment of the prediction, moves its mean by
// gain·P·h and takes weight·(P·h)·(P·h)ᵀ off its covariance P.
func (m *Model) absorb(s *State, by *prediction, gain, weight float64) {
	n := m.parts
	s.unix = by.unix
	mean, p := s.v[:n], s.v[n:]
	for i := range mean {
		mean[i] = mean[i]*by.left[i] + by.with[i]*gain
	}
	a, c := by.left[0], by.with[0]*weight
	p[0] = p[0]*(a*a) + m.variance[0]*(1-a*a) - c*by.with[0]
	p = p[1:]
	for i := 1; i < n-1 && i < maxParts-1; i += 2 {
		a0, a1 := by.left[i], by.left[i+1]
		c0, c1 := by.with[i]*weight, by.with[i+1]*weight
		row0, row1, own := rows(p, i)
		p = p[2*i+3:]
		for j := range row0 {
			aj, wj := by.left[j], by.with[j]
			row0[j] = row0[j]*(a0*aj) - c0*wj
			row1[j] = row1[j]*(a1*aj) - c1*wj
		}
		*own.first = *own.first*(a0*a0) + m.variance[i]*(1-a0*a0) - c0*by.with[i]
		own.both[0] = own.both[0]*(a0*a1) - c1*by.with[i]
		own.both[1] = own.both[1]*(a1*a1) + m.variance[i+1]*(1-a1*a1) - c1*by.with[i+1]
	}
}

// block is what two neighbouring parts have with each other: the variance of the
// first; its covariance with the second and the variance of that.
type block struct {
	first *float64
	both  *[2]float64
}

// rows splits the triangle from row i on into that row and the next, up to
// column i, and the block of the two.
func rows(p []float64, i int) (row0, row1 []float64, own block) {
	row0, row1 = p[:i], p[i+1:][:i]
	return row0, row1[:len(row0)], block{&p[i], (*[2]float64)(p[2*i+1:])}
}

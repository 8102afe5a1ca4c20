package delivery

// sized returns a zeroed slice of n values, in the room of s where it fits.
func sized(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	s = s[:n]
	clear(s)
	return s
}

// addScaled adds a·x to dst, element by element. dst is at least as long as x.
func addScaled(dst []float64, a float64, x []float64) {
	dst = dst[:len(x)]
	for len(x) >= 4 && len(dst) >= 4 {
		dst[0] += a * x[0]
		dst[1] += a * x[1]
		dst[2] += a * x[2]
		dst[3] += a * x[3]
		dst, x = dst[4:], x[4:]
	}
	for i, v := range x {
		dst[i] += a * v
	}
}

// addRows adds Σ a[m]·rows[m] to dst, row m beginning at m·stride.
func addRows(dst, a, rows []float64, stride int) {
	n := len(dst)
	for len(a) >= 4 {
		r0, r1, r2, r3 := rows[:n], rows[stride:][:n], rows[2*stride:][:n], rows[3*stride:][:n]
		a0, a1, a2, a3 := a[0], a[1], a[2], a[3]
		for i := range dst {
			dst[i] += a0*r0[i] + a1*r1[i] + a2*r2[i] + a3*r3[i]
		}
		if a = a[4:]; len(a) > 0 {
			rows = rows[4*stride:]
		}
	}
	for m, v := range a {
		addScaled(dst, v, rows[m*stride:][:n])
	}
}

// addConvolved adds the convolution of starts and of to dst, in which entry i+j
// takes starts[i]·of[j]. What falls beyond the end of dst is left out.
func addConvolved(dst, starts, of []float64) {
	n := len(of)
	for n >= 4 && len(starts) >= 4 && len(dst) >= 4 {
		m := min(n, len(dst))
		a0, a1, a2, a3 := starts[0], starts[1], starts[2], starts[3]
		dst[0] += a0 * of[0]
		dst[1] += a0*of[1] + a1*of[0]
		dst[2] += a0*of[2] + a1*of[1] + a2*of[0]
		x0, x1, x2, x3 := of[3:][:m-3], of[2:][:m-3], of[1:][:m-3], of[:m-3]
		out := dst[3:][:m-3]
		for i := range out {
			out[i] += a0*x0[i] + a1*x1[i] + a2*x2[i] + a3*x3[i]
		}
		if m == n {
			rest := [3]float64{a1*of[n-1] + a2*of[n-2] + a3*of[n-3], a2*of[n-1] + a3*of[n-2], a3 * of[n-1]}
			for i := range min(3, len(dst)-n) {
				dst[n+i] += rest[i]
			}
		}
		dst, starts = dst[4:], starts[4:]
	}
	for i, a := range starts[:min(len(starts), len(dst))] {
		if a != 0 {
			addScaled(dst[i:], a, of[:min(len(of), len(dst)-i)])
		}
	}
}

// convolve puts the convolution of a and b into the room of dst.
func convolve(dst, a, b []float64) []float64 {
	if len(a) == 0 || len(b) == 0 {
		return dst[:0]
	}
	dst = sized(dst, len(a)+len(b)-1)
	addConvolved(dst, a, b)
	return dst
}

// trim cuts what is too small to matter from both ends of pmf.
func trim(first int, pmf []float64) (int, []float64) {
	lo, hi := 0, len(pmf)
	for hi > 0 && pmf[hi-1] < leastShare {
		hi--
	}
	for lo < hi && pmf[lo] < leastShare {
		lo++
	}
	return first + lo, pmf[lo:hi]
}

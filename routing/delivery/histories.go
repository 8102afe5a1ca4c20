package delivery

import "math"

// histories counts the ways in which a block gets through.
//
// Look only at the rounds in which message frames are sent ("fill rounds", the
// first round among them) and say in which of them each frame decodes. A way
// with S frames sent in all has the chance pⁿ(1−p)^(S−n) whatever else happens
// in it, so the numbers of ways, sorted by
//
//	k  the fill round in which the last frame decodes,
//	z  the fill rounds before it in which nothing decoded (they force a poll),
//	S  the message frames sent,
//
// serve every decode chance p. The numbers are huge, so they are held as ln N(S)
// and, for each S, the share that falls to each (k, z).
//
// For few rounds they are counted (see count). Otherwise they are found by
// playing the rounds with other chances: when frame by frame the round T = 1…R
// is drawn with a chance in proportion to τ^(T−1), a way has the chance
// τ^(S−n)/(Στ^t)ⁿ, again a function of S alone. A handful of τ, each good for the
// S near its mean, covers all S.
type histories struct {
	frames, rounds int
	logN           []float64 // by S − frames
	shares         []share   // by z, then k
}

// share is the part of the ways that falls to one (k, z).
type share struct {
	fills, empty int
	lo           int       // first S − frames with ways
	of           []float64 // 0…1, by S − frames − lo
}

// smallestLog ends the table: ln of a chance that no p can lift an S above.
const smallestLog = -39

// newHistories counts the ways of a block of so many frames within so many
// rounds. With known set the sender always knows what is missing, so that an
// empty round forces no poll and z stays 0.
func newHistories(frames, rounds int, known bool) *histories {
	h := &histories{frames: frames, rounds: rounds}
	sums := usefulSums(frames, rounds)
	if !known && rounds <= countRounds {
		h.trim(h.count(sums))
	} else {
		h.trim(h.tilted(sums, known))
	}
	return h
}

// usefulSums is the number of S to look at: beyond, the chance to get through
// at all within the rounds is too small at the p = n/S at which S is likeliest.
func usefulSums(frames, rounds int) int {
	sums := frames*(rounds-1) + 1
	for sums > 1 {
		p := float64(frames) / float64(frames+sums-1)
		through := -math.Expm1(float64(rounds) * math.Log1p(-p))
		if float64(frames)*math.Log(through) >= smallestLog {
			break
		}
		sums--
	}
	return sums
}

// tilted finds the table by playing the rounds.
func (h *histories) tilted(sums int, known bool) *ways {
	frames, rounds := h.frames, h.rounds
	h.logN = make([]float64, sums)
	best, table := make([]float64, sums), newWays(rounds, sums, known)
	for i := range h.logN {
		h.logN[i] = math.Inf(-1)
	}
	run := newWays(rounds, frames*(rounds-1)+1, known)
	last := float64(frames * (rounds - 1))
	for at := min(2, last/2); ; {
		tau, sd := tilt(rounds, at/float64(frames))
		sd *= math.Sqrt(float64(frames))
		run.play(frames, tau)
		h.take(run, table, best, tau)
		if at >= min(last-2, float64(sums)+2*sd) {
			break
		}
		at = min(at+max(5*sd, 2), max(last-2, at+0.5))
	}
	return table
}

// take copies from a run the sums it covers better than the runs before it.
func (h *histories) take(run, table *ways, best []float64, tau float64) {
	logZ, logTau := 0.0, math.Log(tau)
	for t, power := 0, 1.0; t < h.rounds; t, power = t+1, power*tau {
		logZ += power
	}
	logZ = float64(h.frames) * math.Log(logZ)
	for i := range best {
		w := run.total(i)
		if w <= best[i] {
			continue
		}
		best[i] = w
		h.logN[i] = math.Log(w) + logZ - float64(i)*logTau
		for z, row := range run.by {
			for k := range row {
				table.put(z, k, i, run.get(z, k, i)/w)
			}
		}
	}
}

// largest is ln of the largest chance, over all p, of having sent i frames more
// than the block has when the last one decodes.
func (h *histories) largest(i int) float64 {
	n, extra := float64(h.frames), float64(i)
	log := n*math.Log(n/(n+extra)) + h.logN[i]
	if i > 0 {
		log += extra * math.Log(extra/(n+extra))
	}
	return log
}

// trim drops the sums no p gives a chance worth keeping, and packs the shares.
func (h *histories) trim(table *ways) {
	sums := len(h.logN)
	for sums > 1 && h.largest(sums-1) < smallestLog {
		sums--
	}
	h.logN = h.logN[:sums]
	for z, row := range table.by {
		for k, of := range row {
			lo, hi := 0, min(sums, len(of))
			for hi > 0 && of[hi-1] < leastShare {
				hi--
			}
			for lo < hi && of[lo] < leastShare {
				lo++
			}
			if lo < hi {
				h.shares = append(h.shares, share{fills: k, empty: z, lo: lo, of: of[lo:hi:hi]})
			}
		}
	}
}

// tilt returns the τ for which the mean of t = 0…rounds−1, drawn in proportion
// to τ^t, is the one given, and the standard deviation of t.
func tilt(rounds int, mean float64) (tau, sd float64) {
	if rounds == 1 {
		return 1, 0
	}
	lo, hi := -60.0, 60.0
	var variance float64
	for range 64 {
		mid := (lo + hi) / 2
		var m float64
		m, variance = tiltedMoments(rounds, mid)
		if m < mean {
			lo = mid
		} else {
			hi = mid
		}
	}
	return math.Exp((lo + hi) / 2), math.Sqrt(max(variance, 0))
}

func tiltedMoments(rounds int, logTau float64) (mean, variance float64) {
	var sum, first, second float64
	top := max(0, logTau*float64(rounds-1))
	for t := range rounds {
		w, x := math.Exp(logTau*float64(t)-top), float64(t)
		sum += w
		first += w * x
		second += w * x * x
	}
	mean = first / sum
	return mean, second/sum - mean*mean
}

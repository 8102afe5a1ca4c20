package delivery

import (
	"math"
	"slices"
)

// passage is what happens to a block in its fill rounds at one decode chance p,
// whatever the acknowledgments do.
type passage struct {
	p, miss float64 // miss = 1 − p, to full precision
	steps   []step  // by empty rounds, then fill rounds
	sends   []float64
	room    []float64 // backs steps[].through
	fate    binomial
	now     [][]float64 // by empty rounds and frames missing
	next    [][]float64

	failures *ways // room of setFailures
}

// step is one fill round that begins after `before` fill rounds, of which
// `empty` were empty. Chances and means are not conditional.
type step struct {
	before, empty int
	mass          float64   // chance that, polls aside, it comes to this
	missing       float64   // mean of the frames missing = sent in the round
	all           float64   // chance that all of them decode
	partly        float64   // chance that some but not all of them decode
	nothing       float64   // chance that none of them decodes
	lo            int       // through[0] is for lo frames sent more than the block has
	through       []float64 // chance that all of them decode, by frames sent in all

	failLo              int // the next two are for failLo frames sent more than the block has, and so on
	partlyBy, nothingBy []float64
}

// set works out the passage at decode chance p = 1 − miss.
// O(shares × sums + rounds × frames × width of a binomial).
func (s *passage) set(h *histories, p, miss float64, known bool) {
	s.p, s.miss, s.steps = p, miss, s.steps[:0]
	s.play(h, known)
	s.weigh(h)
}

// play fills in the steps with all but the sums.
func (s *passage) play(h *histories, known bool) {
	n, depth := h.frames, (h.rounds-1)/2+1
	if known {
		depth = 1
	}
	s.fate.set(n, s.p, s.miss)
	for len(s.now) < depth {
		s.now = append(s.now, make([]float64, n+1))
		s.next = append(s.next, make([]float64, n+1))
	}
	for z := range depth {
		clear(s.now[z])
	}
	s.now[0][n] = 1
	for i := range h.rounds {
		for z := range depth {
			clear(s.next[z])
		}
		for z := range depth {
			if known || i+1+z <= h.rounds {
				s.fill(i, z, depth, known)
			}
		}
		s.now, s.next = s.next, s.now
	}
	slices.SortStableFunc(s.steps, func(a, b step) int { return a.empty - b.empty })
}

func (s *passage) fill(i, z, depth int, known bool) {
	st := step{before: i, empty: z}
	next := s.next[z]
	for o, m := range s.now[z] {
		if m <= leastState {
			continue
		}
		lo, row := s.fate.lo[o], s.fate.rows[o]
		none := m * s.fate.at(o, o)
		st.mass += m
		st.missing += m * float64(o)
		st.nothing += none
		if lo == 0 {
			st.all += m * row[0]
		}
		for x, chance := range row {
			next[lo+x] += m * chance
		}
		next[o] -= none
		if known {
			next[o] += none
		} else if z+1 < depth {
			s.next[z+1][o] += none
		}
	}
	next[0] = 0
	if st.mass > leastState {
		st.partly = max(0, st.mass-st.nothing-st.all)
		s.steps = append(s.steps, st)
	}
}

// weigh fills in the sums from the numbers of ways.
func (s *passage) weigh(h *histories) {
	lo, sends := s.sendings(h)
	total := 0
	for i := range h.shares {
		total += len(h.shares[i].of)
	}
	if cap(s.room) < total {
		s.room = make([]float64, total)
	}
	room, k := s.room[:0], 0
	for i := range s.steps {
		st := &s.steps[i]
		for k < len(h.shares) && before(&h.shares[k], st) {
			k++
		}
		if k == len(h.shares) {
			break
		}
		sh := &h.shares[k]
		if sh.empty != st.empty || sh.fills != st.before+1 {
			continue
		}
		from, to := max(sh.lo, lo), min(sh.lo+len(sh.of), lo+len(sends))
		if from >= to {
			continue
		}
		at := len(room)
		for j := from; j < to; j++ {
			room = append(room, sh.of[j-sh.lo]*sends[j-lo])
		}
		st.lo, st.through = from, room[at:]
	}
}

func before(sh *share, st *step) bool {
	return sh.empty < st.empty || sh.empty == st.empty && sh.fills < st.before+1
}

// sendings returns, by frames sent more than the block has, the chance of all
// ways together; what is too small to matter at either end is left out.
func (s *passage) sendings(h *histories) (lo int, chances []float64) {
	s.sends = s.sends[:0]
	if s.p <= 0 {
		return 0, nil
	}
	if s.miss <= 0 {
		s.sends = append(s.sends, 1)
		return 0, s.sends
	}
	base, slope := float64(h.frames)*math.Log1p(-s.miss), math.Log(s.miss)
	if s.p < 0.5 {
		base = float64(h.frames) * math.Log(s.p)
	}
	for i, logN := range h.logN {
		v := base + slope*float64(i) + logN
		switch {
		case v > smallestLog:
			s.sends = append(s.sends, math.Exp(v))
		case len(s.sends) == 0:
			lo++
		default:
			return lo, s.sends
		}
	}
	return lo, s.sends
}

package link

import "math"

// State is what the evidence so far says about one link: the mean and the
// covariance of every part of the model, at the moment of the newest evidence.
// It belongs to the model that made it, holds no history, and is not safe for
// use by two goroutines at once.
type State struct {
	unix int64     // moment of mean and covariance; never = no evidence yet
	v    []float64 // deviations from the prior mean, then the covariance's lower triangle by rows
}

const never = math.MinInt64

// NewState returns the state of a link without any evidence, the stationary
// prior. It takes 8·(n + n(n+1)/2) bytes for n = 2K + 3 parts (432 at K = 3)
// and a header of 32.
func (m *Model) NewState() *State {
	n := m.parts
	s := &State{unix: never, v: make([]float64, n+n*(n+1)/2)}
	at := n
	for i := range n {
		s.v[at+i] = m.variance[i]
		at += i + 1
	}
	return s
}

// Clone returns an independent copy.
func (s *State) Clone() *State {
	return &State{unix: s.unix, v: append([]float64(nil), s.v...)}
}

// Set makes the state a copy of another of the same model, without allocation.
func (s *State) Set(from *State) {
	s.unix = from.unix
	copy(s.v, from.v)
}

// At returns the moment the state stands at, that of the newest evidence or move;
// false before any.
func (s *State) At() (unix int64, ok bool) {
	if s.unix == never {
		return 0, false
	}
	return s.unix, true
}

// gap brings a moment to one the state can go to, and the seconds until then.
func (s *State) gap(unix int64) (moment, seconds int64) {
	if s.unix == never {
		return unix, 0
	}
	if unix <= s.unix {
		return s.unix, 0
	}
	return unix, unix - s.unix
}

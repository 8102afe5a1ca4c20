package link

import (
	"math"
	"slices"
)

// State is what the evidence so far says about one link: the mean and the
// covariance of every part of the model, at the moment of the newest evidence.
// It belongs to the model that made it, holds no history, and is not safe for
// use by two goroutines at once.
type State struct {
	unix int64     // moment of mean and covariance; never = no evidence yet
	v    []float64 // deviations from the prior mean, then the covariance's lower triangle by rows
	kept []float64 // v as Keep found it, empty without
	then int64     // unix as Keep found it
}

const never = math.MinInt64

// NewState returns the state of a link without any evidence, the stationary
// prior. It takes 8·(n + n(n+1)/2) bytes for n = 2K + 3 parts (432 at K = 3)
// and a header of 64.
func (m *Model) NewState() *State {
	n := m.parts
	s := &State{v: make([]float64, n+n*(n+1)/2)}
	m.forget(s)
	return s
}

// forget makes a state the prior again.
func (m *Model) forget(s *State) {
	s.unix = never
	clear(s.v)
	at := m.parts
	for i := range m.parts {
		s.v[at+i] = m.variance[i]
		at += i + 1
	}
}

// Keep remembers the state as it stands, for Return. The sender may just have gone
// off the air, which nobody can tell yet from a path that shuts. It takes the memory
// of a state once more, and forgets what an earlier Keep remembered.
func (m *Model) Keep(s *State) { s.kept, s.then = append(s.kept[:0], s.v...), s.unix }

// Return takes back all evidence since Keep, as if it had never come; moves since
// then stay. Without a Keep since the last Return or NewState, the state becomes that of a link
// without any evidence.
func (m *Model) Return(s *State) {
	if len(s.kept) == 0 {
		m.forget(s)
		return
	}
	copy(s.v, s.kept)
	s.unix, s.kept = s.then, s.kept[:0]
}

// Clone returns an independent copy.
func (s *State) Clone() *State {
	return &State{unix: s.unix, v: slices.Clone(s.v), kept: slices.Clone(s.kept), then: s.then}
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

package routing

// arena hands out slices of zeros that are all taken back at once, so that one
// search after the other works in the same memory. The zero value is ready. It
// serves one goroutine.
type arena struct {
	blocks [][]float64
	block  int // index of the one in use
	used   int // of it
}

const arenaBlock = 1 << 14

// floats is a slice of n zeros, good until reset.
func (a *arena) floats(n int) []float64 {
	for a.block < len(a.blocks) && len(a.blocks[a.block])-a.used < n {
		a.block++
		a.used = 0
	}
	if a.block == len(a.blocks) {
		a.blocks = append(a.blocks, make([]float64, max(n, arenaBlock)))
	}
	s := a.blocks[a.block][a.used:][:n:n]
	a.used += n
	clear(s)
	return s
}

// reset takes everything back.
func (a *arena) reset() { a.block, a.used = 0, 0 }

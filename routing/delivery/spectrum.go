package delivery

import (
	"math/bits"

	"gonum.org/v1/gonum/dsp/fourier"
)

// spectrum adds up distributions of many blocks by way of their Fourier transforms:
// the sum of n times becomes an n-th power. It errs by a few 1e-16 in an entry.
// The zero value is ready.
type spectrum struct {
	fft              *fourier.FFT
	known            map[int]*fourier.FFT // by size
	row              []float64
	step, each, last []complex128
}

// manyBlocks is from how many full blocks on that is worth it.
const manyBlocks = 4

// room makes room for distributions of n entries.
func (s *spectrum) room(n int) {
	size := 1 << bits.Len(uint(max(n, 64)-1))
	for _, less := range []int{size / 16 * 9, size / 8 * 5, size / 4 * 3} { // transforms like small factors
		if less >= n {
			size = less
			break
		}
	}
	if s.known == nil {
		s.known = map[int]*fourier.FFT{}
	}
	if s.fft = s.known[size]; s.fft == nil {
		s.fft = fourier.NewFFT(size)
		s.known[size] = s.fft
	}
	s.row = sized(s.row, size)
	if m := size/2 + 1; cap(s.step) < m {
		s.step, s.each, s.last = make([]complex128, m), make([]complex128, m), make([]complex128, m)
	} else {
		s.step, s.each, s.last = s.step[:m], s.each[:m], s.last[:m]
	}
}

// transform puts into dst what stands for the distribution whose first entry is for
// a time; times count modulo the room.
func (s *spectrum) transform(dst []complex128, first int, of []float64) {
	clear(s.row)
	n := len(s.row)
	at := ((first % n) + n) % n
	k := copy(s.row[at:], of)
	copy(s.row, of[k:])
	s.fft.Coefficients(dst, s.row)
}

// series puts into dst, for the times 0…n−1,
//
//	Σ stepⁱ·each, i = 0…count−1, + step^count·last
//
// where products are convolutions, of the distributions transformed before. What is
// too small to tell from rounding is none.
func (s *spectrum) series(dst []float64, count, n int) []float64 {
	for k, x := range s.step {
		sum, power := complex(0, 0), complex(1, 0)
		for bit := bits.Len(uint(count)) - 1; bit >= 0; bit-- {
			sum += sum * power
			power *= power
			if count>>bit&1 != 0 {
				sum, power = 1+sum*x, power*x
			}
		}
		s.each[k] = sum*s.each[k] + power*s.last[k]
	}
	s.fft.Sequence(s.row, s.each)
	dst = append(dst[:0], s.row[:n]...)
	scale := 1 / float64(len(s.row))
	for i := range dst {
		if dst[i] *= scale; dst[i] < leastShare {
			dst[i] = 0
		}
	}
	return dst
}

// giveUpMany is giveUp for many blocks, given what becomes of a full one and of the
// last. Blocks that are hardly ever begun are left out.
func (b *blocks) giveUpMany(w *bench) (first int, of []float64) {
	end := b.gap() * b.pr.Rounds
	step, read := trim(w.eachDone.first+b.gap(), w.eachDone.read)
	own, each := trim(b.each.frames+end, w.eachDone.lost)
	final, last := trim(b.last.frames+end, w.lastDone.lost)
	passed, count := 0.0, 0
	for _, v := range read {
		passed += v
	}
	for begun := 1.0; count < b.full && begun >= leastShare; count++ {
		begun *= passed
	}
	if count < b.full {
		last = nil
	}
	longest := step + len(read) - 1 // of a block
	until := max(own+(count-1)*longest+len(each), final+count*longest+len(last))
	first = min(own, count*step+final)
	s := &w.spectrum
	s.room(until - first)
	s.transform(s.step, step, read)
	s.transform(s.each, own-first, each)
	s.transform(s.last, final-first, last)
	w.total.lost = s.series(w.total.lost, count, until-first)
	return trim(first, w.total.lost)
}

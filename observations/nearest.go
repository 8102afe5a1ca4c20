package observations

import "strings"

// Nearest returns the name among those given that name was probably meant to
// be: the one that takes the fewest letters put in, left out, changed or
// swapped with their neighbour, at most two and fewer than the letters of
// either name, whatever the case. Of equally near names it is the first in
// alphabetical order. The cost is the product of the lengths for each name.
func Nearest(name string, among []string) (string, bool) {
	const most = 2
	from := []rune(strings.ToUpper(name))
	best, found := most+1, ""
	for _, candidate := range among {
		to := []rune(strings.ToUpper(candidate))
		if d := len(from) - len(to); d > most || d < -most {
			continue
		}
		d := editDistance(from, to)
		if d > 0 && d >= min(len(from), len(to)) {
			continue
		}
		if d < best || d == best && candidate < found {
			best, found = d, candidate
		}
	}
	return found, best <= most
}

// editDistance counts insertions, deletions, changes and swaps of neighbours
// that lead from a to b, no place being touched twice.
func editDistance(a, b []rune) int {
	before := make([]int, len(b)+1)
	last := make([]int, len(b)+1)
	row := make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := range a {
		row[0] = i + 1
		for j := range b {
			cost := 1
			if a[i] == b[j] {
				cost = 0
			}
			row[j+1] = min(last[j+1]+1, row[j]+1, last[j]+cost)
			if i > 0 && j > 0 && a[i] == b[j-1] && a[i-1] == b[j] {
				row[j+1] = min(row[j+1], before[j-1]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}

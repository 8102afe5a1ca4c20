package config

import "strings"

// nearest returns the candidate that a misspelt word most likely stands for:
// one that starts with it or that it starts with (power for power_w), else the
// one at the smallest edit distance, at most a third of the word's length and
// at least one. The first of equals wins; "" means none is near. Case and the
// difference between -, _ and space do not count.
func nearest(word string, candidates []string) string {
	w := plain(word)
	if w == "" || len(w) > 64 {
		return ""
	}
	best, bestDistance := "", 1+max(1, len(w)/3)
	for _, c := range candidates {
		k := plain(c)
		if k == w {
			return c
		}
		if d := distance(w, k); d < bestDistance {
			best, bestDistance = c, d
		}
	}
	if best != "" {
		return best
	}
	for _, c := range candidates {
		k := plain(c)
		if len(w) >= 3 && len(k) >= 3 && (strings.HasPrefix(k, w) || strings.HasPrefix(w, k)) {
			return c
		}
	}
	return ""
}

// plain lowers a word's case and drops separators.
func plain(s string) string {
	return strings.NewReplacer("_", "", "-", "", " ", "").Replace(strings.ToLower(s))
}

// distance is the edit distance of two words in bytes, a swap of neighbours
// counted as one edit (the restricted Damerau–Levenshtein distance). Time and
// space O(len(a)·len(b)).
func distance(a, b string) int {
	d := make([][]int, len(a)+1)
	for i := range d {
		d[i] = make([]int, len(b)+1)
		d[i][0] = i
	}
	for j := range d[0] {
		d[0][j] = j
	}
	for i := 1; i <= len(a); i++ {
		for j := 1; j <= len(b); j++ {
			step := 1
			if a[i-1] == b[j-1] {
				step = 0
			}
			d[i][j] = min(d[i-1][j]+1, d[i][j-1]+1, d[i-1][j-1]+step)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				d[i][j] = min(d[i][j], d[i-2][j-2]+1)
			}
		}
	}
	return d[len(a)][len(b)]
}

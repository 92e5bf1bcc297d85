package line

import (
	"strings"
	"unicode/utf8"
)

// Nearest returns the candidate that word most likely meant: the only one that
// begins with it, else the one that is fewest letters away (a letter more, less,
// other, or two neighbours swapped), at most two, in words of up to four letters
// at most one. Of equals the first counts. It is empty if none is near. Letters
// are compared without regard to case.
func Nearest(word string, candidates []string) string {
	w := []rune(strings.ToLower(word))
	if len(w) == 0 {
		return ""
	}
	best, limit := "", 2
	if len(w) <= 4 {
		limit = 1
	}
	begins := 0
	for _, c := range candidates {
		if len(w) > 1 && strings.HasPrefix(strings.ToLower(c), string(w)) {
			begins++
			best = c
		}
	}
	if begins == 1 {
		return best
	}
	best = ""
	for _, c := range candidates {
		n := utf8.RuneCountInString(c)
		if n-len(w) > limit || len(w)-n > limit {
			continue
		}
		if d := distance(w, []rune(strings.ToLower(c))); d <= limit && d < min(len(w), n) {
			best, limit = c, d-1
		}
	}
	return best
}

// distance counts the letters inserted, left out, replaced, or swapped with
// their neighbour, between a and b (optimal string alignment).
func distance(a, b []rune) int {
	before := make([]int, len(b)+1)
	last := make([]int, len(b)+1)
	row := make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}

package config

import "strings"

// nearest returns the word that a slip of the pen most likely meant, or "".
// A slip is one letter in three, at least one: proposal.
func nearest(typed string, words []string) string {
	best, least := "", max(1, len(typed)/3)+1
	for _, word := range words {
		if d := distance(strings.ToLower(typed), strings.ToLower(word)); d < least {
			best, least = word, d
		}
	}
	return best
}

// distance counts the letters to insert, drop, replace or swap with their
// neighbour to turn a into b (optimal string alignment).
func distance(a, b string) int {
	before, last := make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := range len(a) {
		row := make([]int, len(b)+1)
		row[0] = i + 1
		for j := range len(b) {
			row[j+1] = min(last[j]+differ(a[i], b[j]), last[j+1]+1, row[j]+1)
			if i > 0 && j > 0 && a[i] == b[j-1] && a[i-1] == b[j] {
				row[j+1] = min(row[j+1], before[j-1]+1)
			}
		}
		before, last = last, row
	}
	return last[len(b)]
}

func differ(a, b byte) int {
	if a == b {
		return 0
	}
	return 1
}

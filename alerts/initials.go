package alerts

import (
	"cmp"
	"slices"
	"strings"
	"unicode"
)

// Nearest returns the initials of all persons, those first that are most like what was
// typed, else in the order they are called. "tv" is like "T.V.".
func (p Policy) Nearest(typed string) (initials []string) {
	wanted := letters(typed)
	for _, q := range p.Persons {
		initials = append(initials, q.Initials)
	}
	slices.SortStableFunc(initials, func(a, b string) int { return cmp.Compare(slips(wanted, letters(a)), slips(wanted, letters(b))) })
	return initials
}

// letters are the letters and digits of initials, small.
func letters(initials string) []rune {
	return []rune(strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, initials))
}

// slips counts the letters of a and b that have no partner in the other; the order
// counts for one.
func slips(a, b []rune) (n int) {
	if slices.Equal(a, b) {
		return 0
	}
	left := slices.Clone(b)
	for _, r := range a {
		if i := slices.Index(left, r); i >= 0 {
			left = slices.Delete(left, i, i+1)
		} else {
			n++
		}
	}
	return n + len(left) + 1
}

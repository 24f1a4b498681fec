package pdf

import (
	"sync"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// shapes are the presentation forms of a letter: alone, at the end, at the beginning, in
// the middle. A letter that joins only what is before it has two.
type shapes [4]rune

// forms are the letters that Arabic joins, read from Unicode's own decompositions: in the
// blocks of presentation forms the forms of a letter follow each other in that order.
var forms = sync.OnceValue(func() map[rune]shapes {
	all := map[rune]shapes{}
	counts := map[rune]int{}
	for _, block := range [][2]rune{{0xfe80, 0xfef4}, {0xfb50, 0xfbb1}, {0xfbd3, 0xfbff}} {
		for r := block[0]; r <= block[1]; r++ {
			base := []rune(norm.NFKC.String(string(r)))
			if len(base) != 1 || base[0] == r || counts[base[0]] >= 4 {
				continue
			}
			s := all[base[0]]
			s[counts[base[0]]] = r
			counts[base[0]]++
			all[base[0]] = s
		}
	}
	return all
})

// lamAlef are the two letters that are always written as one, with its form at an end.
var lamAlef = map[rune][2]rune{0x622: {0xfef5, 0xfef6}, 0x623: {0xfef7, 0xfef8}, 0x625: {0xfef9, 0xfefa}, 0x627: {0xfefb, 0xfefc}}

const lam = 0x644

// joined writes each Arabic letter in the form that its neighbours ask for.
func joined(text string) []rune {
	in := []rune(text)
	out := make([]rune, 0, len(in))
	for i := 0; i < len(in); i++ {
		r := in[i]
		s, ok := forms()[r]
		if !ok {
			out = append(out, r)
			continue
		}
		before := joinsOn(neighbour(in, i, -1))
		if i+1 < len(in) && r == lam {
			if pair, is := lamAlef[in[i+1]]; is {
				out = append(out, pair[index(before)])
				i++
				continue
			}
		}
		after := s[2] != 0 && joinsBack(neighbour(in, i, +1))
		out = append(out, s.form(before, after, r))
	}
	return out
}

func index(is bool) int {
	if is {
		return 1
	}
	return 0
}

func (s shapes) form(before, after bool, r rune) rune {
	form := s[0]
	switch {
	case before && after:
		form = s[3]
	case before:
		form = s[1]
	case after:
		form = s[2]
	}
	if form == 0 {
		return r
	}
	return form
}

// neighbour is the next letter in a direction, past the marks that sit on letters.
func neighbour(text []rune, i, step int) rune {
	for i += step; i >= 0 && i < len(text); i += step {
		if !unicode.Is(unicode.Mn, text[i]) {
			return text[i]
		}
	}
	return 0
}

const stretch = 0x640 // a stroke that joins on both sides

// joinsOn reports a letter that joins the one after it.
func joinsOn(r rune) bool { return r == stretch || r == 0x200d || forms()[r][2] != 0 }

// joinsBack reports a letter that joins the one before it.
func joinsBack(r rune) bool { return r == stretch || r == 0x200d || forms()[r][1] != 0 }
